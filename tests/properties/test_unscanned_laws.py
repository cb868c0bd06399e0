"""Laws of weighted and imputed rates over invented cohorts of many kinds."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from synthetic_cohort.parameters import Parameters
from tests.reports.unscanned_cohort import asked, rates

LAW = settings(max_examples=5, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
units = st.builds(
    lambda scanned, ct, abandoned, bilateral: Parameters(
        operators=2,
        share_scanned=scanned,
        share_ct=ct,
        share_ultrasound=0.1,
        share_kub=0.05,
        share_pair=0.05,
        share_abandoned=abandoned,
        share_bilateral=bilateral,
    ),
    st.sampled_from([0.4, 0.8]),
    st.sampled_from([0.4, 0.75]),
    st.sampled_from([0.0, 0.1]),
    st.sampled_from([0.0, 0.3]),
)
seeds = st.integers(1, 10_000)
ALL_SEEN = {
    "share_scanned": 1.0,
    "missingness": "completely_random",
    "scan_day_log_sd": 0.0,
    "share_ct": 1.0,
    "share_ultrasound": 0.0,
    "share_kub": 0.0,
    "share_pair": 0.0,
    "share_slice_1": 1.0,
    "share_slice_2": 0.0,
    "share_slice_3": 0.0,
    "share_later_scan": 0.0,
    "share_indeterminate": 0.0,
    "share_died": 0.0,
}
"""Every operation has one adequate scan inside the window that can tell."""


@LAW
@given(units, seeds, st.sampled_from(["side", "operation", "course", "patient"]))
def test_bounds_contain_complete_case_and_imputed(parameters: Parameters, seed: int, unit: str):
    made = rates(asked(parameters, 200, seed, unit=unit, by="sex")).dropna(subset="imputed")
    assert len(made)
    for mode in ("complete", "imputed"):
        assert (made["lower"] <= made[mode] + 1e-12).all()
        assert (made[mode] <= made["upper"] + 1e-12).all()


@LAW
@given(units, seeds)
def test_imputed_never_falls_as_the_threshold_rises(parameters: Parameters, seed: int):
    made = rates(asked(parameters, 120, seed, by="technique"))["imputed"].unstack("threshold_mm").dropna()
    assert (made.diff(axis=1).iloc[:, 1:] >= -1e-12).all(axis=None)


@LAW
@given(seeds, st.sampled_from(["side", "operation", "course", "patient"]))
def test_with_everybody_adequately_scanned_all_handlings_agree(seed: int, unit: str):
    answer = asked(replace(Parameters(), **ALL_SEEN), 80, seed, unit=unit)
    assert (answer.rows["unknown"] == 0).all()
    made = rates(answer)
    for mode in ("weighted", "imputed", "lower", "upper"):
        pd.testing.assert_series_equal(made[mode], made["complete"], check_names=False, rtol=1e-12)


@LAW
@given(units, seeds)
def test_the_order_of_rows_never_matters_and_a_seed_gives_the_same_numbers(parameters: Parameters, seed: int):
    straight = asked(parameters, 200, seed).rows
    pd.testing.assert_frame_equal(straight, asked(parameters, 200, seed).rows)
    pd.testing.assert_frame_equal(straight, asked(parameters, 200, seed, shuffled=seed).rows, rtol=1e-9)
