"""The sections of a time to an event, against what is worked by hand in `worked_unit`."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from analysis.design.terms import Term
from analysis.estimators.regression.fitted import effect
from analysis.estimators.survival.cox import cox
from analysis.estimators.survival.gray import gray
from analysis.estimators.survival.kaplan_meier import kaplan_meier
from analysis.estimators.survival.log_rank import log_rank
from analysis.estimators.survival.restricted_mean import restricted_mean
from analysis.reports.sections.render_csv import as_csv
from analysis.reports.sections.render_json import as_json
from analysis.reports.sections.render_text import as_text
from analysis.reports.sections.report import Report, Section
from tests.reports.time_to_event.worked_unit import MEN, SEX, WOMEN, course, row_of, sections_of, worked
from tests.spec.follow_up.unit_story import UnitStory

TIME = [time for time, _ in (*WOMEN, *MEN)]
CAUSE = np.array([cause for _, cause in (*WOMEN, *MEN)])
GROUP = ["female"] * 5 + ["male"] * 5


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Section]:
    return sections_of(worked(), tmp_path_factory.mktemp("worked"), events_per_parameter=1)


def test_every_section_is_there_in_the_order_it_is_read(found: dict[str, Section]) -> None:
    assert list(found) == [
        "time_at_risk", "time_followed", "time_incidence", "time_tests", "time_hazard", "time_proportional",
        "time_restricted_mean", "time_dates",
    ]  # fmt: skip


def test_events_by_kind_and_years(found: dict[str, Section]) -> None:
    women = row_of(found["time_followed"], group={"sex": "female"})
    assert [women[name] for name in ("n", "events", "deaths", "losses", "censored")] == [5, 2, 1, 0, 2]
    assert women["years"] == pytest.approx(1400 / 365.25)


def test_the_median_follow_up_is_that_of_the_reverse_curve(found: dict[str, Section]) -> None:
    assert row_of(found["time_followed"], group={"sex": "everyone"})["estimate"] == 400


@pytest.mark.parametrize(
    ("sex", "days", "estimate", "competing", "plain"),
    [
        ("female", 90, 0.0, 0.0, 0.0),
        ("female", 365, 0.4, 0.2, 1 - 4 / 5 * 2 / 3),
        ("male", 90, 0.2, 0.0, 0.2),
        ("male", 365, 0.2, 0.0, 0.2),
    ],
)
def test_incidence_by_hand(
    found: dict[str, Section], sex: str, days: int, estimate: float, competing: float, plain: float
) -> None:
    row = row_of(found["time_incidence"], group={"sex": sex}, days=days)
    assert row["estimate"] == pytest.approx(estimate)
    assert row["competing"] == pytest.approx(competing)
    assert row["kaplan_meier"] == pytest.approx(plain)


def test_beyond_follow_up_there_is_no_number_but_a_reason(found: dict[str, Section]) -> None:
    row = row_of(found["time_incidence"], group={"sex": "male"}, days=730)
    assert (row["estimate"], row["low"], row["high"]) == (None, None, None)
    assert row["reason"] == "not estimable: nobody is followed beyond day 400"


def test_tests_are_named_and_those_of_the_estimators(found: dict[str, Section]) -> None:
    section = found["time_tests"]
    assert row_of(section, test="Gray's test")["p"] == pytest.approx(gray(TIME, CAUSE, GROUP).p)
    assert row_of(section, test="log-rank test")["p"] == pytest.approx(log_rank(TIME, CAUSE == 1, GROUP).p)


def test_the_cause_specific_hazard_ratio_is_clustered_by_patient(found: dict[str, Section]) -> None:
    x = np.array([[float(sex == "male")] for sex in GROUP])
    fit = cox(TIME, CAUSE == 1, x, ["male"], cluster=range(10), events_per_parameter=1)
    wanted = effect(fit, [1.0], "male")
    row = row_of(found["time_hazard"], scale="hazard ratio (cause-specific)", what="sex: male")
    assert [row["estimate"], row["low"], row["high"]] == pytest.approx([wanted.estimate, wanted.low, wanted.high])
    assert (row["n"], row["events"], row["clusters"]) == (10, 3, 10)


def test_fine_and_gray_stands_beside_when_something_competes(found: dict[str, Section]) -> None:
    assert row_of(found["time_hazard"], scale="subdistribution hazard ratio", what="sex: male")["estimate"] > 0


def test_the_test_of_proportional_hazards_is_always_printed(found: dict[str, Section]) -> None:
    assert 0 < row_of(found["time_proportional"], model="crude")["p"] < 1


def test_days_free_of_event_and_of_what_competes(found: dict[str, Section]) -> None:
    """Women to 365 days: 100 + 0.8 x 100 + 0.6 x 100 + 0.4 x 65 = 266; men 50 + 0.8 x 315 = 302."""
    section = found["time_restricted_mean"]
    assert row_of(section, what="female")["estimate"] == pytest.approx(266)
    assert row_of(section, what="male")["estimate"] == pytest.approx(302)
    gap = row_of(section, what="difference: male less female")
    assert gap["estimate"] == pytest.approx(36)
    alone = [restricted_mean(kaplan_meier(TIME[at], CAUSE[at] > 0), 365) for at in (slice(0, 5), slice(5, 10))]
    error = np.hypot(*(one.standard_error for one in alone))
    assert gap["high"] == pytest.approx(36 + 1.959963984540054 * error)


def test_other_ways_to_end_follow_up_stand_beside(found: dict[str, Section]) -> None:
    """To the as-of date nobody is censored before 1,000 days: 3 of 10 by a year, but for the one who died."""
    row = row_of(found["time_dates"], reading="followed to the as-of date", days=365)
    assert (row["n"], row["events"], row["estimate"]) == (10, 3, pytest.approx(0.3))


def test_it_is_rendered_as_text_csv_and_json(found: dict[str, Section]) -> None:
    report = Report(title="Retreatment", sections=list(found.values()))
    said = as_text(report)
    assert "retreatment, version 1" in said
    assert "over-states the share" in said
    rows = json.loads(as_json(report))["rows"]
    assert {row["section"] for row in rows} == set(found)
    assert as_csv(report).count("time_incidence") == 12
    for section in found.values():
        for row in section.rows:
            assert {"n", "unknown", "estimate", "low", "high"} <= set(row), section.name


def test_what_is_adjusted_for_and_a_contrast(tmp_path: Path) -> None:
    story = UnitStory()
    for number in range(60):
        sex = "female" if number % 3 else "male"
        course(story, sex, 60 + 5 * number, 1 if number % 2 else 0)
    age = Term(column="age_years", per=10)
    made = sections_of(story, tmp_path / "s", age, [SEX], contrast=(60, 58), events_per_parameter=10)
    row = row_of(made["time_hazard"], model="adjusted", what="60 against 58")
    per_ten = row_of(made["time_hazard"], model="adjusted", what="age_years, per 10")
    assert row["estimate"] == pytest.approx(per_ten["estimate"] ** 0.2, rel=1e-9)
    tested = {one["what"] for one in made["time_proportional"].rows if one["model"] == "adjusted"}
    assert "all together" in tested
    outside = sections_of(story, tmp_path / "o", age, [SEX], contrast=(90, 58))
    told = [row for row in outside["time_hazard"].rows if "nothing is read off outside" in row["what"]]
    assert [row["estimate"] for row in told] == [None, None]


def test_the_crude_ratio_stands_on_the_rows_of_the_adjusted_too(tmp_path: Path) -> None:
    """A third of the courses lack the birth year that the adjusted model needs."""
    story = UnitStory()
    for number in range(90):
        unit = course(story, "female" if number % 2 else "male", 60 + 3 * number, 1 if number % 5 < 2 else 0)
        if number % 3 == 0:
            story.rows.tables["patient"][story.patient(unit) - 1]["birth_year"] = None
    age = Term(column="age_years", per=10)
    made = sections_of(story, tmp_path / "s", SEX, [age], contrast=("male", "female"))["time_hazard"]
    many = {row["model"]: row["n"] for row in made.rows}
    assert many == {"crude": 90, "crude, rows of the adjusted": 60, "adjusted": 60}
    for name in many:
        plain = row_of(made, model=name, what="sex: male")
        assert row_of(made, model=name, what="male against female")["estimate"] == pytest.approx(plain["estimate"])
    assert made.definition["models"][2]["dropped"] == {"age_years": 30}


def test_a_curve_of_the_exposure_is_read_by_a_contrast(tmp_path: Path) -> None:
    story = UnitStory()
    for number in range(80):
        course(story, "female", 60 + 3 * number, number % 2)
    curve = Term(column="age_years", shape="spline", knots=3)
    made = sections_of(story, tmp_path / "s", curve, contrast=(60, 56))["time_hazard"]
    assert [row["what"] for row in made.rows] == ["60 against 56", "any effect (Wald, 2 df)"]
    alone = sections_of(story, tmp_path / "a", curve)["time_hazard"]
    assert any("name a contrast" in note for note in alone.notes)


def test_courses_not_followed_are_counted_in_their_group(tmp_path: Path) -> None:
    story = worked()
    unit = story.course()
    story.rows.tables["patient"][story.patient(unit) - 1]["sex"] = "male"
    section = sections_of(story, tmp_path / "s")["time_incidence"]
    assert {row["group"]["sex"]: row["unknown"] for row in section.rows} == {"everyone": 1, "female": 0, "male": 1}


def test_two_courses_of_one_patient_widen_the_clustered_interval(tmp_path: Path) -> None:
    story = UnitStory()
    for number in range(30):
        unit = course(story, "female", 100 if number < 10 else 400, 1 if number < 10 else 0)
        other = story.course(unit=story.rows.unit(story.patient(unit), "right"))
        if number < 10:
            story.later(other, 100)
    row = row_of(sections_of(story, tmp_path / "s")["time_incidence"], group={"sex": "everyone"}, days=365)
    assert row["estimate"] == pytest.approx(1 / 3)
    assert row["clustered_low"] < row["low"] < row["high"] < row["clustered_high"]
