"""What the quality report says: plain records, gathered elsewhere, shown by the page."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from registry.validation.quality_report.ascertainment import FollowUp
from registry.validation.quality_report.completeness import FieldCompleteness
from registry.validation.quality_report.timeliness import Delay


@dataclass(frozen=True)
class RuleLine:
    """One rule as it stands today, and how many cases broke it on earlier runs, oldest first, today's last."""

    rule: str
    severity: str
    sentence: str
    judged: int
    broken: int
    not_computable: int
    state: str
    earlier: tuple[int, ...] = ()


@dataclass(frozen=True)
class ToDo:
    """Something to do first: how many, what, and the command that lists them."""

    count: int
    what: str
    command: str
    urgent: bool = False
    past: bool = False


@dataclass(frozen=True)
class QuestionLine:
    """Open questions of one owner, by how long they have been open."""

    owner: str
    under_8_days: int
    under_31_days: int
    older: int


@dataclass(frozen=True)
class Report:
    """A whole report."""

    unit: str
    on: date
    first: str
    last: str
    window: tuple[int, int]
    review_days: int
    counts: dict[str, int]
    to_do: tuple[ToDo, ...]
    completeness: tuple[FieldCompleteness, ...]
    follow_up: tuple[FollowUp, ...]
    follow_up_before: tuple[FollowUp, ...]
    timeliness: tuple[Delay, ...]
    rules: tuple[RuleLine, ...]
    questions: tuple[QuestionLine, ...]
    theatre_list: tuple[str, ...] = ()
    remarks: tuple[str, ...] = field(default=())
