"""The registry's tables of one moment, open to SQL: what the quality report is worked out from."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from registry.schema.base import model_of
from registry.schema.fields import Day, Reference, info_of
from registry.schema.tables import analysed_tables, metadata
from registry.store.reading import open_reader

if TYPE_CHECKING:
    import duckdb

    from registry.store.registry import Registry

OFFICE = ("question", "quality_run", "theatre_list_line")
KEEPING = ("id", "created_at", "missing_reasons", "batch_id")


@contextmanager
def picture_of(registry: Registry) -> Iterator[duckdb.DuckDBPyConnection]:
    """The clinical tables, questions, quality runs and theatre list lines, without anything that names a person.

    Args:
        registry: the open registry.

    Yields:
        An analytic database in memory that holds each table under its own name, with its key, the moment of entry and
        the reasons for missing values.
    """
    import duckdb

    names = [t.name for t in analysed_tables()] + list(OFFICE)
    with duckdb.connect(":memory:") as picture, open_reader(registry, names) as reader:
        for name in names:
            columns = metadata.tables[name].columns
            wanted = [c.name for c in columns if c.name in KEEPING or _told(columns, c.name)]
            picture.register(f"read_{name}", reader.arrow(name, wanted))
            picture.execute(f'CREATE TABLE "{name}" AS SELECT * FROM "read_{name}"')
            picture.unregister(f"read_{name}")
        yield picture


def _told(columns: Any, name: str) -> bool:
    info = info_of(columns[name])
    return info.analysed and name not in KEEPING


def dated_by(table: str) -> str | None:
    """An SQL expression for the day that a row of a table belongs to, ``t`` being the table; None where there is none.

    It is the first date of the row's natural key, followed through its links: an operation's own day for its treated
    sides and their equipment, an examination's for its readings. A course counts from its first operation, and so do
    its stones; a patient and a renal unit count from the patient's first operation.
    """
    return _dated(table, "t.")


_FIRST = "(SELECT min(o.operated_on) FROM operation o WHERE o.patient_id = {})"
_COURSE = (
    "(SELECT min(o.operated_on) FROM treated_side s JOIN operation o ON o.id = s.operation_id WHERE s.course_id = {})"
)


def _dated(table: str, row: str) -> str | None:
    if table == "patient":
        return _FIRST.format(f"{row}id")
    if table == "course":
        return _COURSE.format(f"{row}id")
    columns = metadata.tables[table].columns
    keys = model_of(metadata.tables[table]).key_fields
    for name in keys:
        if isinstance(info_of(columns[name]).kind, Day) and name != "since":
            return f"{row}{name}"
    for name in keys:
        kind = info_of(columns[name]).kind
        if isinstance(kind, Reference) and kind.table not in ("site", "local_field", "equipment_model"):
            above = _dated(kind.table, f"{kind.table}_above.")
            if above is not None:
                return (
                    f"(SELECT {above} FROM {kind.table} {kind.table}_above WHERE {kind.table}_above.id = {row}{name})"
                )
    return None
