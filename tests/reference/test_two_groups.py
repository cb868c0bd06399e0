"""Contrasts of two groups against published and recomputed values.

Difference: Newcombe RG, Stat Med 1998;17:873-890, Table II, method 10 (printed values from memory), and R
4.2.2. Ratio (Katz 1978) and odds ratio (Woolf 1955): computed with R 4.2.2. Counts marked Charig are from
Charig CR et al., BMJ 1986;292:879-882. Tolerance 1e-6 relative: closed forms, the values kept to 15 figures.
"""

import math

import pytest

from analysis.estimators.two_groups import (
    Effect,
    log_scale_effect,
    odds_ratio,
    risk_difference,
    risk_ratio,
    two_group_effects,
)

TOLERANCE = {"rel": 1e-6, "abs": 1e-9}

# (x1, n1, x0, n0), difference, low, high (computed with R 4.2.2), and Newcombe's printed limits (from memory)
DIFFERENCES = [
    ((56, 70, 48, 80), 0.2, 0.0524314724023649, 0.333872654036906, ("0.0524", "0.3339")),
    ((6, 7, 2, 7), 0.571428571428571, 0.0582279274823123, 0.806249637524228, ("0.0582", "0.8062")),
    ((5, 56, 0, 29), 0.0892857142857143, -0.0381371479035369, 0.192560013855112, ("-0.0381", "0.1926")),
    ((0, 10, 0, 20), 0.0, -0.161125158052819, 0.277532799862889, ("-0.1611", "0.2775")),
    ((10, 10, 0, 20), 1.0, 0.679086037141915, 1.0, ("0.6791", "1.0000")),
    # Charig, percutaneous minus open; not in Newcombe's table
    ((289, 350, 273, 350), 0.0457142857142857, -0.013331496874977, 0.104461275261789, None),
]

# (x1, n1, x0, n0), ratio with Katz limits, odds ratio with Woolf limits: computed with R 4.2.2
RATIOS = [
    (
        (56, 70, 48, 80),
        (1.33333333333333, 1.07662642276319, 1.65124851126639),
        (2.66666666666667, 1.27621787053643, 5.57201969607438),
    ),
    (  # Charig, percutaneous over open, crude
        (289, 350, 273, 350),
        (1.05860805860806, 0.983523602158125, 1.13942463535283),
        (1.33627574611181, 0.91889542842475, 1.94323838644813),
    ),
    (  # Charig, stones of 2 cm and more, open over percutaneous
        (192, 263, 55, 80),
        (1.061873487729, 0.900348311227678, 1.25237676339309),
        (1.2291933418694, 0.712351697449324, 2.12102571960748),
    ),
]

# Charig with the sizes of Julious SA, Mullee MA, BMJ 1994;309:1480; open is index. Odds ratio to 4
# decimals, derived with z rounded to 1.96.
OPEN_OVER_PERCUTANEOUS = [
    ((81, 87, 234, 270), 0.0644, ("2.0769", "0.8440", "5.1107")),
    ((192, 263, 55, 80), 0.0425, ("1.2292", "0.7123", "2.1210")),
    ((273, 350, 289, 350), -0.0457, ("0.7483", "0.5146", "1.0883")),
]


def counts(four: tuple[float, float, float, float]) -> dict[str, float]:
    return dict(zip(("events_index", "n_index", "events_comparator", "n_comparator"), four, strict=True))


def three(effect: Effect) -> tuple[float | None, float | None, float | None]:
    return effect.estimate, effect.low, effect.high


@pytest.mark.parametrize(("four", "difference", "low", "high", "printed"), DIFFERENCES)
def test_difference_by_newcombe(four, difference, low, high, printed):
    got = risk_difference(**counts(four))
    assert three(got) == pytest.approx((difference, low, high), **TOLERANCE)
    assert (got.measure, got.method, got.reason) == ("difference", "Newcombe hybrid score", None)
    if printed is not None:
        assert (f"{got.low:.4f}", f"{got.high:.4f}") == printed


@pytest.mark.parametrize(("four", "ratio", "odds"), RATIOS)
def test_ratio_by_katz_and_odds_ratio_by_woolf(four, ratio, odds):
    assert three(risk_ratio(**counts(four))) == pytest.approx(ratio, **TOLERANCE)
    assert three(odds_ratio(**counts(four))) == pytest.approx(odds, **TOLERANCE)


@pytest.mark.parametrize(("four", "difference", "odds"), OPEN_OVER_PERCUTANEOUS)
def test_stone_series_by_size_and_crude(four, difference, odds):
    got = two_group_effects(**counts(four), level=math.erf(1.96 / 2**0.5))
    assert got.difference.estimate == pytest.approx(difference, abs=0.5e-4)
    assert tuple(f"{value:.4f}" for value in three(got.odds_ratio)) == odds


@pytest.mark.parametrize("level", [0.8, 0.95, 0.99])
def test_statsmodels_is_the_second_route(level):
    from statsmodels.stats.contingency_tables import Table2x2
    from statsmodels.stats.proportion import confint_proportions_2indep

    table = Table2x2([[17, 8], [12, 30]], shift_zeros=False)
    got = two_group_effects(**counts((17, 25, 12, 42)), level=level)
    newcombe = confint_proportions_2indep(17, 25, 12, 42, method="newcomb", compare="diff", alpha=1 - level)
    assert (got.difference.low, got.difference.high) == pytest.approx(newcombe)
    assert (got.ratio.low, got.ratio.high) == pytest.approx(table.riskratio_confint(1 - level))
    assert (got.odds_ratio.low, got.odds_ratio.high) == pytest.approx(table.oddsratio_confint(1 - level))


# what a zero does: no half is added, no infinity is printed
@pytest.mark.parametrize(
    ("four", "ratio", "odds", "words"),
    [
        ((3, 10, 0, 20), None, None, "no events in the comparator group"),
        ((0, 10, 5, 20), 0.0, 0.0, "no events in the index group"),
        ((0, 10, 0, 20), None, None, "no events in the comparator group"),
        ((10, 10, 20, 20), 1.0, None, "everyone in"),
    ],
)
def test_zero_cells_give_no_limits_and_say_why(four, ratio, odds, words):
    got = two_group_effects(**counts(four))
    assert three(got.ratio) == (ratio, None, None)
    assert three(got.odds_ratio) == (odds, None, None)
    assert words in got.ratio.reason
    assert words in got.odds_ratio.reason
    assert got.difference.reason is None


def test_ratio_stands_where_only_the_odds_ratio_cannot():
    # everyone of the index group: variance of log RR = 0 + 1/5 - 1/20
    got = two_group_effects(**counts((10, 10, 5, 20)))
    reach = 1.959963984540054 * (1 / 5 - 1 / 20) ** 0.5
    assert got.ratio.high / got.ratio.estimate == pytest.approx(2.718281828459045**reach)
    assert three(got.odds_ratio) == (None, None, None)
    # everyone of the comparator: odds over infinite odds
    assert three(odds_ratio(**counts((5, 20, 10, 10)))) == (0.0, None, None)


@pytest.mark.parametrize(
    ("four", "words"),
    [
        ((0, 0, 5, 20), "the index group is empty"),
        ((5, 20, 0, 0), "the comparator group is empty"),
        ((0, 0, 0, 0), "both groups are empty"),
    ],
)
def test_an_empty_group_gives_nulls(four, words):
    got = two_group_effects(**counts(four))
    for effect in (got.difference, got.ratio, got.odds_ratio):
        assert three(effect) == (None, None, None)
        assert effect.reason == words


def test_limits_beyond_any_number_are_not_written():
    got = log_scale_effect(measure="ratio", over=1.0, under=2.0, log_variance=lambda: 1e9, method="any", level=0.95)
    assert three(got) == (0.5, None, None)
    assert "too wide" in got.reason


def test_impossible_counts_name_the_group():
    with pytest.raises(ValueError, match="events of the index group is 8 but n is 7"):
        two_group_effects(**counts((8, 7, 1, 2)))
    with pytest.raises(ValueError, match="of the comparator group is -1"):
        risk_ratio(**counts((1, 7, -1, 2)))
    with pytest.raises(ValueError, match="between 0 and 1"):
        odds_ratio(**counts((1, 7, 1, 2)), level=0)
