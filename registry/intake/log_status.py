"""A status of the kind "stone-free: yes" as a reading: what it settles, and no more.

*Yes* at 2 mm means that nothing above 2 mm was left: a fragment of up to 2 mm may be there, so that the status at 0 is
unknown. *No* means that something above 2 mm was left. Without a size nobody can say what *yes* meant: the wording is
kept and the reading is indeterminate. Several statuses of one reading (at 0 and at 2 mm) narrow each other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from registry.intake.log_mapping import Status
from registry.schema.lists_common import YesNo
from registry.schema.lists_stone import Finding as StoneFinding
from registry.schema.lists_stone import FragmentKind
from registry.validation.findings import Problem, Severity


@dataclass(frozen=True)
class Said:
    """What one cell said of a reading. ``free``: nothing above the size; None: it cannot be told."""

    status: Status
    free: bool | None


@dataclass(frozen=True)
class Judged:
    """A reading from statuses: its finding, and by heading the fragment that may be or is left."""

    finding: str
    fragment: dict[str, str | float] | None = None
    problem: Problem | None = None


def said_by(status: Status, word: str) -> Said | None:
    """What a word of a status column says; None where it is on neither list.

    Args:
        status: the column's declaration.
        word: what stands in the cell, folded.
    """
    if word in status.yes:
        return Said(status, True)
    return Said(status, False) if word in status.no else None


def unknown_word(status: Status, word: str) -> Problem:
    """The problem of a word on neither list."""
    known = ", ".join(sorted(status.yes | status.no))
    why = f"'{word}' is on neither list of the status, so that nobody can say what it means."
    return Problem("log.status.word", Severity.ERROR, why, f"one of: {known}; or the word on a list in the mapping")


def judge(said: Sequence[Said]) -> Judged:
    """The reading that several statuses of one examination and one kidney make together."""
    sized = [one for one in said if one.status.at_mm is not None]
    if not sized:
        return Judged(StoneFinding.INDETERMINATE.value)
    low, above, high = 0.0, False, math.inf
    for one in sized:
        assert one.status.at_mm is not None
        size, below = one.status.at_mm, one.status.below
        if one.free:
            # Below 2 mm the range ends just before it: free at "< 2", and nothing is settled for smaller sizes.
            high = min(high, math.nextafter(size, 0) if below else size)
        elif (size, not below) > (low, above):
            low, above = size, not below
    if low > high or (low == high and above):
        why = "The statuses of this reading contradict each other."
        problem = Problem("log.status.agree", Severity.ERROR, why, "statuses that can be true together")
        return Judged(StoneFinding.INDETERMINATE.value, None, problem)
    if high == 0:
        return Judged(StoneFinding.NONE_SEEN.value)
    fragment: dict[str, str | float] = {"kind": FragmentKind.SINGLE.value, "diameter_low_mm": low}
    if high < math.inf:
        fragment["diameter_high_mm"] = high
    if above:
        fragment["larger_than_low"] = YesNo.YES.value
    return Judged(StoneFinding.FRAGMENTS.value, fragment)
