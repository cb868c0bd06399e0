"""Comparisons among those known from adequate studies, beside the effects of all known; and who weighs one."""

from __future__ import annotations

import json

import pytest

from analysis.estimators.two_groups import two_group_effects
from analysis.reports.stone_free.answer import Answer
from analysis.reports.stone_free.cases import case_list
from analysis.reports.stone_free.modelled import MODELLED
from analysis.reports.stone_free.render_json import as_json
from analysis.reports.stone_free.render_text import as_text
from synthetic_cohort.parameters import Parameters

from .made import FAILED, FREE, UNSCANNED, answer, sides_of, statuses, unit
from .unscanned_cohort import asked, frames_of

WEAK = {"inadequate": True, "modality": "ultrasound"}


def compared(**typed: str) -> Answer:
    """Group a: 6 free, 2 failed, 4 failed on ultrasound alone. Group b: 8 free, 4 failed, 1 on ultrasound alone."""
    a = [unit(FREE)] * 6 + [unit(FAILED)] * 2 + [unit(FAILED, **WEAK)] * 4 + [unit(UNSCANNED)]
    b = [unit(FREE)] * 8 + [unit(FAILED)] * 4 + [unit(FAILED, **WEAK)]
    frame = statuses([*a, *b], codes=("2",))
    sides = sides_of(frame, arm=["a"] * len(a) + ["b"] * len(b))
    return answer(frame, sides, compare="arm=a,b", **typed)


def flat(made: Answer) -> str:
    return " ".join(as_text(made).split())


def test_text_gives_both_groups_among_the_adequate_with_the_plain_difference():
    text = flat(compared())
    assert "a 6 of 12 50.0 %" in text and "b 8 of 13 61.5 %" in text
    assert "Among the adequate: a 6 of 8 (75.0 %), b 8 of 12 (66.7 %); difference +8.3 points" in text
    assert "The effects above are of all known, among them 5 that failed on an inadequate study alone" in text


def test_the_difference_is_that_of_the_two_group_estimator():
    kept = compared().comparisons[0].adequate
    assert kept is not None
    expected = two_group_effects(events_index=6, n_index=8, events_comparator=8, n_comparator=12).difference
    assert kept.difference == expected
    assert (kept.free_index, kept.n_index, kept.free_comparator, kept.n_comparator, kept.left_out) == (6, 8, 8, 12, 5)


def test_json_has_the_adequate_beside_the_two_groups():
    groups = json.loads(as_json(compared()))["comparisons"][0]["groups"]
    assert list(groups) == ["index", "comparator", "adequate"]
    assert groups["index"]["n"] == 12
    told = groups["adequate"]
    assert told["index"] == {"stone_free": 6, "n": 8, "rate": 0.75}
    assert told["comparator"] == {"stone_free": 8, "n": 12, "rate": 8 / 12}
    assert told["failed_inadequate"] == 5
    assert told["difference"]["estimate"] == pytest.approx(0.75 - 8 / 12)
    assert told["difference"]["low"] < 0 < told["difference"]["high"]


def test_bounds_have_no_adequate_and_say_nothing_of_it():
    made = compared(unscanned="lower")
    assert json.loads(as_json(made))["comparisons"][0]["groups"]["adequate"] is None
    assert "Among the adequate" not in flat(made)


def test_nothing_is_said_where_no_failure_hangs_on_an_inadequate_study():
    frame = statuses([unit(FREE), unit(FAILED)] * 10, codes=("2",))
    made = answer(frame, sides_of(frame, arm=["a"] * 10 + ["b"] * 10), compare="arm=a,b")
    assert "Among the adequate" not in flat(made)


def test_a_rate_from_few_adequate_is_withheld_with_its_difference():
    units = [unit(FREE)] * 3 + [unit(FAILED, **WEAK)] * 4 + [unit(FREE), unit(FAILED)] * 4
    frame = statuses(units, codes=("2",))
    made = answer(frame, sides_of(frame, arm=["a"] * 7 + ["b"] * 8), compare="arm=a,b")
    text = flat(made)
    assert "Among the adequate: a 3 of 3 (n < 5), b 4 of 8 (50.0 %); no difference from so few." in text


def test_weighted_says_who_weighs_one_so_that_its_n_is_told_from_the_adequate():
    made = asked(Parameters(operators=3), unscanned="complete,weighted", threshold="2")
    rows = made.rows.set_index("unscanned")
    n, adequate = int(rows.loc["weighted", "n"]), int(rows.loc["complete", "n_adequate"])
    cases = case_list(
        made, frames_of(Parameters(operators=3))["sides"].assign(study_number="P", site="LB", unit="left")
    )
    counted = cases[cases["weight"] > 0]
    assert len(counted) == n > adequate
    # The difference is those who failed on an inadequate study and would have without it: they weigh one.
    between = counted[counted["failed_inadequate"]]
    assert n - adequate == len(between)
    assert (between["weight"] == between["weight"].min()).all()
    words = MODELLED["weighted"]
    assert "each weighing 1 even when it was studied" in words
    assert "n of 'adequate' leaves out those of the latter who failed on an inadequate study" in words
    assert "each weighing 1 even when it was studied" in flat(made)
