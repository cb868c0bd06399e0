"""What the declarations demand of every table, as a list of expectations; whoever tests them adds nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from sqlalchemy import Table

from registry.schema.base import model_of
from registry.schema.fields import Code, FieldInfo, Keeping, Note, Number, Reference, Secret, Stage, info_of
from registry.schema.tables import metadata, own_columns
from registry.validation.field_rules import FieldRule, required_rule, rules_of
from registry.validation.field_words import NEEDED_WORDS
from registry.validation.findings import Severity
from registry.validation.pair_rules import pair_rules_of


class Form(StrEnum):
    """What an expectation looks at."""

    ROWS = "rows"  # there are some
    TYPE = "type"
    THERE = "there"  # nothing is missing
    BETWEEN = "between"
    LISTED = "listed"
    LENGTH = "length"
    ONCE = "once"
    NO_CASE = "no_case"  # the frame of the cases that break a rule is empty


@dataclass(frozen=True)
class Expected:
    """One expectation of one table.

    Attributes:
        rule: the id of the rule.
        table: the table.
        columns: its columns; the first is cited.
        form: what is looked at.
        severity: how a row that breaks it counts; a note for a value that is missing at its stage.
        sentence: what is right.
        low: lowest value or length.
        high: highest value or length.
        allowed: the codes, or the name of the type.
    """

    rule: str
    table: str
    columns: tuple[str, ...]
    form: Form
    severity: Severity
    sentence: str
    low: Any = None
    high: Any = None
    allowed: tuple[str, ...] = ()


def suite_of(table: Table, today: date) -> list[Expected]:
    """All that the declarations demand of a table's rows, the count of rows first.

    Args:
        table: the table.
        today: the last day that may be recorded as past.
    """
    label = model_of(table).label
    found = [_table_rule(table, "rows", (), Form.ROWS, f"there are rows of {label}")]
    for column in own_columns(table):
        info = info_of(column)
        if isinstance(info.kind, Note | Secret | Keeping):
            continue  # encrypted: the database holds no value that could be looked at
        found += _of_field(info, today)
    key = model_of(table).key_fields
    if key:
        found.append(_table_rule(table, "once", key, Form.ONCE, f"one row for each {label.lower()}"))
    return found


def case_rules_of(table: Table) -> list[Expected]:
    """The rules of a table that are tested by gathering the rows that break them: links, and pairs of fields."""
    found = []
    for column in own_columns(table):
        info = info_of(column)
        if isinstance(info.kind, Reference):
            sentence = f"{info.label} leads to a row that exists"
            found.append(_of(info, "exists", Form.NO_CASE, Severity.ERROR, sentence))
    for pair in pair_rules_of(table.name):
        columns = (pair.fields[1], pair.fields[0])
        found.append(Expected(pair.id, table.name, columns, Form.NO_CASE, pair.severity, pair.sentence))
    return found


def _of_field(info: FieldInfo, today: date) -> Iterator[Expected]:
    yield _of(info, "type", Form.TYPE, Severity.ERROR, f"{info.label} is kept as {type_name(info)}", (type_name(info),))
    required = required_rule(info)
    if required is not None:
        yield _as(required, info, Form.THERE)
    elif info.needed is not None:
        yield _of(info, "needed", Form.THERE, Severity.NOTE, f"{info.label} is {_stage_words(info.needed)}")
    for rule in rules_of(info, today):
        yield _as(rule, info, *_form(rule, info, today))


def _form(rule: FieldRule, info: FieldInfo, today: date) -> tuple[Any, ...]:
    """The form of a field's rule and its limits, from the same declaration as the rule itself."""
    kind: Any = info.kind
    match rule.id.rsplit(".", 1)[1]:
        case "within":
            return Form.BETWEEN, *info.limits
        case "plausible":
            return Form.BETWEEN, *kind.plausible
        case "not_ahead":
            return Form.BETWEEN, None, today
        case "length":
            return Form.LENGTH, 1, kind.longest
        case "listed" if isinstance(kind, Code):
            return Form.LISTED, None, None, tuple(kind.list.codes())
    raise LookupError(f"{rule.id} has no form in which held data are tested")


def type_name(info: FieldInfo) -> str:
    """The type of a field's column in a frame, by the declaration."""
    from registry.store.reading import arrow_type

    if isinstance(info.kind, Number):
        return "float64"
    return {"int64": "int64", "date32[day]": "datetime64"}.get(str(arrow_type(info)), _other(str(arrow_type(info))))


def _other(arrow: str) -> str:
    return "Timestamp" if arrow.startswith("timestamp") else "str"


def _stage_words(stage: Stage) -> str:
    return NEEDED_WORDS[stage]


def _as(rule: FieldRule, info: FieldInfo, form: Form, low: Any = None, high: Any = None, allowed: Any = ()) -> Expected:
    return Expected(rule.id, info.table, (info.name,), form, rule.severity, rule.sentence, low, high, allowed)


def _of(
    info: FieldInfo, name: str, form: Form, severity: Severity, sentence: str, allowed: tuple[str, ...] = ()
) -> Expected:
    rule = f"{info.table}.{info.name}.{name}"
    return Expected(rule, info.table, (info.name,), form, severity, sentence, allowed=allowed)


def _table_rule(table: Table, name: str, columns: tuple[str, ...], form: Form, sentence: str) -> Expected:
    return Expected(f"{table.name}.{name}", table.name, columns, form, Severity.ERROR, sentence)


def held_columns(table: str) -> list[str]:
    """The columns that the check reads of a table: its own that are not encrypted, and the "
    "reasons for what is missing."""
    own = [c.name for c in own_columns(metadata.tables[table]) if not info_of(c).encrypted]
    return [
        "id",
        *(n for n in own if not isinstance(info_of(metadata.tables[table].c[n]).kind, Keeping)),
        "missing_reasons",
    ]
