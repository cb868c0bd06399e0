"""What a log with planted errors brought into the registry all the same, when only its good rows were loaded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from registry.store.registry import Registry
from registry.validation.findings import Finding, Severity
from synthetic_cohort.logs.keys import PATIENT
from synthetic_cohort.logs.planting import Planted
from synthetic_cohort.logs.truth_of_log import At, TrueValue, Truth
from tests.recovery.recovered import alike, rows_of_truth
from tests.recovery.registry_values import held_values


@dataclass(frozen=True)
class LetIn:
    """A value that differs from the truth, or a row that never was, and the planted error that it came from.

    Attributes:
        kind: of the planted error.
        what: ``table.heading``; of a row that never was, the table alone.
        true: what would be right; None for such a row.
        got: what the registry holds.
        asked: a finding points at the planted error, so that a person is asked about it.
    """

    kind: str
    what: str
    true: TrueValue | None
    got: Any
    asked: bool


def let_in(
    registry: Registry,
    truth: Truth,
    planted: Sequence[Planted],
    places: Sequence[list[At]],
    findings: Sequence[Finding],
) -> list[LetIn]:
    """Compare what a registry holds of the patients of planted errors with what is true of them.

    Args:
        registry: an otherwise empty registry into which the good rows were loaded.
        truth: of the same log without any planted error.
        planted: the errors; each patient has one at most.
        places: of each, the cells at which a finding may point.
        findings: what was said, in the good rows and in the others.
    """
    said = {(of.file, of.sheet, of.row) for of in findings if of.severity in (Severity.ERROR, Severity.QUESTION)}
    asked = [any((at.file, at.sheet, at.row) in said for at in cells) for cells in places]
    kinds = {
        case.number: (one.kind.id, told)
        for one, told in zip(planted, asked, strict=True)
        for line in one.lines
        for case in line.entry
    }
    held = held_values(registry)
    found, seen = [], set[int]()
    for true, row in rows_of_truth(held, truth):
        if row is not None:
            seen.add(id(row))
        number = str(true.key[PATIENT])
        got = None if row is None or number not in kinds else held.value(row, true.heading)
        if got is not None and not alike(true.heading, true.value, got):
            kind, told = kinds[number]
            found.append(LetIn(kind, f"{true.table}.{true.heading}", true, got, told))
    told_of = {str(true.key[PATIENT]) for true in truth.values}
    by_digits = {_digits(number): kind for number, kind in kinds.items()}
    for table in dict.fromkeys(true.table for true in truth.values):
        for row in held.rows.get(table, []):
            number = str(row.get(PATIENT))
            of = kinds.get(number) if number in told_of else by_digits.get(_digits(number))
            if id(row) not in seen and of is not None:
                found.append(LetIn(of[0], table, None, {n: row[n] for n in row["key"]}, of[1]))
    return found


def _digits(number: str) -> str:
    """What is left of a hospital number that has lost its letters and leading zeros."""
    return "".join(c for c in number if c.isdigit()).lstrip("0")
