"""The crude share with the event against the curve: a cohort made to repeat a published pair.

After shock-wave treatment of 444 kidneys of 415 people, success being fragments below 3 mm, 82 recurred: 18.5 % crude,
and by Kaplan and Meier 7.5, 17.8, 34.8, 39.8 and 45.8 % by 1 to 5 years (Korean J Urol, synapse.koreamed.org/articles/
1004915). The paper gives no times. Here they are made: in the middle of each year 33 of 440, 22 of 197, 20 of 97, 4 of
52 and 3 of 30 still followed recur, so that 1 - (1 - 33/440)(1 - 22/197)(1 - 20/97)(1 - 4/52)(1 - 3/30) = 45.8 %. The
crude share divides by all who began, though most were last seen long before the fifth year.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from analysis.design.terms import Term
from analysis.reports.request.source import ask_snapshot_cohort
from analysis.reports.sections.report import Section
from analysis.reports.time_to_event.answer import time_sections
from tests.cohort.rows import day
from tests.spec.follow_up.unit_story import UnitStory

YEARS = ((440, 33), (197, 22), (97, 20), (52, 4), (30, 3))
PUBLISHED = (7.5, 17.8, 34.8, 39.8, 45.8)
KIDNEYS, PEOPLE, RECURRED = 444, 415, 82
HORIZONS = "365,730,1096,1461,1826"
OPTIONS = {"threshold": "lt3", "horizons": HORIZONS}
FREE_ON, AS_OF = 30, 2500


def times() -> list[tuple[int, bool]]:
    """Day after the image, and whether it recurred, of each kidney."""
    made: list[tuple[int, bool]] = []
    left = KIDNEYS
    for year, (at_risk, events) in enumerate(YEARS):
        middle = 365 * year + 182
        made += [(middle - 60, False)] * (left - at_risk) + [(middle, True)] * events
        left = at_risk - events
    return made + [(2000, False)] * left


def series(*, deaths: bool = False) -> UnitStory:
    """deaths: those with one kidney here who are last seen in the first three years died some days later."""
    story = UnitStory()
    for number, (after, recurred) in enumerate(times()):
        second = number >= PEOPLE  # the last 29 kidneys are the second of a person
        unit = story.course(unit=story.rows.unit(number - PEOPLE + 1, "right") if second else None)
        story.rows.tables["patient"][story.patient(unit) - 1]["sex"] = "female" if number % 2 else "male"
        story.image(unit, FREE_ON, 2.0)
        if recurred:
            story.image(unit, FREE_ON + after - 1, 2.0)
            story.image(unit, FREE_ON + after + 1, 4.0, origin="new")
        else:
            story.image(unit, FREE_ON + after, 2.0)
        if deaths and not recurred and KIDNEYS - PEOPLE <= number < PEOPLE and after < 3 * 365:
            story.died(unit, FREE_ON + after + 5)
    return story


def sections(folder: Path, *, deaths: bool = False, **more: Any) -> dict[str, Section]:
    asked = ask_snapshot_cohort(series(deaths=deaths).rows.snapshot_of(folder), as_of=day(AS_OF))
    made = time_sections(asked, "recurrence", Term(column="sex", shape="levels"), [], options=OPTIONS, **more)
    return {one.name: one for one in made}


def everyone(section: Section) -> list[dict[str, Any]]:
    return [dict(row) for row in section.rows if row["group"]["sex"] == "everyone"]


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Section]:
    return sections(tmp_path_factory.mktemp("series"))


def test_the_crude_share_is_18_5_per_cent(found: dict[str, Section]) -> None:
    (row,) = everyone(found["time_followed"])
    assert (row["n"], row["patients"], row["events"]) == (KIDNEYS, PEOPLE, RECURRED)
    assert 100 * row["events"] / row["n"] == pytest.approx(18.5, abs=0.05)


def test_the_curve_reaches_45_8_per_cent(found: dict[str, Section]) -> None:
    rows = everyone(found["time_incidence"])
    assert [100 * row["estimate"] for row in rows] == pytest.approx(PUBLISHED, abs=0.05)
    assert [row["events"] for row in rows] == [33, 55, 75, 79, 82]
    assert all(row["low"] < row["estimate"] < row["high"] for row in rows)


def test_without_competing_events_it_is_called_kaplan_meier(found: dict[str, Section]) -> None:
    assert found["time_incidence"].definition["method"].startswith("1 - Kaplan-Meier")
    assert any("Nobody had a competing event" in note for note in found["time_incidence"].notes)


def test_between_images_the_estimate_brackets_the_curve(found: dict[str, Section]) -> None:
    """Images lie two days apart, and no horizon between two of them: Turnbull's estimate is the curve."""
    rows = [row for row in everyone(found["time_between_images"]) if row["reading"].startswith("Turnbull")]
    assert [100 * row["low"] for row in rows] == pytest.approx(PUBLISHED, abs=0.05)
    assert [row["low"] for row in rows] == pytest.approx([row["high"] for row in rows], abs=1e-6)


def test_where_the_censored_had_died_kaplan_meier_overstates(tmp_path: Path) -> None:
    made = sections(tmp_path / "deaths", deaths=True)["time_incidence"]
    last = everyone(made)[-1]
    assert last["estimate"] < last["kaplan_meier"]
    assert last["kaplan_meier"] == pytest.approx(0.458, abs=0.001)
    assert last["estimate"] + last["competing"] <= 1
    assert any("over-states" in note for note in made.notes)
