"""Counts and rates of hand-made statuses, worked by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from analysis.estimators.proportions import proportion_interval
from analysis.outcomes.thresholds import parse_thresholds
from analysis.reports.request.grouping import everyone
from analysis.reports.stone_free.packed import packed
from analysis.reports.stone_free.rates import UNSCANNED as MODES
from analysis.reports.stone_free.rates import stone_free_rates

from .made import (
    ABANDONED,
    DIED,
    FAILED,
    FREE,
    NOT_DUE,
    OUT,
    PLANNED,
    SEEN_BADLY,
    UNPLANNED,
    UNSCANNED,
    statuses,
    unit,
)

COHORT = [
    unit(FREE, FREE, patient=1),
    unit(FAILED, FREE, patient=1),
    unit(FAILED, FAILED, modality="ultrasound", inadequate=True),
    unit(FAILED, SEEN_BADLY, modality="ultrasound", inadequate=True),
    unit(SEEN_BADLY, SEEN_BADLY, modality="kub"),
    unit(UNSCANNED, UNSCANNED),
    unit(PLANNED, PLANNED),
    unit(UNPLANNED, UNPLANNED),
    unit(ABANDONED, ABANDONED),
    unit(NOT_DUE, NOT_DUE),
    unit(DIED, DIED),
    unit(OUT, OUT),
]


def rates(units: list[dict[str, object]] = COHORT, **options: object) -> pd.DataFrame:
    made = packed(statuses(units))
    return stone_free_rates(made, everyone(made.units), **options)  # type: ignore[arg-type]


def row(threshold: str, mode: str = "complete", **options: object) -> pd.Series:
    rows = rates(unscanned=tuple(MODES), **options)
    return rows[(rows["threshold"] == threshold) & (rows["unscanned"] == mode)].iloc[0]


def test_eligible_is_known_and_unknown_and_leaves_out_the_dead_the_not_due_and_those_outside():
    for mode in MODES:
        for threshold in ("0", "2"):
            at = row(threshold, mode)
            assert (at["eligible"], at["not_due"], at["died"]) == (9, 1, 1)


def test_unknown_counts_a_study_that_settles_nothing_and_no_study_at_all():
    assert row("0")["unknown"] == 2
    assert row("2")["unknown"] == 3


def test_the_complete_case_divides_by_the_known():
    at = row("0")
    assert (at["stone_free"], at["n"]) == (1, 7)
    assert at["rate"] == pytest.approx(1 / 7)
    at = row("2")
    assert (at["stone_free"], at["n"]) == (2, 6)


def test_the_bounds_divide_by_the_eligible_and_count_the_unknown_as_failed_or_as_free():
    assert (row("0", "lower")["stone_free"], row("0", "lower")["n"]) == (1, 9)
    assert (row("0", "upper")["stone_free"], row("0", "upper")["n"]) == (3, 9)
    assert (row("2", "upper")["stone_free"], row("2", "upper")["n"]) == (5, 9)


def test_retreated_and_abandoned_are_counted_apart():
    at = row("0")
    assert (at["retreated_planned"], at["retreated_unplanned"], at["abandoned"]) == (1, 1, 1)


def test_retreated_are_counted_though_they_are_unknown_by_choice():
    (at,) = (
        rates([unit(("unknown", "retreated_planned"), ("unknown", "retreated_planned"))])
        .query("threshold == '0'")
        .to_dict("records")
    )
    assert (at["unknown"], at["n"], at["retreated_planned"]) == (1, 0, 1)


def test_the_dead_that_count_as_failed_are_in_n_and_not_under_died():
    (at,) = (
        rates([unit(("failed", "died"), ("failed", "died")), unit(FREE, FREE)])
        .query("threshold == '0'")
        .to_dict("records")
    )
    assert (at["died"], at["eligible"], at["n"], at["stone_free"]) == (0, 2, 2, 1)


def test_adequate_leaves_out_the_failures_known_only_from_inadequate_studies():
    at = row("0")
    assert (at["n_adequate"], at["failed_inadequate"]) == (5, 2)
    assert at["rate_adequate"] == pytest.approx(1 / 5)
    at = row("2")
    assert (at["n_adequate"], at["failed_inadequate"]) == (5, 1)
    assert at["rate_adequate"] == pytest.approx(2 / 5)


def test_patients_are_the_different_ones_in_n():
    assert row("0")["patients"] == 6
    assert row("0", "lower")["patients"] == 8


def test_modalities_count_the_eligible_by_their_picked_study():
    at = row("2")
    seen = {name.removeprefix("modality_"): at[name] for name in at.index if name.startswith("modality_") and at[name]}
    assert seen == {"ct": 2, "ultrasound": 2, "kub": 1, "none": 4}
    assert sum(seen.values()) == at["eligible"]


@pytest.mark.parametrize("method", ["wilson", "exact", "mid-p", "jeffreys"])
def test_limits_are_those_of_the_method_and_level_asked_for(method: str):
    at = row("2", interval=method, level=0.9)
    expected = proportion_interval(events=2, n=6, method=method, level=0.9)  # type: ignore[arg-type]
    assert (at["low"], at["high"]) == (pytest.approx(expected.low), pytest.approx(expected.high))
    adequate = proportion_interval(events=2, n=5, method=method, level=0.9)  # type: ignore[arg-type]
    assert (at["low_adequate"], at["high_adequate"]) == (pytest.approx(adequate.low), pytest.approx(adequate.high))


def test_one_unit_a_patient_gives_the_plain_interval_as_the_clustered_one():
    (at,) = rates([unit(FREE, FREE)] * 3 + [unit(FAILED, FREE)]).query("threshold == '0'").to_dict("records")
    assert (at["low_clustered"], at["high_clustered"]) == (pytest.approx(at["low"]), pytest.approx(at["high"]))


def test_both_sides_alike_in_every_patient_halve_the_effective_number():
    pairs = [unit(FREE, FREE, patient=number) for number in (1, 1, 2, 2, 3, 3)]
    pairs += [unit(FAILED, FAILED, patient=number) for number in (4, 4, 5, 5, 6, 6)]
    (at,) = rates(pairs).query("threshold == '0'").to_dict("records")
    # k = 6 of 2: V = 6/5 * 6 * (1/6)^2 * 1/4 = 0.05, plain 0.25/11, deff 2.2, n_eff 12/2.2
    expected = proportion_interval(events=6 / 2.2, n=12 / 2.2)
    assert (at["low_clustered"], at["high_clustered"]) == (pytest.approx(expected.low), pytest.approx(expected.high))


def test_nobody_gives_nulls_and_no_fault():
    at = rates([unit(NOT_DUE, NOT_DUE)]).iloc[0]
    assert at["n"] == 0
    assert np.isnan(at[["rate", "low", "high", "low_clustered", "rate_adequate", "low_adequate"]].astype(float)).all()


def test_an_unknown_way_with_the_unscanned_is_refused_by_name():
    with pytest.raises(ValueError, match=r"'guess'.*complete, lower, upper"):
        rates(unscanned=("guess",))


def test_the_order_of_rows_does_not_matter():
    frame = statuses(COHORT)
    mixed = frame.sample(frac=1, random_state=3)
    asked = parse_thresholds("0,2")
    straight, shuffled = (stone_free_rates(packed(one, asked), everyone(len(COHORT))) for one in (frame, mixed))
    pd.testing.assert_frame_equal(straight, shuffled)


def test_a_unit_without_one_of_the_thresholds_is_refused():
    frame = statuses(COHORT)
    with pytest.raises(ValueError, match="one row for each of its 2 thresholds"):
        packed(frame.drop(index=3))


def test_a_word_that_is_no_status_is_refused():
    with pytest.raises(ValueError, match="status holds cured"):
        packed(statuses([unit(("cured", "study_free"), FREE)]))
