"""Laws that intervals must keep on any counts, and of the bootstrap on any rows."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from analysis.estimators.bootstrap import bootstrap_effects
from analysis.estimators.clustered import clustered_interval, clustered_intervals
from analysis.estimators.proportions import proportion_interval, wilson_limits
from analysis.estimators.strata import homogeneity_of_odds_ratios, mantel_haenszel, standardised
from analysis.estimators.two_groups import two_group_effects

law = settings(deadline=None, max_examples=60)
methods = st.sampled_from(["wilson", "exact", "mid-p", "jeffreys"])
levels = st.sampled_from([0.8, 0.9, 0.95, 0.99, 0.999])
counts = st.integers(1, 3000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
small = st.integers(0, 12).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
tables = st.lists(st.tuples(small, small), min_size=1, max_size=5)
rows = st.lists(
    st.tuples(st.integers(0, 1), st.integers(0, 1), st.integers(0, 6), st.integers(0, 2)), min_size=4, max_size=40
)
ROUNDING = 1e-12
MEASURES = ("difference", "ratio", "odds_ratio")


def lists(strata):
    return {
        "events_index": [index[0] for index, _ in strata],
        "n_index": [index[1] for index, _ in strata],
        "events_comparator": [comparator[0] for _, comparator in strata],
        "n_comparator": [comparator[1] for _, comparator in strata],
    }


def turned(given_lists):
    return {
        "events_index": given_lists["events_comparator"],
        "n_index": given_lists["n_comparator"],
        "events_comparator": given_lists["events_index"],
        "n_comparator": given_lists["n_index"],
    }


@law
@given(counts, methods, levels)
def test_limits_lie_in_0_to_1_and_contain_the_estimate(xn, method, level):
    x, n = xn
    got = proportion_interval(events=x, n=n, method=method, level=level)
    assert 0 <= got.low <= x / n + ROUNDING
    assert x / n - ROUNDING <= got.high <= 1
    assert got.low < got.high


@law
@given(counts, methods, levels)
def test_the_complement_has_the_mirrored_interval(xn, method, level):
    x, n = xn
    got = proportion_interval(events=x, n=n, method=method, level=level)
    other = proportion_interval(events=n - x, n=n, method=method, level=level)
    assert (other.low, other.high) == pytest.approx((1 - got.high, 1 - got.low), rel=1e-9, abs=1e-12)


@law
@given(counts, methods, levels)
def test_one_more_event_moves_both_limits_up(xn, method, level):
    x, n = xn
    assume(x < n)
    fewer = proportion_interval(events=x, n=n, method=method, level=level)
    more = proportion_interval(events=x + 1, n=n, method=method, level=level)
    assert fewer.low < more.low
    assert fewer.high < more.high


@law
@given(counts, methods)
def test_a_higher_level_contains_a_lower_one(xn, method):
    inner = proportion_interval(events=xn[0], n=xn[1], method=method, level=0.9)
    outer = proportion_interval(events=xn[0], n=xn[1], method=method, level=0.99)
    assert outer.low <= inner.low
    assert inner.high <= outer.high


@law
@given(counts, levels)
def test_exact_contains_mid_p(xn, level):
    exact = proportion_interval(events=xn[0], n=xn[1], method="exact", level=level)
    mid_p = proportion_interval(events=xn[0], n=xn[1], method="mid-p", level=level)
    assert exact.low <= mid_p.low + ROUNDING
    assert mid_p.high <= exact.high + ROUNDING


@law
@given(st.lists(counts, min_size=1, max_size=20), levels)
def test_arrays_give_what_each_pair_gives_alone(pairs, level):
    many = wilson_limits(events=[x for x, _ in pairs], n=[n for _, n in pairs], level=level)
    for k, (x, n) in enumerate(pairs):
        alone = proportion_interval(events=x, n=n, level=level)
        assert (many.low[k], many.high[k]) == (alone.low, alone.high)


@law
@given(counts, levels)
def test_wilson_limits_are_where_the_score_test_turns(xn, level):
    x, n = xn
    assume(0 < x < n)
    got = proportion_interval(events=x, n=n, level=level)
    other = proportion_interval(events=x, n=n, level=0.5 + level / 2)
    for p in (got.low, got.high):
        z = (x / n - p) / (p * (1 - p) / n) ** 0.5
        assert 2 * _upper_tail(abs(z)) == pytest.approx(1 - level, rel=1e-6)
    assert other.high - other.low > got.high - got.low


def _upper_tail(z):
    from scipy.stats import norm

    return float(norm.sf(z))


@law
@given(st.lists(st.integers(0, 1), min_size=2, max_size=60), levels)
def test_one_side_a_patient_gives_exactly_the_plain_interval(outcomes, level):
    plain = proportion_interval(events=sum(outcomes), n=len(outcomes), level=level)
    got = clustered_interval(events_per_cluster=outcomes, n_per_cluster=[1] * len(outcomes), level=level)
    assert (got.low, got.high, got.design_effect) == (plain.low, plain.high, 1.0)


@law
@given(st.lists(st.integers(1, 9), min_size=2, max_size=60), st.booleans())
def test_without_variation_the_effective_size_is_exactly_the_number_of_patients(sizes, good):
    got = clustered_interval(events_per_cluster=[good * m for m in sizes], n_per_cluster=sizes)
    plain = proportion_interval(events=good * len(sizes), n=len(sizes))
    assert (got.n_effective, got.low, got.high) == (len(sizes), plain.low, plain.high)


@law
@given(st.lists(small, min_size=2, max_size=20).filter(lambda cs: sum(n > 0 for _, n in cs) >= 2))
def test_clustered_contains_plain_and_stays_inside(clusters):
    events, n = sum(x for x, _ in clusters), sum(size for _, size in clusters)
    got = clustered_interval(events_per_cluster=[x for x, _ in clusters], n_per_cluster=[m for _, m in clusters])
    plain = proportion_interval(events=events, n=n)
    assert got.design_effect >= 1
    assert 0 <= got.low <= plain.low + ROUNDING
    assert plain.high - ROUNDING <= got.high <= 1


@law
@given(rows, st.randoms(use_true_random=False))
def test_clustered_does_not_depend_on_order_or_codes(data, random):
    shuffled = random.sample(data, len(data))
    first = _clustered_of(data)
    second = _clustered_of(shuffled, shift=11)
    np.testing.assert_allclose(first.low, second.low, rtol=1e-12)
    np.testing.assert_allclose(first.high, second.high, rtol=1e-12)
    assert first.clusters.tolist() == second.clusters.tolist()


def _clustered_of(data, shift=0):
    outcome, group, patient, _ = (np.array(column) for column in zip(*data, strict=True))
    return clustered_intervals(outcome=outcome, group=group, cluster=shift - patient + 7, groups=2)


@law
@given(small, small, levels)
def test_two_groups_contain_the_estimate_and_turn_over(index, comparator, level):
    given_counts = {name: values[0] for name, values in lists([(index, comparator)]).items()}
    got = two_group_effects(**given_counts, level=level)
    other = two_group_effects(**turned(given_counts), level=level)
    for measure in MEASURES:
        effect, back = getattr(got, measure), getattr(other, measure)
        assert (effect.low is None) == (effect.high is None) == (effect.reason is not None)
        assert effect.low is None or effect.low <= effect.estimate + ROUNDING
        assert effect.high is None or effect.estimate - ROUNDING <= effect.high
        if effect.low is None or back.low is None:
            continue
        if measure == "difference":
            assert -1 <= effect.low <= effect.high <= 1
            assert (back.low, back.high) == pytest.approx((-effect.high, -effect.low), abs=1e-12)
        else:
            assert (back.low, back.high) == pytest.approx((1 / effect.high, 1 / effect.low))


@law
@given(small, small)
def test_one_stratum_gives_the_crude_effects(index, comparator):
    strata = lists([(index, comparator)])
    crude = two_group_effects(**{name: values[0] for name, values in strata.items()})
    for pooled in (mantel_haenszel(**strata), standardised(**strata)):
        for measure in MEASURES:
            ours, theirs = getattr(pooled, measure), getattr(crude, measure)
            assert (ours.estimate is None) == (theirs.estimate is None)
            if theirs.estimate is not None:
                assert ours.estimate == pytest.approx(theirs.estimate, abs=1e-12)
            if measure != "difference":  # the logs have the same variance; Newcombe's difference is another method
                assert (ours.low is None) == (theirs.low is None)
            if measure != "difference" and theirs.low is not None:
                assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high))


@law
@given(tables)
def test_strata_contain_the_estimate_and_turn_over(strata):
    forward, backward = lists(strata), turned(lists(strata))
    for pool in (mantel_haenszel, standardised):
        got, other = pool(**forward), pool(**backward)
        assert sorted((*got.strata_used, *got.strata_left_out)) == list(range(len(strata)))
        for measure in MEASURES:
            effect, back = getattr(got, measure), getattr(other, measure)
            assert (effect.low is None) == (effect.high is None) == (effect.reason is not None)
            if effect.low is None:
                continue
            assert effect.low - ROUNDING <= effect.estimate <= effect.high + ROUNDING
            expected = (-effect.high, -effect.low) if measure == "difference" else (1 / effect.high, 1 / effect.low)
            assert (back.low, back.high) == pytest.approx(expected, rel=1e-6, abs=1e-9)


@law
@given(tables, st.randoms(use_true_random=False))
def test_the_order_of_strata_does_not_matter(strata, random):
    first, second = lists(strata), lists(random.sample(strata, len(strata)))
    for pool in (mantel_haenszel, standardised):
        for measure in MEASURES:
            one, two = getattr(pool(**first), measure), getattr(pool(**second), measure)
            assert one.reason == two.reason
            for ours, theirs in ((one.estimate, two.estimate), (one.low, two.low), (one.high, two.high)):
                assert ours == theirs if theirs is None else ours == pytest.approx(theirs, rel=1e-6, abs=1e-9)
    one, two = homogeneity_of_odds_ratios(**first), homogeneity_of_odds_ratios(**second)
    assert (one.df, one.reason) == (two.df, two.reason)
    if one.statistic is not None:
        assert (one.statistic, one.p) == pytest.approx((two.statistic, two.p), rel=1e-6, abs=1e-9)


@law
@given(tables)
def test_homogeneity_keeps_its_range_and_tarone_lowers_it(strata):
    plain, corrected = (homogeneity_of_odds_ratios(**lists(strata), tarone=tarone) for tarone in (False, True))
    assert (plain.statistic is None) == (corrected.statistic is None)
    if plain.statistic is not None:
        assert 0 <= corrected.statistic <= plain.statistic
        assert 0 <= plain.p <= corrected.p <= 1


@law
@given(tables, st.integers(2, 5))
def test_homogeneity_of_equal_strata_is_nil(strata, times):
    got = homogeneity_of_odds_ratios(**lists([strata[0]] * times))
    if got.statistic is not None:
        assert got.statistic == pytest.approx(0, abs=1e-9)
        assert got.df == times - 1


def boot(data, shift=0, **options):
    outcome, index, patient, stratum = (np.array(column) for column in zip(*data, strict=True))
    return bootstrap_effects(
        outcome=outcome, index=index, cluster=shift - patient + 7, stratum=stratum, replicates=50, **options
    )


def all_intervals(result):
    ways = (result.crude, result.mantel_haenszel, result.standardised)
    return [getattr(way, measure) for way in ways for measure in MEASURES]


@settings(deadline=None, max_examples=30)
@given(rows, st.integers(0, 2**32), st.randoms(use_true_random=False))
def test_bootstrap_with_one_seed_gives_one_answer_in_any_order(data, seed, random):
    first = boot(data, seed=seed)
    assert first == boot(data, seed=seed)
    assert first == boot(random.sample(data, len(data)), shift=100, seed=seed)


@settings(deadline=None, max_examples=30)
@given(rows)
def test_bootstrap_limits_are_ordered_or_explained(data):
    for interval in all_intervals(boot(data, seed=1)):
        assert 0 <= interval.not_estimable <= interval.replicates == 50
        if interval.reason is None:
            assert interval.low <= interval.high
            assert interval.low >= (-1 if interval.measure == "difference" else 0)
        else:
            assert None in (interval.low, interval.high)


def test_bootstrap_of_two_patients_is_known_exactly():
    # Two patients, each with sides in both groups and strata: a resample is twice the first, twice the second, or
    # both, with chances 1/4, 1/4, 1/2, so the 2.5% and 97.5% points are the effects of one patient doubled.
    first = [((3, 4), (2, 5)), ((1, 4), (1, 6))]
    second = [((2, 5), (1, 7)), ((3, 4), (2, 3))]
    data = []
    for patient, strata in enumerate((first, second)):
        for stratum, groups in enumerate(strata):
            for is_index, (x, n) in zip((1, 0), groups, strict=True):
                data += [(int(k < x), is_index, patient, stratum) for k in range(n)]
    outcome, index, patient, stratum = (np.array(column) for column in zip(*data, strict=True))
    result = bootstrap_effects(outcome=outcome, index=index, cluster=patient, stratum=stratum, seed=3)

    both = [
        tuple((one[k] + two[k]) for k in (0, 1))
        for pair, other in zip(first, second, strict=True)
        for one, two in zip(pair, other, strict=True)
    ]
    together = [(both[0], both[1]), (both[2], both[3])]
    outcomes = [[(tuple(2 * v for v in i), tuple(2 * v for v in c)) for i, c in s] for s in (first, second)]
    for measure in MEASURES:
        for way, pool in (("mantel_haenszel", mantel_haenszel), ("standardised", standardised)):
            values = [getattr(pool(**lists(s)), measure).estimate for s in (*outcomes, together)]
            got = getattr(getattr(result, way), measure)
            assert (got.low, got.high) == pytest.approx((min(values), max(values)), rel=1e-9)
        sums = [{name: sum(v) for name, v in lists(s).items()} for s in (*outcomes, together)]
        values = [getattr(two_group_effects(**s), measure).estimate for s in sums]
        got = getattr(result.crude, measure)
        assert (got.low, got.high) == pytest.approx((min(values), max(values)), rel=1e-9)
    assert (result.clusters, result.replicates, result.seed) == (2, 2000, 3)


def test_bootstrap_agrees_with_the_formula_where_it_is_right():
    # one side a patient, large groups: percentile limits of the difference lie near Newcombe's (Monte Carlo error of a
    # limit from 2000 resamples is about 0.0014 here; four of them allowed)
    outcome = np.repeat([1, 0, 1, 0], [280, 120, 220, 180])
    index = np.repeat([1, 0], [400, 400])
    got = bootstrap_effects(outcome=outcome, index=index, cluster=np.arange(800), seed=1)
    formula = two_group_effects(events_index=280, n_index=400, events_comparator=220, n_comparator=400)
    assert got.crude.difference.low == pytest.approx(formula.difference.low, abs=0.006)
    assert got.crude.difference.high == pytest.approx(formula.difference.high, abs=0.006)
    assert got.crude.ratio.not_estimable == 0


def test_bootstrap_is_wider_when_the_sides_of_a_patient_agree():
    # 200 patients with two sides that always agree: the width grows by about the square root of 2
    outcome = np.repeat(np.repeat([1, 0, 1, 0], [70, 30, 50, 50]), 2)
    index = np.repeat(np.repeat([1, 0], [100, 100]), 2)
    by_patient = bootstrap_effects(outcome=outcome, index=index, cluster=np.repeat(np.arange(200), 2), seed=1)
    by_side = bootstrap_effects(outcome=outcome, index=index, cluster=np.arange(400), seed=1)
    wide = by_patient.crude.difference.high - by_patient.crude.difference.low
    narrow = by_side.crude.difference.high - by_side.crude.difference.low
    assert wide / narrow == pytest.approx(2**0.5, abs=0.12)


def test_bootstrap_counts_resamples_without_a_value():
    # the comparator's only event sits in one of 6 patients: (5/6)^6 = 33% of resamples miss it, ratio over 0
    outcome = np.array([1, 0, 1, 1, 0, 0])
    index = np.array([1, 1, 1, 0, 0, 0])
    got = bootstrap_effects(outcome=outcome, index=index, cluster=np.arange(6), seed=1)
    assert got.crude.ratio.not_estimable / 2000 == pytest.approx((5 / 6) ** 6, abs=0.05)
    assert got.crude.ratio.high is None
    assert "infinite" in got.crude.ratio.reason
    assert got.crude.ratio.low is not None


@pytest.mark.parametrize(
    ("outcome", "index", "cluster", "words"),
    [
        ([1, 0], [1, 0], [5, 5], "fewer than two clusters"),
        ([], [], [], "fewer than two clusters"),
        ([1, 0, 1], [1, 1, 1], [1, 2, 3], "no resample has a finite value"),
        ([1, 0, 1, 0], [1, 1, 0, 0], [1, 1, 1, 1], "fewer than two clusters"),
        ([1, 0, 1, 1, 1, 0, 1, 1], [1, 1, 0, 0, 1, 1, 0, 0], [1, 1, 1, 1, 2, 2, 2, 2], "the same value"),
    ],
)
def test_bootstrap_without_limits_says_why(outcome, index, cluster, words):
    got = bootstrap_effects(outcome=outcome, index=index, cluster=cluster, seed=1, replicates=40)
    for effects in (got.crude, got.mantel_haenszel, got.standardised):
        assert (effects.difference.low, effects.difference.high) == (None, None)
        assert words in effects.difference.reason


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"outcome": [1, 3]}, "outcome must be one 0 or 1"),
        ({"index": [1, float("nan")]}, "index must be one 0 or 1"),
        ({"cluster": [1]}, "lengths differ"),
        ({"stratum": [1.0, float("nan")]}, "stratum is missing"),
        ({"replicates": 0}, "at least one resample"),
        ({"level": 95}, "between 0 and 1"),
    ],
)
def test_bootstrap_refuses_impossible_rows_in_words(change, sentence):
    right = {"outcome": [1, 0], "index": [1, 0], "cluster": [1, 2], "seed": 1}
    with pytest.raises(ValueError, match=sentence):
        bootstrap_effects(**(right | change))
