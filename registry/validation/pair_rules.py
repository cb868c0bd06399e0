"""Rules of two fields of one row."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from registry.validation.findings import Problem, Severity


@dataclass(frozen=True)
class PairRule:
    """A rule of two fields of one row; it is silent unless both are there.

    ``fields`` are the column names; the finding stands at the second.
    """

    table: str
    fields: tuple[str, str]
    id: str
    severity: Severity
    sentence: str
    test: Callable[[Any, Any], bool]
    why: Callable[[Any, Any], str]

    def problem(self, first: Any, second: Any) -> Problem:
        """The problem of a pair that breaks the rule."""
        return Problem(self.id, self.severity, self.why(first, second), self.sentence)


PAIR_RULES = (
    PairRule(
        "fragment",
        ("diameter_low_mm", "diameter_high_mm"),
        "fragment.diameter.low_to_high",
        Severity.ERROR,
        "the low diameter is no more than the high one; the same in both when one size is given",
        lambda low, high: low <= high,
        lambda low, high: f"The high diameter, {high:g} mm, is less than the low one, {low:g} mm.",
    ),
)


def pair_rules_of(table: str) -> list[PairRule]:
    """The pair rules of a table."""
    return [rule for rule in PAIR_RULES if rule.table == table]
