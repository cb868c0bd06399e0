"""Stratified contrasts against R, on the stone series that reverses when stone size is allowed for.

Data: Charig CR et al., BMJ 1986;292:879-882, with the sizes of Julious SA, Mullee MA, BMJ 1994;309:1480-1481.
Long values computed with R 4.2.2 (mantelhaen.test; metafor 3.8.1 rma.mh as cross-check; Breslow-Day, Tarone,
Sato and standardisation from their formulas). Tolerance 1e-6 relative, as closed forms kept to 15 figures.
"""

import math

import numpy as np
import pytest

from analysis.estimators.strata import homogeneity_of_odds_ratios, mantel_haenszel, standardised
from analysis.estimators.two_groups import two_group_effects

TOLERANCE = {"rel": 1e-6, "abs": 1e-9}
ROUNDED = {"rel": 0, "abs": 0.51e-5}  # derived vectors given to five decimals

# strata: under 2 cm, 2 cm and over
PERCUTANEOUS_INDEX = {
    "events_index": [234, 55],
    "n_index": [270, 80],
    "events_comparator": [81, 192],
    "n_comparator": [87, 263],
}
OPEN_INDEX = {
    "events_index": [81, 192],
    "n_index": [87, 263],
    "events_comparator": [234, 55],
    "n_comparator": [270, 80],
}


def three(effect):
    return effect.estimate, effect.low, effect.high


def test_mantel_haenszel_equals_r():
    got = mantel_haenszel(**PERCUTANEOUS_INDEX)
    assert three(got.odds_ratio) == pytest.approx((0.691158262915158, 0.43747427955032, 1.09194932531102), **TOLERANCE)
    assert three(got.ratio) == pytest.approx((0.935453560396552, 0.861925893656753, 1.01525359674026), **TOLERANCE)
    # Sato's variance
    assert three(got.difference) == pytest.approx(
        (-0.0538355702434747, -0.119600585704441, 0.0119294452174914), **TOLERANCE
    )
    assert (got.strata_used, got.strata_left_out) == ((0, 1), ())


def test_mantel_haenszel_with_open_surgery_as_index():
    # these vectors were derived with z rounded to 1.96
    got = mantel_haenszel(**OPEN_INDEX, level=math.erf(1.96 / 2**0.5))
    assert three(got.odds_ratio) == pytest.approx((1.44685, 0.91579, 2.28587), **ROUNDED)
    assert got.difference.estimate == pytest.approx(0.053836, abs=0.51e-6)


def test_simpson_reversal():
    crude = two_group_effects(events_index=289, n_index=350, events_comparator=273, n_comparator=350)
    pooled = mantel_haenszel(**PERCUTANEOUS_INDEX)
    moved = standardised(**PERCUTANEOUS_INDEX)
    # crude values computed with R 4.2.2
    assert crude.difference.estimate == pytest.approx(0.0457142857142857, **TOLERANCE)
    assert crude.ratio.estimate == pytest.approx(1.05860805860806, **TOLERANCE)
    assert crude.odds_ratio.estimate == pytest.approx(1.33627574611181, **TOLERANCE)
    for adjusted in (pooled, moved):
        assert adjusted.difference.estimate < 0
        assert adjusted.ratio.estimate < 1
        assert adjusted.odds_ratio.estimate < 1


def test_effects_of_each_stratum():
    # computed with R 4.2.2: odds ratio, difference, ratio
    expected = [
        (0.481481481481481, -0.064367816091954, 0.930864197530864),
        (0.813541666666667, -0.0425380228136882, 0.941731770833333),
    ]
    for k, (odds, difference, ratio) in enumerate(expected):
        got = two_group_effects(**{name: counts[k] for name, counts in PERCUTANEOUS_INDEX.items()})
        assert got.odds_ratio.estimate == pytest.approx(odds, **TOLERANCE)
        assert got.difference.estimate == pytest.approx(difference, **TOLERANCE)
        assert got.ratio.estimate == pytest.approx(ratio, **TOLERANCE)


def test_homogeneity_equals_r():
    plain = homogeneity_of_odds_ratios(**PERCUTANEOUS_INDEX, tarone=False)
    assert (plain.statistic, plain.p) == pytest.approx((0.968446440840893, 0.325067937889333), **TOLERANCE)
    assert (plain.statistic, plain.p) == pytest.approx((0.96845, 0.32507), **ROUNDED)
    corrected = homogeneity_of_odds_ratios(**PERCUTANEOUS_INDEX)
    assert (corrected.statistic, corrected.p) == pytest.approx((0.965629777917164, 0.325772523413404), **TOLERANCE)
    assert (plain.df, corrected.df) == (1, 1)
    assert (plain.test, corrected.test) == ("Breslow-Day", "Breslow-Day with Tarone's correction")


def test_standardised_to_both_groups_equals_r():
    got = standardised(**PERCUTANEOUS_INDEX)
    assert got.standard == pytest.approx((357 / 700, 343 / 700))
    assert (got.rate_index, got.se_index) == pytest.approx((0.778875, 0.0274976057722489), **TOLERANCE)
    assert (got.rate_comparator, got.se_comparator) == pytest.approx(
        (0.832546217385604, 0.0192843377408203), **TOLERANCE
    )
    assert three(got.difference) == pytest.approx(
        (-0.0536712173856038, -0.119498118694787, 0.012155683923579), **TOLERANCE
    )
    assert three(got.ratio) == pytest.approx((0.935533648144911, 0.861227211493045, 1.01625122282657), **TOLERANCE)
    assert got.odds_ratio.estimate == pytest.approx(0.708461947517969, **TOLERANCE)
    # open 83.25%, percutaneous 77.89%, derived
    assert (f"{100 * got.rate_comparator:.2f}", f"{100 * got.rate_index:.2f}") == ("83.25", "77.89")


def test_standardised_to_the_index_group_equals_r():
    got = standardised(**PERCUTANEOUS_INDEX, standard=[270, 80])
    assert (got.rate_index, got.se_index) == pytest.approx((0.825714285714286, 0.0198746069143518), **TOLERANCE)
    assert (got.rate_comparator, got.se_comparator) == pytest.approx(
        (0.885092434771208, 0.0218713992909481), **TOLERANCE
    )
    assert three(got.difference) == pytest.approx(
        (-0.0593781490569218, -0.117300245044076, -0.00145605306976793), **TOLERANCE
    )
    assert three(got.ratio) == pytest.approx((0.932913053231247, 0.871923021213784, 0.998169269206455), **TOLERANCE)
    assert got.odds_ratio.estimate == pytest.approx(0.615074895589123, **TOLERANCE)


def test_standardised_odds_ratio_limits_by_the_delta_method():
    got = standardised(**PERCUTANEOUS_INDEX)
    p1, p0 = 0.778875, 0.832546217385604
    se = ((0.0274976057722489 / (p1 * (1 - p1))) ** 2 + (0.0192843377408203 / (p0 * (1 - p0))) ** 2) ** 0.5
    log = np.log(0.708461947517969)
    expected = np.exp([log - 1.959963984540054 * se, log + 1.959963984540054 * se])
    assert (got.odds_ratio.low, got.odds_ratio.high) == pytest.approx(tuple(expected))


@pytest.mark.parametrize(
    "tables",
    [
        [[[9, 4], [6, 8]], [[12, 3], [10, 11]], [[2, 7], [5, 21]]],
        [[[60, 40], [5, 0]], [[2, 8], [7, 3]]],  # far more events than the comparator could hold, and a zero cell
    ],
)
def test_statsmodels_is_the_second_route(tables):
    from statsmodels.stats.contingency_tables import StratifiedTable

    given = {
        "events_index": [t[0][0] for t in tables],
        "n_index": [sum(t[0]) for t in tables],
        "events_comparator": [t[1][0] for t in tables],
        "n_comparator": [sum(t[1]) for t in tables],
    }
    library = StratifiedTable(tables)
    ours = mantel_haenszel(**given, level=0.9)
    assert ours.odds_ratio.estimate == pytest.approx(library.oddsratio_pooled)
    assert (ours.odds_ratio.low, ours.odds_ratio.high) == pytest.approx(library.oddsratio_pooled_confint(alpha=0.1))
    assert ours.ratio.estimate == pytest.approx(library.riskratio_pooled)
    for tarone in (False, True):
        test = library.test_equal_odds(adjust=tarone)
        got = homogeneity_of_odds_ratios(**given, tarone=tarone)
        assert (got.statistic, got.p) == pytest.approx((test.statistic, test.pvalue))


def test_homogeneity_stands_when_the_pooled_odds_ratio_is_one():
    # two mirrored strata: pooled odds ratio 1, expected 5 of 10 with margins of 10; V = 1/(4/5)
    got = homogeneity_of_odds_ratios(
        events_index=[7, 3], n_index=[10, 10], events_comparator=[3, 7], n_comparator=[10, 10]
    )
    assert got.statistic == pytest.approx(2 * (7 - 5) ** 2 / (5 / 4))
    assert got.p == pytest.approx(math.erfc((6.4 / 2) ** 0.5))  # chi-squared of 6.4 on 1 degree of freedom


def test_strata_lacking_a_group_are_left_out_and_listed():
    wider = {name: [3, *counts, 4] for name, counts in PERCUTANEOUS_INDEX.items()}
    wider["events_index"][0] = wider["n_index"][0] = 0
    wider["events_comparator"][3] = wider["n_comparator"][3] = 0
    pooled, moved, test = mantel_haenszel(**wider), standardised(**wider), homogeneity_of_odds_ratios(**wider)
    assert pooled.odds_ratio == mantel_haenszel(**PERCUTANEOUS_INDEX).odds_ratio
    assert moved.difference == standardised(**PERCUTANEOUS_INDEX).difference
    assert test.statistic == homogeneity_of_odds_ratios(**PERCUTANEOUS_INDEX).statistic
    for result in (pooled, moved, test):
        assert (result.strata_used, result.strata_left_out) == ((1, 2), (0, 3))
    # a standard given for all four strata is shared over the two that are used
    assert (
        standardised(**wider, standard=[9, 270, 80, 9]).ratio
        == standardised(**PERCUTANEOUS_INDEX, standard=[270, 80]).ratio
    )


def test_strata_without_an_odds_ratio_take_no_degree_of_freedom():
    wider = {name: [*counts, 5] for name, counts in PERCUTANEOUS_INDEX.items()}  # all 5 and all 5 had the event
    got = homogeneity_of_odds_ratios(**wider)
    assert (got.df, got.strata_left_out) == (1, (2,))
    assert got.p == pytest.approx(0.325772523413404, **TOLERANCE)


def test_no_stratum_with_both_groups_gives_nulls():
    apart = {"events_index": [1, 0], "n_index": [2, 0], "events_comparator": [0, 1], "n_comparator": [0, 2]}
    for result in (mantel_haenszel(**apart), standardised(**apart)):
        for effect in (result.difference, result.ratio, result.odds_ratio):
            assert three(effect) == (None, None, None)
            assert effect.reason == "no stratum holds both groups"
        assert result.strata_left_out == (0, 1)
    got = homogeneity_of_odds_ratios(**apart)
    assert (got.statistic, got.df, got.p) == (None, None, None)
    assert "fewer than two strata" in got.reason


def test_zeros_give_no_limits_and_say_why():
    none_in_comparator = {
        "events_index": [1, 2],
        "n_index": [5, 5],
        "events_comparator": [0, 0],
        "n_comparator": [5, 5],
    }
    none_in_index = {
        "events_index": [0, 0],
        "n_index": [5, 5],
        "events_comparator": [1, 2],
        "n_comparator": [5, 5],
    }
    everyone = {"events_index": [3, 4], "n_index": [3, 4], "events_comparator": [5, 6], "n_comparator": [5, 6]}
    for pool in (mantel_haenszel, standardised):
        got = pool(**none_in_comparator)
        assert three(got.ratio) == three(got.odds_ratio) == (None, None, None)
        assert "denominator" in got.ratio.reason
        got = pool(**none_in_index)
        assert three(got.ratio) == three(got.odds_ratio) == (0.0, None, None)
        got = pool(**everyone)
        assert three(got.difference) == (0.0, None, None)
        assert three(got.ratio) == (pytest.approx(1.0), None, None)
        assert three(got.odds_ratio) == (None, None, None)
        assert got.difference.reason == got.ratio.reason == "the estimated variance is 0"
    assert homogeneity_of_odds_ratios(**none_in_index).reason == "the pooled odds ratio is 0 or infinite"


def test_complete_separation_has_a_difference_without_limits():
    apart = {"events_index": [3, 4], "n_index": [3, 4], "events_comparator": [0, 0], "n_comparator": [5, 6]}
    assert three(mantel_haenszel(**apart).difference) == (1.0, None, None)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"n_index": [270]}, "lists of one length"),
        ({"events_index": [271, 55]}, "events of the index group is 271 but n is 270"),
        ({"n_comparator": [float("nan"), 263]}, "missing or infinite"),
        ({"standard": [1, -1]}, "one weight of 0 or more"),
        ({"standard": [1]}, "for each of the 2 strata"),
        ({"standard": [0, 0]}, "no weight"),
        ({"level": 2}, "between 0 and 1"),
    ],
)
def test_impossible_tables_are_refused_in_words(change, sentence):
    with pytest.raises(ValueError, match=sentence):
        standardised(**(PERCUTANEOUS_INDEX | change))
