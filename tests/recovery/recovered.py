"""Counts how much of a log the registry got back: against the truth that the log was written from."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from registry.store.registry import Registry
from registry.validation.findings import Finding, Severity
from synthetic_cohort.logs.keys import PATIENT, RUNNING
from synthetic_cohort.logs.planting import Planted
from synthetic_cohort.logs.truth_of_log import At, State, TrueValue, Truth
from tests.recovery.registry_values import Held, held_values

_CLOSE = 1e-6
Key = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Wrong:
    """A value in the registry that is not what the log truly says."""

    true: TrueValue
    got: Any


@dataclass
class Recovered:
    """What came back.

    Attributes:
        recoverable: how many values the files still say.
        recovered: how many of them the registry holds.
        wrong: values that went in wrong.
        missing: values that did not come back.
        invented: rows of the registry that the log says nothing of, as ``table key``.
    """

    recoverable: int = 0
    recovered: int = 0
    wrong: list[Wrong] = field(default_factory=list)
    missing: list[TrueValue] = field(default_factory=list)
    invented: list[str] = field(default_factory=list)

    @property
    def share(self) -> float:
        """The share of the recoverable values that came back."""
        return self.recovered / self.recoverable if self.recoverable else 1.0


def recovered(registry: Registry, truth: Truth) -> Recovered:
    """Compare what a registry holds with what a log truly says.

    Args:
        registry: an otherwise empty registry into which the log was loaded.
        truth: the log's truth; values that a planted error speaks of are left out.
    """
    held = held_values(registry)
    found = Recovered()
    seen: set[int] = set()
    for true, row in rows_of_truth(held, truth):
        if row is not None:
            seen.add(id(row))
        if true.state is State.PLANTED:
            continue
        got = None if row is None else held.value(row, true.heading)
        found.recoverable += true.state is State.RECOVERABLE
        if got is None:
            if true.state is State.RECOVERABLE:
                found.missing.append(true)
        elif not alike(true.heading, true.value, got):
            found.wrong.append(Wrong(true, got))
        else:
            found.recovered += true.state is State.RECOVERABLE
    spoken = {str(true.key[PATIENT]) for true in truth.values if true.state is State.PLANTED}
    for table in dict.fromkeys(true.table for true in truth.values):
        for row in held.rows.get(table, []):
            if id(row) not in seen and str(row.get(PATIENT)) not in spoken:
                found.invented.append(f"{table} { ({k: v for k, v in row.items() if v is not None}) }")
    return found


def rows_of_truth(held: Held, truth: Truth) -> Iterator[tuple[TrueValue, dict[str, Any] | None]]:
    """Each value of a truth with the row that should hold it; None where there is none."""
    loose: dict[tuple[str, Key], set[Key]] = {}
    for true in truth.values:
        loose.setdefault((true.table, _key(true.key, loose=True)), set()).add(_key(true.key))
    tables = {true.table for true in truth.values}
    by_key = {
        table: (_by(rows, loose=False), _by(rows, loose=True)) for table, rows in held.rows.items() if table in tables
    }
    for true in truth.values:
        yield true, _row(true, by_key, loose)


def alike(heading: str, true: Any, got: Any) -> bool:
    """A value is what it should be; numbers may differ by what a conversion rounds off."""
    if isinstance(true, int | float) and not isinstance(true, bool):
        try:
            return math.isclose(float(true), float(got), rel_tol=_CLOSE, abs_tol=_CLOSE)
        except (TypeError, ValueError):
            return False
    if heading == "wording":
        return str(true).casefold() in str(got).casefold()
    return _text(true) == _text(got)


def _text(value: Any) -> str:
    return value.isoformat()[:10] if isinstance(value, date) else str(value)


def _key(parts: dict[str, Any], *, loose: bool = False) -> Key:
    return tuple(sorted((name, _text(value)) for name, value in parts.items() if not (loose and name in RUNNING)))


def _by(rows: Iterable[dict[str, Any]], *, loose: bool) -> dict[Key, list[dict[str, Any]]]:
    found: dict[Key, list[dict[str, Any]]] = {}
    for row in rows:
        key = {name: row[name] for name in row["key"]}
        found.setdefault(_key(key, loose=loose), []).append(row)
    return found


def _row(true: TrueValue, by_key: dict[str, Any], loose: dict[tuple[str, Key], set[Key]]) -> dict[str, Any] | None:
    """The row of a value: by its whole key, else by what the log says of it where only one row can be meant."""
    if true.table not in by_key:
        return None
    exact, rough = by_key[true.table]
    rows = exact.get(_key(true.key), [])
    if not rows and len(loose[true.table, _key(true.key, loose=True)]) == 1:
        rows = rough.get(_key(true.key, loose=True), [])
    return rows[0] if len(rows) == 1 else None


@dataclass
class Found:
    """What was said about planted errors and about rows with which nothing is wrong.

    Attributes:
        planted: how many errors were planted.
        missed: those that no finding points at.
        alarms: errors and questions at rows that no planted error speaks of.
        clean: how many rows are clean.
    """

    planted: int
    missed: list[Planted]
    alarms: list[Finding]
    clean: int

    @property
    def share(self) -> float:
        """The share of the planted errors that were found."""
        return 1 - len(self.missed) / self.planted if self.planted else 1.0

    @property
    def alarms_per_thousand(self) -> float:
        """False alarms in 1,000 clean rows."""
        return 1000 * len(self.alarms) / self.clean if self.clean else 0.0


def found(findings: Sequence[Finding], planted: Sequence[Planted], places: Sequence[list[At]], truth: Truth) -> Found:
    """Count the planted errors at which a finding points, and the findings that point at nothing wrong.

    Args:
        findings: what intake and the clinical rules found.
        planted: the errors.
        places: of each, the cells at which a finding may point.
        truth: of the log, for its clean rows.
    """
    said = [of for of in findings if of.severity in (Severity.ERROR, Severity.QUESTION)]
    cells = {(of.file, of.sheet, of.row, column.strip()) for of in said for column in of.column.split(",")}
    missed = [
        one
        for one, at in zip(planted, places, strict=True)
        if not any((cell.file, cell.sheet, cell.row, cell.column) in cells for cell in at)
    ]
    clean = {(row.file, row.sheet, row.row) for row in truth.clean}
    touched = {(at.file, at.sheet, at.row) for true in truth.values for at in true.places} - clean
    touched |= {(at.file, at.sheet, at.row) for cell in places for at in cell}
    alarms = [of for of in said if (of.file, of.sheet, of.row) not in touched]
    return Found(len(planted), missed, alarms, len(clean))
