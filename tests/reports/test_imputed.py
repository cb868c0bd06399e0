"""Imputed rates as the command gives them: which classes are left possible, what is shown."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from analysis.outcomes.definition import Definition
from analysis.outcomes.size_classes import possible_classes, unit_parts
from analysis.reports.stone_free.render_json import as_json
from analysis.reports.stone_free.render_text import as_text
from synthetic_cohort.parameters import Parameters
from tests.spec.stone_free.case import Case, larger_than, mm

from .unscanned_cohort import asked

UNIT = Parameters(operators=3)


def possible(case: Case, **options: str) -> list[tuple[int, int, int, str]]:
    """Lowest, highest, highest shown, and by what it was seen, of each part."""
    made = possible_classes(unit_parts(case.tables(), Definition.from_options(**options)))
    return list(made[["lowest", "highest", "shown_highest", "seen"]].itertuples(index=False, name=None))


@pytest.mark.parametrize(
    ("study", "expected"),
    [
        (("ct",), (0, 0, 0, "adequate")),
        (("ct", mm(2)), (1, 1, 1, "adequate")),
        (("ct", mm(6)), (3, 3, 3, "adequate")),
        (("ct", mm(1, 3)), (1, 2, 2, "adequate")),
        (("ct", mm(None)), (1, 3, 3, "adequate")),
        (("ct", larger_than(2)), (2, 3, 3, "adequate")),
        (("ultrasound",), (0, 3, 0, "inadequate")),
        (("ultrasound", mm(3)), (2, 3, 2, "inadequate")),
        (("ultrasound", mm(6)), (3, 3, 3, "inadequate")),
    ],
)
def test_what_was_seen_leaves_its_own_classes_possible(study: tuple[Any, ...], expected: tuple[Any, ...]):
    case = Case()
    case.side()
    case.study(30, *study)
    assert possible(case) == [expected]


def test_thick_slices_rule_out_what_they_would_show():
    case = Case()
    case.side()
    case.study(30, "ct", slice_mm=3.5)
    assert possible(case) == [(0, 2, 0, "inadequate")]


def test_the_unscanned_may_be_anything_and_the_decided_are_decided():
    case = Case()
    for unit, conduct in ((1, None), (2, "abandoned"), (3, None)):
        case.side(unit=unit, patient=unit, conduct=conduct)
    case.side(40, stage=None, unit=3, patient=3)
    assert [row[:2] for row in possible(case)[:3]] == [(0, 3), (3, 3), (3, 3)]
    assert [row[3] for row in possible(case)] == ["none"] * 4


def test_an_indeterminate_reading_is_as_none():
    case = Case()
    case.side()
    case.study(30, finding="indeterminate")
    assert possible(case) == [(0, 3, 3, "none")]


@pytest.mark.parametrize("unit", ["side", "operation", "course", "patient"])
def test_rates_lie_within_the_bounds_and_rise_with_the_threshold(unit: str):
    rows = json.loads(as_json(asked(UNIT, unit=unit, unscanned="lower,upper,imputed", by="sex")))["rows"]
    cells = {(row["group"]["sex"], row["threshold_mm"], row["unscanned"]): row for row in rows}
    assert len(cells) == 2 * 3 * 3
    for (group, threshold, mode), row in cells.items():
        if mode != "imputed":
            continue
        assert row["n"] == row["eligible"]
        assert cells[group, threshold, "lower"]["rate"] <= row["rate"] <= cells[group, threshold, "upper"]["rate"]
        assert row["low"] < row["rate"] < row["high"]
        if threshold:
            assert row["rate"] >= cells[group, threshold - 2, "imputed"]["rate"]


def test_a_threshold_fares_the_same_alone_and_among_others():
    alone, among = (asked(UNIT, unscanned="imputed", threshold=codes).rows for codes in ("2", "0,2,4"))
    assert alone["rate"].tolist() == among[among["threshold"] == "2"]["rate"].tolist()
    assert alone["low"].tolist() == among[among["threshold"] == "2"]["low"].tolist()


def test_more_imputations_and_another_seed_are_used():
    first, again, other = (
        asked(UNIT, unscanned="imputed", threshold="2", **typed).rows["rate"].item()
        for typed in ({}, {"seed": "1"}, {"seed": "2"})
    )
    assert first == again != other
    assert asked(UNIT, unscanned="imputed", imputations="7").definition()["imputed"]["imputations"] == 7


def test_text_and_definition_name_the_model():
    answer = asked(UNIT, unscanned="imputed")
    text = " ".join(as_text(answer).split())
    for words in ("ordered logistic model on age, burden, year", "20 imputations (seed 1)", "Rubin's rules"):
        assert words in text
    told = answer.definition()["imputed"]
    assert told["classes"] == ["no fragment", "over 0 to 2 mm", "over 2 to 4 mm", "over 4 mm"]
    assert told["drawn"] > 0


def test_nothing_to_learn_from_is_said_and_no_number_is_given():
    answer = asked(UNIT, unscanned="imputed", imaging="us")
    assert answer.rows["rate"].isna().all()
    assert "nothing to learn from" in answer.rows["reason"].iloc[0]
    assert "nothing to learn from" in " ".join(as_text(answer).split())
    json.loads(as_json(answer))


def test_a_comparison_is_pooled():
    (one,) = asked(UNIT, unscanned="imputed", compare="sex=yes,no", threshold="2").comparisons
    assert (one.unscanned, list(one.effects)) == ("imputed", ["crude"])
    difference, ratio = one.effects["crude"]["difference"], one.effects["crude"]["ratio"]
    index, comparator = one.rates or (np.nan, np.nan)
    assert difference.estimate == pytest.approx(index - comparator)
    assert difference.low < difference.estimate < difference.high
    assert ratio.estimate == pytest.approx(index / comparator, abs=0.01)
    assert difference.low_bootstrap is None
