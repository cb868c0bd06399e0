"""The mean with limits from resampling patients, against scipy's bootstrap and by its own laws."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.estimators.clustered_mean import clustered_mean

VALUES = np.array([0.0, 0, 0, 8.7, 20.9, 20.9, 26.2, 0, 33.7, 0, 0, 42.4])


def test_one_row_a_cluster_is_the_ordinary_percentile_bootstrap_of_the_mean():
    # scipy.stats.bootstrap draws its own resamples, so the limits agree up to the noise of 20,000 of them.
    from scipy.stats import bootstrap

    made = clustered_mean(VALUES, np.arange(len(VALUES)), replicates=20_000)
    theirs = bootstrap((VALUES,), np.mean, n_resamples=20_000, method="percentile", random_state=7).confidence_interval
    assert made.estimate == pytest.approx(VALUES.mean())
    assert (made.low, made.high) == pytest.approx((theirs.low, theirs.high), abs=0.25)


def test_whole_clusters_are_drawn():
    # Each value twice, as two operations of one patient: twice the rows tell no more.
    once = clustered_mean(VALUES, np.arange(len(VALUES)))
    twice = clustered_mean(np.repeat(VALUES, 2), np.repeat(np.arange(len(VALUES)), 2))
    assert (twice.low, twice.high, twice.n, twice.clusters) == (once.low, once.high, 24, 12)


def test_neither_the_order_of_rows_nor_the_names_of_clusters_matter():
    order = np.random.default_rng(3).permutation(len(VALUES))
    names = np.array([f"P{at}" for at in range(len(VALUES))])
    one, other = clustered_mean(VALUES, names), clustered_mean(VALUES[order], order)
    assert (one.low, one.high) == (other.low, other.high)


@pytest.mark.parametrize(
    ("values", "cluster", "estimate", "reason"),
    [
        ([], [], None, "nobody is in the group"),
        ([5.0, 3.0], [1, 1], 4.0, "fewer than two clusters"),
        ([0.0, 0.0, 0.0], [1, 2, 3], 0.0, "every resample gives the same value"),
    ],
)
def test_no_limits_where_there_are_none(values: list[float], cluster: list[int], estimate: float, reason: str):
    made = clustered_mean(values, cluster)
    assert (made.estimate, made.low, made.high, made.reason) == (estimate, None, None, reason)


@pytest.mark.parametrize(
    ("values", "cluster", "more"),
    [([1.0, np.nan], [1, 2], {}), ([1.0], [1, 2], {}), ([1.0, 2.0], [1, 2], {"replicates": 0}),
     ([1.0, 2.0], [1, 2], {"level": 95})],
)  # fmt: skip
def test_what_cannot_be_is_refused(values: list[float], cluster: list[int], more: dict[str, float]):
    with pytest.raises(ValueError, match=r"."):
        clustered_mean(values, cluster, **more)  # type: ignore[arg-type]
