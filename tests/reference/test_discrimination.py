"""Areas under the curve against published values.

Aneurysmal subarachnoid haemorrhage, 113 patients: Turck N et al., Intensive Care Med 2010;36:107-115, as given with
Robin X et al., BMC Bioinformatics 2011;12:77 (who print 0.7314, 0.6301 to 0.8326 for S100 beta); full digits by R's
pROC 1.18.0. Method: DeLong ER et al., Biometrics 1988;44:837-845.

Percutaneous operations graded by the Guy's stone score: Vicentini FC et al., Urology 2014 (42, 44, 42 and 27 sides, of
which 40, 35, 25 and 11 free at once, derived from the printed percentages). Its area was worked out here pair by pair.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.estimators.discrimination import auc, auc_difference, auc_of_counts

DATA = Path(__file__).parent / "data" / "subarachnoid_haemorrhage.csv"
SIDES, FREE = np.array([42, 44, 42, 27]), np.array([40, 35, 25, 11])


def test_an_area_with_its_delong_interval() -> None:
    rows = pd.read_csv(DATA)
    found = auc(rows["poor"], rows["s100b"])
    assert (found.n, found.events, found.reason, found.warning) == (113, 41, None, None)
    got = (found.estimate, found.standard_error, found.low, found.high)
    assert got == pytest.approx((0.731368563685637, 0.0516592920699891, 0.630118211761623, 0.832618915609651), rel=1e-8)
    assert (found.low_logit, found.high_logit) == pytest.approx((0.619216938992709, 0.820085749913473), rel=1e-8)


def test_two_areas_of_the_same_patients() -> None:
    rows = pd.read_csv(DATA)
    found = auc_difference(rows["poor"], rows["s100b"], rows["ndka"])
    assert (found.first, found.second) == pytest.approx((0.731368563685637, 0.611957994579946), rel=1e-7)
    assert (found.z, found.p) == pytest.approx((1.39077002573558, 0.164295175223054), rel=1e-7)
    assert found.difference == pytest.approx(0.731368563685637 - 0.611957994579946, rel=1e-7)


def test_a_series_by_grade() -> None:
    failed = SIDES - FREE
    pairs = sum(int(f) * int(g) * (1.0 if a > b else 0.5 if a == b else 0.0)
                for a, f in enumerate(failed) for b, g in enumerate(FREE))  # fmt: skip
    found = auc_of_counts(failed, FREE)
    assert (found.n, found.events) == (155, 44)
    assert found.estimate == pytest.approx(pairs / (44 * 111), rel=1e-12)
    assert found.estimate == pytest.approx(0.7643, abs=5e-5)
    assert found.low is not None and found.high is not None and found.low < 0.7643 < found.high


def test_one_row_a_patient_resampled_is_near_delong() -> None:
    rows = pd.read_csv(DATA)
    found = auc(rows["poor"], rows["s100b"], cluster=np.arange(len(rows)), replicates=4000)
    assert found.clusters == 113
    # Simulation: the two intervals rest on the same spread, which 4,000 resamples give to about one in fifty.
    assert (found.low_clustered, found.high_clustered) == pytest.approx((found.low, found.high), abs=0.02)


def test_resamples_do_not_depend_on_order_or_labels() -> None:
    rows = pd.read_csv(DATA)
    cluster = np.arange(len(rows)) // 2
    order = np.random.default_rng(5).permutation(len(rows))
    first = auc(rows["poor"], rows["s100b"], cluster=cluster, replicates=200)
    mixed = rows.iloc[order]
    again = auc(mixed["poor"], mixed["s100b"], cluster=900 - cluster[order], replicates=200)
    assert (first.low_clustered, first.high_clustered) == (again.low_clustered, again.high_clustered)


def test_what_cannot_be_said_says_why() -> None:
    assert "nobody has the outcome" in str(auc([0, 0], [1, 2]).reason)
    assert "everybody has the outcome" in str(auc([1, 1], [1, 2]).reason)
    assert auc([], []).reason == "there is nobody"
    apart = auc([0, 0, 1, 1], [1, 2, 3, 4])
    assert (apart.estimate, apart.low, apart.high) == (1.0, None, None)
    assert "variance is 0" in str(apart.reason) and "only 2" in str(apart.warning)
    lone = auc([0, 1, 0], [1, 2, 3])
    assert (lone.estimate, lone.low) == (0.5, None)
    assert "fewer than two" in str(lone.reason)
    same = auc_difference([0, 1, 0, 1], [1, 2, 3, 4], [2, 4, 6, 8])
    assert (same.difference, same.p) == (0.0, None)
    assert "no variance" in str(same.reason)


@pytest.mark.parametrize(
    ("outcome", "score", "said"),
    [
        ([0, 1], [1], "equal length"),
        ([0, 2], [1, 2], "0 or 1"),
        ([0, 1], [1, float("nan")], "missing"),
    ],
)
def test_unsound_rows_are_refused(outcome: list[int], score: list[float], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        auc(outcome, score)
