"""Single values that are held and break a rule of their declaration, such as one outside its plausible range.

A finding of the day of entry is forgotten unless somebody is asked; the rules are those that intake applies.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING, Any

from registry.schema.fields import Day, FieldInfo, Number, Whole
from registry.schema.tables import analysed_tables, fields_of
from registry.validation.field_rules import broken, rules_of
from registry.validation.pair_rules import pair_rules_of
from registry.validation.questions.opening import Open

if TYPE_CHECKING:
    import pyarrow as pa

    from registry.store.reading import Reader


def value_rules(today: date) -> frozenset[str]:
    """The ids of the rules that are applied."""
    single = {rule.id for table in analysed_tables() for info in _judged(table) for rule in rules_of(info, today)}
    return frozenset(single | {rule.id for table in analysed_tables() for rule in pair_rules_of(table.name)})


def broken_values(reader: Reader, today: date) -> Iterator[Open]:
    """Every held value that breaks a rule of its field, or of its field and another.

    Args:
        reader: reads the tables, all of one moment.
        today: the last day that may be recorded as past.
    """
    for table in analysed_tables():
        infos = _judged(table)
        if not infos:
            continue
        rows = reader.arrow(table.name, ["id", *(info.name for info in infos)], analysed_only=False)
        for info in infos:
            yield from _of_field(rows, info, today)
        for rule in pair_rules_of(table.name):
            first, second = rule.fields
            for row, low, high in zip(*(rows[name].to_pylist() for name in ("id", first, second)), strict=True):
                if low is not None and high is not None and not rule.test(low, high):
                    why = rule.problem(low, high).why
                    yield Open(rule.id, table.name, row, second, why)


def _of_field(rows: pa.Table, info: FieldInfo, today: date) -> Iterator[Open]:
    import pyarrow as pa
    import pyarrow.compute as pc

    values = rows[info.name]
    wrong = {
        value: problems
        for value in pc.unique(values).to_pylist()
        if value is not None and (problems := broken(info, value, today))
    }
    if not wrong:
        return
    found = rows.filter(pc.is_in(values, value_set=pa.array(list(wrong), values.type)))
    for row, value in zip(found["id"].to_pylist(), found[info.name].to_pylist(), strict=True):
        for problem in wrong[value]:
            yield Open(problem.rule, info.table, row, info.name, f"{info.label}: {problem.why}")


def _judged(table: Any) -> list[FieldInfo]:
    """The fields whose values can be out of range: numbers and days. Codes, lengths and links the database keeps."""
    return [info for info in fields_of(table) if isinstance(info.kind, Whole | Number | Day)]
