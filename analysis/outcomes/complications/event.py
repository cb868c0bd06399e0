"""One complication as the rule of grades reads it, and what the rule makes of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analysis.outcomes.complications.therapy_levels import GRADES

State = Literal["graded", "not computable", "no complication"]


@dataclass(frozen=True)
class Given:
    """One therapy. what, anaesthesia: codes, anaesthesia None when not recorded. planned: `planned_stage` or
    `planned_removal` when it was an operation of the course as planned, else None. operated_under: the anaesthesia
    recorded with the operation here that it was, in the words of the therapy; None when it was none or none is."""

    what: str
    anaesthesia: str | None = None
    planned: str | None = None
    operated_under: str | None = None


@dataclass(frozen=True)
class Event:
    """One complication.

    what: its code. therapies: what was done; none at all is not recorded, for observation has a code of its own.
    organs_failing: None when not recorded. died_of_it, present_at_discharge: None when not recorded. death: the
    patient's own death, `none` recorded, `before` the onset, `near` (on or up to 90 days after the onset, so far as the
    dates can tell) or `later`.
    """

    what: str
    therapies: tuple[Given, ...] = ()
    organs_failing: int | None = None
    died_of_it: bool | None = None
    present_at_discharge: bool | None = None
    death: Literal["none", "before", "near", "later"] = "none"


@dataclass(frozen=True)
class Proposal:
    """What the rule proposes.

    possible: every grade number that what is recorded leaves open, ascending; one when graded, none when it is no
    complication. rule: the rule that fired, in words. deciding: code of the therapy that decided, empty when none did.
    suffix_d: still present at discharge; None when not recorded. missing: inputs that keep it from being computed.
    flags: what a reader should know. contradictions: what cannot both be.
    """

    state: State
    possible: tuple[int, ...]
    rule: str
    deciding: str = ""
    suffix_d: bool | None = None
    missing: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()
    contradictions: tuple[str, ...] = ()

    @property
    def grade(self) -> str | None:
        """The grade, or None when there is none to give."""
        return GRADES[self.possible[0] - 1] if self.state == "graded" else None

    @property
    def shown(self) -> str:
        """The grade as it is written: `IIIa-d`, or the state in words."""
        return f"{self.grade}{'-d' if self.suffix_d else ''}" if self.grade else self.state
