"""The clustered interval against R and against arithmetic on clusters a reader can see."""

import numpy as np
import pytest

from analysis.estimators.clustered import clustered_interval, clustered_intervals
from analysis.estimators.proportions import proportion_interval, wilson_limits

# Respiratory trial: Davis CS, Stat Med 1991;10:1959-1980, data of the R package geepack. 111 patients with 4 visits
# each; how many of them had 0, 1, 2, 3, 4 good visits.
PATIENTS_BY_GOOD_VISITS = {0: 26, 1: 16, 2: 12, 3: 20, 4: 37}
GOOD = np.repeat(list(PATIENTS_BY_GOOD_VISITS), list(PATIENTS_BY_GOOD_VISITS.values()))


def test_respiratory_between_patient_variance_equals_r():
    got = clustered_interval(events_per_cluster=GOOD, n_per_cluster=np.full(len(GOOD), 4))
    p = 248 / 444
    assert p == pytest.approx(0.558558558558559, rel=1e-12)  # computed with R 4.2.2
    assert got.clusters == 111
    # se_cluster of the ratio estimator, computed with R 4.2.2; deff is its square over p(1-p)/(n-1)
    assert (got.design_effect * p * (1 - p) / 443) ** 0.5 == pytest.approx(0.0379872056668972, rel=1e-9)
    assert got.n_effective == pytest.approx(444 / got.design_effect)
    plain = proportion_interval(events=p * got.n_effective, n=got.n_effective)
    assert (got.low, got.high) == pytest.approx((plain.low, plain.high), rel=1e-12)


def test_three_patients_by_hand():
    # sides: (1 of 2), (2 of 2), (0 of 1); n = 5, p = 0.6
    # V = 3/2 [ (2/5)^2 (0.5-0.6)^2 + (2/5)^2 (1-0.6)^2 + (1/5)^2 (0-0.6)^2 ], plain variance 0.6 x 0.4 / 4
    v = 3 / 2 * (0.16 * 0.01 + 0.16 * 0.16 + 0.04 * 0.36)
    got = clustered_interval(events_per_cluster=[1, 2, 0], n_per_cluster=[2, 2, 1])
    assert got.design_effect == pytest.approx(v / 0.06, rel=1e-12)
    assert v / 0.06 == pytest.approx(1.04)


def test_a_design_effect_below_one_is_not_used():
    # every patient has one good and one bad side: no variance between patients
    got = clustered_interval(events_per_cluster=[1, 1, 1], n_per_cluster=[2, 2, 2])
    plain = proportion_interval(events=3, n=6)
    assert (got.design_effect, got.low, got.high) == (1.0, plain.low, plain.high)


@pytest.mark.parametrize("good", [0, 2])
def test_without_variation_the_patients_are_counted(good):
    got = clustered_interval(events_per_cluster=[good] * 5, n_per_cluster=[2] * 5)
    plain = proportion_interval(events=good // 2 * 5, n=5)
    assert (got.n_effective, got.low, got.high) == (5.0, plain.low, plain.high)


@pytest.mark.parametrize(("events", "n"), [([], []), ([1], [2]), ([1, 0], [2, 0])])
def test_fewer_than_two_patients_give_nulls(events, n):
    got = clustered_interval(events_per_cluster=events, n_per_cluster=n)
    assert (got.low, got.high, got.design_effect, got.n_effective) == (None, None, None, None)
    assert got.clusters == sum(size > 0 for size in n)


def test_many_groups_give_what_each_gives_alone():
    # patient 7 has sides in groups 0 and 1; group 2 is empty; group 3 is one patient
    group = np.array([0, 0, 0, 0, 1, 1, 1, 3, 3])
    patient = np.array([5, 5, 7, 9, 7, 2, 2, 4, 4])
    good = np.array([1, 1, 0, 1, 1, 0, 1, 1, 0])
    got = clustered_intervals(outcome=good, group=group, cluster=patient, groups=4)
    first = clustered_interval(events_per_cluster=[2, 0, 1], n_per_cluster=[2, 1, 1])
    second = clustered_interval(events_per_cluster=[1, 1], n_per_cluster=[2, 1])
    assert (got.low[0], got.high[0]) == (first.low, first.high)
    assert (got.low[1], got.high[1]) == (second.low, second.high)
    assert got.clusters.tolist() == [3, 2, 0, 1]
    assert got.events.tolist() == [3, 2, 0, 1]
    assert got.n.tolist() == [4, 3, 0, 2]
    assert np.isnan(got.low[2:]).all() and np.isnan(got.high[2:]).all() and np.isnan(got.n_effective[2:]).all()


def test_huge_patient_codes_do_not_run_into_each_other():
    group = np.array([0, 0, 1, 1])
    patient = np.array([2**62, 1, 2**62, 1])
    got = clustered_intervals(outcome=np.array([1, 0, 1, 1]), group=group, cluster=patient, groups=2)
    plain = wilson_limits(events=[1, 2], n=[2, 2])
    assert got.clusters.tolist() == [2, 2]
    assert got.low.tolist() == plain.low.tolist()


def test_no_rows_at_all():
    got = clustered_intervals(outcome=[], group=[], cluster=[], groups=2)
    assert got.n.tolist() == [0, 0]
    assert np.isnan(got.low).all()


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"outcome": [0, 2]}, "0 or 1 a row"),
        ({"outcome": [0, float("nan")]}, "0 or 1 a row"),
        ({"group": [0, -1]}, "group must be one whole number"),
        ({"group": [0, 2]}, "but 2 groups have codes 0 to 1"),
        ({"cluster": [0.0, 1.0]}, "cluster must be one whole number"),
        ({"cluster": [0, 1, 2]}, "one entry a row"),
        ({"level": 1.0}, "between 0 and 1"),
    ],
)
def test_impossible_rows_are_refused_in_words(change, sentence):
    right = {"outcome": [0, 1], "group": [0, 1], "cluster": [0, 1], "groups": 2}
    with pytest.raises(ValueError, match=sentence):
        clustered_intervals(**(right | change))


@pytest.mark.parametrize(
    ("events", "n", "sentence"),
    [([1, 2], [1], "equal length"), ([3], [2], "of a cluster is 3"), ([0.5], [1], "whole numbers")],
)
def test_impossible_clusters_are_refused_in_words(events, n, sentence):
    with pytest.raises(ValueError, match=sentence):
        clustered_interval(events_per_cluster=events, n_per_cluster=n)
