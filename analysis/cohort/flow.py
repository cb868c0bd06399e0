"""How many were left out at each step, and why: numbers that add up exactly."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Counts:
    """Treated sides; operations and patients with at least one of them."""

    sides: int
    operations: int
    patients: int

    def __sub__(self, other: Counts) -> Counts:
        return Counts(self.sides - other.sides, self.operations - other.operations, self.patients - other.patients)


@dataclass(frozen=True)
class FlowRow:
    """One step. entered = left_out + left_out_missing + stayed, for sides, operations and patients alike.

    An operation or patient is left out when none of its sides stays. left_out: the value says so.
    left_out_missing: the value is missing, and the step leaves those out. missing_stayed: sides whose value is
    missing and that the step lets stay.
    """

    reason: str
    entered: Counts
    left_out: Counts
    left_out_missing: Counts
    missing_stayed: int
    stayed: Counts
    column: str | None = None
    condition: str | None = None


@dataclass(frozen=True)
class Flow:
    """From every treated side of a snapshot to those in the cohort."""

    entered: Counts
    rows: tuple[FlowRow, ...]

    @property
    def stayed(self) -> Counts:
        """Those in the cohort."""
        return self.rows[-1].stayed if self.rows else self.entered

    def as_dicts(self) -> list[dict[str, Any]]:
        """The rows as plain records, for JSON."""
        return [asdict(row) for row in self.rows]

    def text(self) -> str:
        """The flow in words, one line a number."""
        lines = [f"In the registry: {_told(self.entered)}"]
        for row in self.rows:
            lines.append(f"  - {row.reason}: {_told(row.left_out)} left out")
            if row.left_out_missing.sides:
                lines.append(f"  - {row.column} not recorded: {_told(row.left_out_missing)} left out")
            if row.missing_stayed:
                lines.append(f"    ({row.column} not recorded: {_plural(row.missing_stayed, 'side')} stay in)")
        lines.append(f"In the cohort: {_told(self.stayed)}")
        return "\n".join(lines)


class FlowCount:
    """Counts a flow, step by step, over the rows of a cohort frame."""

    def __init__(self, frame: pd.DataFrame) -> None:
        self._operations = pd.factorize(frame["operation_id"])[0]
        self._patients = pd.factorize(frame["patient_id"])[0]
        self.inside: Mask = np.ones(len(frame), dtype=bool)
        self._entered = self._counted(self.inside)
        self._rows: list[FlowRow] = []

    def step(
        self,
        reason: str,
        *,
        fails: Mask,
        missing: Mask | None = None,
        missing_out: bool = False,
        column: str | None = None,
        condition: str | None = None,
    ) -> None:
        """Leave rows out.

        Args:
            reason: why, in words.
            fails: rows that the step leaves out by their value.
            missing: rows whose value is missing (none of them fails).
            missing_out: leave those out as well.
        """
        entered = self._counted(self.inside)
        unknown = np.zeros_like(self.inside) if missing is None else missing & self.inside
        after_value = self.inside & ~fails
        stayed = after_value & ~unknown if missing_out else after_value
        middle, last = self._counted(after_value), self._counted(stayed)
        self._rows.append(
            FlowRow(
                reason=reason,
                entered=entered,
                left_out=entered - middle,
                left_out_missing=middle - last,
                missing_stayed=0 if missing_out else int(unknown.sum()),
                stayed=last,
                column=column,
                condition=condition,
            )
        )
        self.inside = stayed

    def flow(self) -> Flow:
        """What was counted."""
        return Flow(self._entered, tuple(self._rows))

    def _counted(self, mask: Mask) -> Counts:
        return Counts(int(mask.sum()), _distinct(self._operations[mask]), _distinct(self._patients[mask]))


def _distinct(codes: npt.NDArray[np.intp]) -> int:
    return int(np.count_nonzero(np.bincount(codes))) if len(codes) else 0


def _told(counts: Counts) -> str:
    return ", ".join(
        _plural(number, what)
        for number, what in ((counts.sides, "side"), (counts.operations, "operation"), (counts.patients, "patient"))
    )


def _plural(number: int, what: str) -> str:
    return f"{number:,} {what}{'' if number == 1 else 's'}"
