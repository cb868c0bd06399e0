"""The words in which a worked case tells what happened to a patient.

They know nothing of how the program stores or computes: dates are absolute, people, operations, kidneys and
stones are named by short references that are unique within one case. Any translator can turn them into tables,
workbook sheets or whatever else the program reads.
"""

from __future__ import annotations

import calendar
import datetime as dt
from dataclasses import dataclass, field

OPERATED_ON = dt.date(2024, 3, 1)
LONG_AFTER = dt.date(2025, 12, 31)


def day(number: int) -> dt.date:
    """The date so many days after 1 March 2024: day 31 is 1 April, day 61 is 1 May, day 90 is 30 May."""
    return OPERATED_ON + dt.timedelta(days=number)


@dataclass(frozen=True)
class When:
    """A date known to the day, the month or the year."""

    on: dt.date
    precision: str = "day"

    @property
    def low(self) -> dt.date:
        return {
            "day": self.on,
            "month": self.on.replace(day=1),
            "year": self.on.replace(month=1, day=1),
        }[self.precision]

    @property
    def high(self) -> dt.date:
        last = calendar.monthrange(self.on.year, self.on.month)[1]
        return {
            "day": self.on,
            "month": self.on.replace(day=last),
            "year": self.on.replace(month=12, day=31),
        }[self.precision]


@dataclass(frozen=True, kw_only=True)
class Side:
    """One kidney treated in one operation.

    stage: 0 begins `course`, 1 and on is a planned stage of it (`decided_on` that day), None is unplanned;
    then `kind` says auxiliary (within 90 days of the planned end of `course`, which it follows) or
    unplanned (between planned stages). aimed, left, left_late: references of stones aimed at, left on purpose
    and recorded before access, and left but recorded only afterwards.
    """

    ref: str
    kidney: str = "left"
    course: str | None = "c1"
    stage: int | None = 0
    kind: str | None = None
    decided_on: dt.date | None = None
    technique: str = "flexible_ureteroscopy"
    intent: str = "stone_removal"
    conduct: str = "completed"
    access_failed: bool = False
    aimed: tuple[str, ...] = ()
    left: tuple[str, ...] = ()
    left_late: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Operation:
    ref: str
    on: dt.date
    sides: tuple[Side, ...]
    number: int = 1


@dataclass(frozen=True, kw_only=True)
class Elsewhere:
    """A stone treatment in another hospital; `kind` and `course` as of a side, or index for a new course."""

    when: When
    kidney: str = "left"
    kind: str = "auxiliary"
    course: str | None = "c1"


@dataclass(frozen=True, kw_only=True)
class Fragment:
    """low_mm to high_mm; both missing is no size given; `above` is "larger than low_mm".

    of: a stone's reference, `new`, `no_stone` (encrusted stent and the like) or `not_said`.
    """

    low_mm: float | None = None
    high_mm: float | None = None
    above: bool = False
    kind: str = "single"
    of: str = "not_said"


@dataclass(frozen=True, kw_only=True)
class Reading:
    kidney: str = "left"
    finding: str = "none_seen"
    fragments: tuple[Fragment, ...] = ()
    every_calyx_seen: bool | None = None


@dataclass(frozen=True, kw_only=True)
class Examination:
    """`readings` empty: the patient was examined and no reading of either kidney is recorded."""

    ref: str
    when: When
    modality: str
    slice_mm: float | None = None
    after_operation: bool | None = None
    readings: tuple[Reading, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Stone:
    ref: str
    course: str = "c1"
    kidney: str = "left"
    radiolucent: bool = False


@dataclass(frozen=True, kw_only=True)
class Patient:
    ref: str = "p1"
    operations: tuple[Operation, ...] = ()
    elsewhere: tuple[Elsewhere, ...] = ()
    examinations: tuple[Examination, ...] = ()
    stones: tuple[Stone, ...] = ()
    lost: tuple[tuple[str, When], ...] = ()
    died: When | None = None


@dataclass(frozen=True)
class Expected:
    """What must be said of the unit `of` at 0, < 2, 2, < 4 and 4 mm.

    statuses: five letters, S stone-free, F failed, U unknown, N not due, D died, O out of the denominator.
    rung: the deciding rule's code; `study` is the picked study; five words where it changes with the threshold.
    picked: reference of the examination that must have been picked, if the case is about that.
    """

    of: str
    statuses: str
    rung: str
    picked: str | None = None


@dataclass(frozen=True, kw_only=True)
class WorkedCase:
    """options: as typed after `stone-free`, without the dashes; everything else at its default."""

    ref: str
    why: str
    patients: tuple[Patient, ...]
    expected: tuple[Expected, ...]
    options: dict[str, str] = field(default_factory=dict)
    as_of: dt.date = LONG_AFTER
