"""What cannot be answered: a paragraph in its place, or a sentence for the person who asked."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.design.terms import Term
from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.time_to_event.figure_of import time_figure
from analysis.reports.time_to_event.options import read_options
from registry.schema.errors import GravelbookError
from tests.reports.time_to_event.worked_unit import MEN, SEX, WOMEN, asked_of, row_of, sections_of, worked

QUIET = ((400, 0),) * 5


def test_nobody_with_the_event(tmp_path: Path) -> None:
    made = sections_of(worked(QUIET, QUIET), tmp_path / "s")
    assert list(made) == ["time_at_risk", "time_followed", "time_incidence", "time_dates"]
    assert "Nobody had retreatment within follow-up" in made["time_incidence"].notes[-1]
    row = row_of(made["time_incidence"], group={"sex": "female"}, days=365)
    assert (row["estimate"], row["low"], row["reason"]) == (0.0, None, "no event yet, so that there are no limits")


def test_one_group(tmp_path: Path) -> None:
    made = sections_of(worked(WOMEN, ()), tmp_path / "s")
    assert all(row["estimate"] is None for row in made["time_tests"].rows)
    assert any("there is one group, female" in note for note in made["time_tests"].notes)
    assert not made["time_hazard"].rows
    assert any("sex" in note for note in made["time_hazard"].notes)
    assert "nothing to test" in made["time_proportional"].notes[0]
    assert "time_restricted_mean" not in made


def test_nobody_at_risk(tmp_path: Path) -> None:
    made = sections_of(worked(), tmp_path / "s", what="recurrence")
    assert list(made) == ["time_at_risk"]
    assert made["time_at_risk"].notes[-1].startswith("Nobody is at risk")
    assert row_of(made["time_at_risk"], step="not stone-free by this definition")["left_out"] == 1


def test_more_parameters_than_the_events_carry(tmp_path: Path) -> None:
    made = sections_of(worked(), tmp_path / "s")
    assert any("more parameters than the data carry" in note for note in made["time_hazard"].notes)


def test_a_group_in_which_nobody_has_it_has_no_mean(tmp_path: Path) -> None:
    made = sections_of(worked(WOMEN, QUIET), tmp_path / "s", events_per_parameter=1)
    assert not made["time_restricted_mean"].rows
    assert any("Mean days of male are not told" in note for note in made["time_restricted_mean"].notes)
    assert any("no maximum" in note for note in made["time_hazard"].notes)


def test_a_column_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(GravelbookError, match=r"'sexx' is no column of the cohort\. The nearest (is|are): sex"):
        sections_of(worked(), tmp_path / "s", Term(column="sexx", shape="levels"))


@pytest.mark.parametrize(
    ("what", "typed", "said"),
    [
        ("cure", {}, "what 'cure' is no time to an event; choose one of retreatment, recurrence"),
        ("retreatment", {"orign": "index"}, "'orign' means nothing for retreatment. Did you mean origin?"),
        ("retreatment", {"threshold": "0"}, "'threshold' means nothing for retreatment."),
        ("retreatment", {"origin": "birth"}, "origin cannot be 'birth'; choose one of index, planned_end."),
        ("retreatment", {"horizons": "365,90"}, "horizons '365,90' have to rise"),
        ("retreatment", {"horizons": "soon"}, "horizons"),
        ("recurrence", {"competing_within": "-3"}, "competing-within '-3' has to be a whole number from 0 to 3650"),
        ("fragment_event", {"growth_mm": "much"}, "growth-mm 'much' has to be a number from 0.1 to 50 mm"),
        ("fragment_event", {"event": "cure"}, "event cannot be 'cure'; choose one of stone_event, passage."),
    ],
)
def test_options_at_fault_are_named(what: str, typed: dict[str, str], said: str) -> None:
    with pytest.raises(MalformedOptionError) as fault:
        read_options(what, typed)
    assert said in str(fault.value)
    assert "\n" not in str(fault.value)


def test_several_thresholds(tmp_path: Path) -> None:
    with pytest.raises(MalformedOptionError, match=r"2 thresholds are named \(0, 2\)"):
        sections_of(worked(), tmp_path / "s", what="recurrence", options={"threshold": "0,2"})


@pytest.mark.parametrize(("kind", "head"), [("png", b"\x89PNG"), ("svg", b"<?xml")])
def test_the_figure_is_a_file_and_always_the_same(tmp_path: Path, kind: str, head: bytes) -> None:
    asked = asked_of(worked(WOMEN, MEN), tmp_path / "s")
    made = time_figure(asked, "retreatment", SEX, kind=kind)  # type: ignore[arg-type]
    assert made.startswith(head)
    assert made == time_figure(asked, "retreatment", SEX, kind=kind)  # type: ignore[arg-type]


def test_the_figure_tells_what_it_shows(tmp_path: Path) -> None:
    asked = asked_of(worked(WOMEN, MEN), tmp_path / "s")
    made = time_figure(asked, "retreatment", SEX, kind="svg").decode("utf-8")
    for said in ("Retreatment, cumulative incidence", "Aalen-Johansen", "female", "days from the index operation"):
        assert said in made


def test_groups_of_few_are_not_drawn_but_named_and_the_test_of_all_is_left_out(tmp_path: Path) -> None:
    whole = time_figure(asked_of(worked(WOMEN, MEN), tmp_path / "w"), "retreatment", SEX, kind="svg").decode("utf-8")
    part = time_figure(asked_of(worked(WOMEN, MEN[:3]), tmp_path / "p"), "retreatment", SEX, kind="svg").decode("utf-8")
    assert "Not drawn, too few: male (3)" in part
    assert ("test p" in whole, "test p" in part) == (True, False)


def test_no_figure_of_few(tmp_path: Path) -> None:
    asked = asked_of(worked(WOMEN[:3], MEN[:2]), tmp_path / "s")
    with pytest.raises(GravelbookError, match="has nothing to draw: no group by sex has 5 or more courses"):
        time_figure(asked, "retreatment", SEX)
