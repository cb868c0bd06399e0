"""How complete the needed fields are, field by field and month by month."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from registry.schema.base import model_of
from registry.schema.fields import FieldInfo, Stage, info_of
from registry.schema.lists_common import MissingReason
from registry.schema.tables import analysed_tables, own_columns
from registry.validation.quality_report.registry_picture import dated_by

if TYPE_CHECKING:
    import duckdb

NEEDED_BY = (Stage.OPERATION, Stage.DISCHARGE, Stage.FOLLOW_UP)


@dataclass(frozen=True)
class Filled:
    """One field in one month.

    ``filled``: rows with a value. ``answered``: rows without one whose reason is recorded (not done, refused and so
    on). ``open``: rows with neither, or whose result is pending. The three add up to ``rows``.
    """

    month: str
    rows: int
    filled: int
    answered: int

    @property
    def open(self) -> int:
        """Rows that somebody still has to fill in."""
        return self.rows - self.filled - self.answered

    @property
    def share(self) -> float | None:
        """Filled or answered among all; None where there are no rows."""
        return (self.filled + self.answered) / self.rows if self.rows else None


@dataclass(frozen=True)
class FieldCompleteness:
    """One needed field over the months."""

    table: str
    field: str
    label: str
    subject: str
    stage: Stage
    months: tuple[Filled, ...]

    @property
    def whole(self) -> Filled:
        """All months together."""
        return Filled(
            "all",
            sum(m.rows for m in self.months),
            sum(m.filled for m in self.months),
            sum(m.answered for m in self.months),
        )


def completeness(picture: duckdb.DuckDBPyConnection, *, first: str, last: str) -> list[FieldCompleteness]:
    """Count what is filled in, for every field that a stage of a case needs.

    Args:
        picture: the registry's tables.
        first: first month, as ``2024-01``.
        last: last month, inclusive. A row counts in the month of the operation or examination it belongs to.

    Returns:
        The fields in the order of the declarations, each with the months in which its table has rows.
    """
    found = []
    for table in analysed_tables():
        infos = [info for c in own_columns(table) if (info := info_of(c)).needed in NEEDED_BY and info.analysed]
        day = dated_by(table.name)
        if infos and day is not None:
            found += _of_table(picture, table.name, model_of(table).label, infos, day, first, last)
    return found


def _of_table(
    picture: duckdb.DuckDBPyConnection,
    table: str,
    label: str,
    infos: list[FieldInfo],
    day: str,
    first: str,
    last: str,
) -> list[FieldCompleteness]:
    counts = ", ".join(f"count(t.{info.name}), count(*) FILTER ({_answered(info.name)})" for info in infos)
    rows = picture.execute(
        f"SELECT strftime(day, '%Y-%m') AS month, count(*), {counts} "
        f"FROM (SELECT t.*, {day} AS day FROM {table} t) t "
        f"WHERE strftime(day, '%Y-%m') BETWEEN ? AND ? GROUP BY ALL ORDER BY month",
        [first, last],
    ).fetchall()
    return [
        FieldCompleteness(
            table,
            info.name,
            info.label,
            label,
            info.needed or Stage.OPERATION,
            tuple(Filled(row[0], row[1], row[2 + 2 * n], row[3 + 2 * n]) for row in rows),
        )
        for n, info in enumerate(infos)
    ]


def _answered(name: str) -> str:
    settled = [reason.value for reason in MissingReason if reason is not MissingReason.PENDING]
    told = " OR ".join(f"(';' || t.missing_reasons) LIKE '%;{name}={reason};%'" for reason in settled)
    return f"WHERE t.{name} IS NULL AND ({told})"
