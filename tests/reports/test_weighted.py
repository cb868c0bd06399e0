"""Weighted rates as the command gives them: who weighs one, what is shown, what is refused."""

from __future__ import annotations

import csv
import io
import json

import numpy as np
import pandas as pd
import pytest

from analysis.outcomes.definition import Definition
from analysis.outcomes.size_classes import unit_parts
from analysis.outcomes.status import stone_free_status
from analysis.reports.stone_free.cases import case_list
from analysis.reports.stone_free.packed import packed
from analysis.reports.stone_free.render_csv import as_csv
from analysis.reports.stone_free.render_json import ROW_NUMBERS, as_json
from analysis.reports.stone_free.render_text import as_text
from analysis.reports.stone_free.unscanned_covariates import covariates_of
from analysis.reports.stone_free.unscanned_units import how_known
from synthetic_cohort.parameters import Parameters
from tests.spec.stone_free.case import Case, mm

from .unscanned_cohort import asked, frames_of

UNIT = Parameters(operators=3)


def known_at(case: Case, code: str = "2", **options: str) -> dict[int, str]:
    """For each unit: fixed or observed, with free or failed, or unobserved."""
    definition = Definition.from_options(threshold=code, **options)
    tables = case.tables()
    units = packed(stone_free_status(tables, definition), definition.thresholds)
    how = how_known(units, unit_parts(tables, definition), code)
    words = np.where(how.fixed, "fixed ", np.where(how.observed, "observed ", "unobserved"))
    ends = np.where(how.fixed | how.observed, np.where(how.free, "free", "failed"), "")
    return dict(zip(units.unit_id.tolist(), np.char.add(words, ends).tolist(), strict=True))


def test_one_decided_without_a_study_is_fixed_whether_it_was_studied_or_not():
    case = Case()
    for unit, conduct in ((1, "abandoned"), (2, "abandoned"), (3, None), (4, None), (5, None)):
        case.side(unit=unit, patient=unit, conduct=conduct)
    case.study(30, "ct", mm(6), unit=2, patient=2)
    case.study(30, "ct", unit=3, patient=3)
    case.study(30, "ultrasound", mm(6), unit=4, patient=4)
    assert list(known_at(case).values()) == [
        "fixed failed",
        "fixed failed",
        "observed free",
        "unobserved",  # seen to have failed, but on a study that could not have cleared it
        "unobserved",
    ]


def test_an_operation_is_observed_when_both_sides_are():
    case = Case()
    for patient in (1, 2, 3):
        for unit in (2 * patient, 2 * patient + 1):
            conduct = "abandoned" if unit == 7 else None
            case.side(unit=unit, patient=patient, operation=patient, conduct=conduct)
    case.study(30, "ct", mm(6), unit=2)  # failed, and yet its other side was not scanned
    case.study(30, "ct", unit=4, patient=2)
    case.study(30, "ct", mm(6), unit=5, patient=2)
    assert known_at(case, unit="operation") == {1: "unobserved", 2: "observed failed", 3: "fixed failed"}


def test_rows_have_what_json_and_csv_promise():
    answer = asked(UNIT, unscanned="complete,weighted", threshold="0,lt2,4", by="technique")
    rows = json.loads(as_json(answer))["rows"]
    weighted = [row for row in rows if row["unscanned"] == "weighted"]
    assert len(weighted) == len(rows) / 2 > 0
    for row in weighted:
        assert set(ROW_NUMBERS) | {"n_effective", "reason"} <= set(row)
        assert row["n"] <= row["eligible"]
        assert (row["rate"] is None) == (row["n_effective"] is None)
        if row["rate"] is not None:
            assert row["n_effective"] <= row["n"] + 1e-9
            assert row["low_clustered"] == row["low"]
    assert all("n_effective" not in row for row in rows if row["unscanned"] == "complete")
    table = list(csv.DictReader(io.StringIO(as_csv(answer))))
    assert [row["n_effective"] != "" for row in table] == [row.get("n_effective") is not None for row in rows]


def test_text_and_definition_name_the_model():
    answer = asked(UNIT, unscanned="weighted")
    text = " ".join(as_text(answer).split())
    for words in ("effective n", "logistic regression on age, burden, year, sex, technique", "cut at", "40 resamples"):
        assert words in text
    told = answer.definition()["weighted"]
    assert told["covariates"] == ["age", "burden", "year", "sex", "technique", "stented before", "operator"]
    assert told["thresholds"]["0"]["adequately_studied"] < told["thresholds"]["0"]["modelled"]


def test_a_threshold_fares_the_same_alone_and_among_others():
    alone, among = (asked(UNIT, unscanned="weighted", threshold=codes).rows for codes in ("2", "0,2,4"))
    shown = ["rate", "low", "high", "n_effective"]
    pd.testing.assert_frame_equal(
        alone[shown].reset_index(drop=True), among[among["threshold"] == "2"][shown].reset_index(drop=True)
    )


def test_a_comparison_has_bootstrap_limits_alone():
    answer = asked(UNIT, unscanned="complete,weighted", compare="sex=yes,no", threshold="2,4")
    assert [(one.threshold.code, one.unscanned) for one in answer.comparisons] == [
        ("2", "complete"),
        ("2", "weighted"),
        ("4", "complete"),
        ("4", "weighted"),
    ]
    effect = answer.comparisons[1].effects["crude"]["difference"]
    index, comparator = answer.comparisons[1].rates or (None, None)
    assert effect.estimate == pytest.approx(index - comparator)
    assert (effect.low, effect.high) == (None, None)
    assert effect.low_bootstrap < effect.estimate < effect.high_bootstrap
    grouped = asked(UNIT, unscanned="weighted", by="sex", threshold="2").rows["rate"].tolist()
    assert sorted([index, comparator]) == pytest.approx(sorted(grouped))
    assert "weighted" in as_text(answer)


def test_the_list_of_cases_has_the_weights_behind_the_rate():
    answer = asked(UNIT, unscanned="weighted", by="sex", threshold="0,2")
    sides = frames_of(UNIT)["sides"].assign(study_number="P", site="LB", unit="left")
    cases = case_list(answer, sides)
    for row in answer.rows.to_dict("records"):
        own = cases[cases["group"] == answer.grouping.named()[row["group"]]]
        own = own[own["threshold_mm"] == row["threshold_mm"]]
        assert (own["weight"] > 0).sum() == row["n"]
        assert own["weight"].sum() == pytest.approx(row["eligible"])
        free = own["weight"].where(own["status"] == "free", 0.0).sum()
        assert free / own["weight"].sum() == pytest.approx(row["rate"])
    assert "weight" not in case_list(asked(UNIT, unscanned="complete"), sides).columns


def test_nobody_adequately_studied_has_no_rate_and_the_reason():
    answer = asked(UNIT, unscanned="weighted", imaging="us", threshold="2")
    (row,) = answer.rows.to_dict("records")
    assert np.isnan(row["rate"])
    assert "that could have been observed were" in row["reason"]
    assert "that could have been observed were" in " ".join(as_text(answer).split())


def test_covariates_say_what_is_missing_and_pool_what_is_rare():
    sides = pd.DataFrame(
        {
            "side_id": np.arange(60),
            "age_years": [np.nan] * 12 + [50.0] * 24 + [70.0] * 24,
            "cumulative_mm": [np.nan] * 5 + [10.0] * 55,
            "largest_mm": [8.0] * 60,
            "technique": ["a"] * 40 + ["b"] * 12 + ["c"] * 4 + ["d"] * 4,
            "operator": [None] * 15 + ["x"] * 45,
        }
    )
    made = covariates_of(np.arange(60), sides)
    assert made.names == ("age", "age not recorded", "burden", "technique=b", "operator=not recorded")
    by_name = dict(zip(made.names, made.matrix.T, strict=True))
    assert by_name["age"][0] == 60.0
    assert by_name["burden"][0] == 8.0
    assert by_name["technique=b"].sum() == 12
    assert by_name["operator=not recorded"].sum() == 15
