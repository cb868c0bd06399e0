"""Ten courses worked by hand: five women, five men; days from the index operation.

Women: retreated on 100 and 300, died on 200, two followed to 400. Men: retreated on 50, four followed to 400. By 365
days women: 1/5 + 3/5 x 1/3 = 0.4 retreated (S = 4/5, then 3/5 after the death), 4/5 x 1/4 = 0.2 dead; men 1/5.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from analysis.design.terms import Term
from analysis.reports.request.source import Asked, ask_snapshot_cohort
from analysis.reports.sections.report import Section
from analysis.reports.time_to_event.answer import time_sections
from tests.cohort.rows import day
from tests.spec.follow_up.unit_story import UnitStory

SEX = Term(column="sex", shape="levels")
WOMEN = ((100, 1), (300, 1), (200, 2), (400, 0), (400, 0))
MEN = ((50, 1), (400, 0), (400, 0), (400, 0), (400, 0))
EVENT, DEATH = 1, 2


def course(story: UnitStory, sex: str, time: int, cause: int, **side: Any) -> int:
    unit = story.course(**side)
    row = story.rows.tables["patient"][story.patient(unit) - 1]
    row["sex"], row["birth_year"] = sex, 1960 + unit % 9
    story.contact(unit, 400, settles=400 if cause == EVENT else time)
    if cause == EVENT:
        story.later(unit, time)
    if cause == DEATH:
        story.died(unit, time)
    return unit


def worked(women: Sequence[tuple[int, int]] = WOMEN, men: Sequence[tuple[int, int]] = MEN) -> UnitStory:
    story = UnitStory()
    for sex, group in (("female", women), ("male", men)):
        for time, cause in group:
            course(story, sex, time, cause)
    return story


def asked_of(story: UnitStory, folder: Path, as_of: int = 1000) -> Asked:
    return ask_snapshot_cohort(story.rows.snapshot_of(folder), as_of=day(as_of))


def sections_of(
    story: UnitStory, folder: Path, exposure: Term = SEX, adjusters: Sequence[Term] = (), what: str = "retreatment",
    **more: Any,
) -> dict[str, Section]:  # fmt: skip
    made = time_sections(asked_of(story, folder), what, exposure, adjusters, **more)
    return {one.name: one for one in made}


def row_of(section: Section, **values: Any) -> dict[str, Any]:
    held = [dict(row) for row in section.rows if all(row.get(key) == value for key, value in values.items())]
    assert len(held) == 1, held
    return held[0]
