"""Intervals for one proportion against published and recomputed values.

Sources, beside each block: Newcombe RG, Stat Med 1998;17:857-872, Table I (printed to four decimals; value
from memory); the long values were computed with R 4.2.2 (qbeta, uniroot; Wilson by prop.test without
correction). Tolerance: 1e-7 relative for R's values, both programs solving the same equations in double
precision; half a unit of the last printed place for printed ones.
"""

import numpy as np
import pytest

from analysis.estimators.proportions import Interval, proportion_interval, wilson_limits

R_TOLERANCE = {"rel": 1e-7, "abs": 1e-9}
PRINTED = {"rel": 0, "abs": 0.5e-4 + 1e-9}

# events, n, level, then (low, high) by wilson, exact, mid-p, jeffreys with its end rule; computed with R 4.2.2.
# 273/350, 192/263 and 301/328 are success counts of Charig CR et al., BMJ 1986;292:879-882.
COMPUTED_WITH_R = [
    (
        (81, 263, 0.95),
        (0.255288519878274, 0.3662095769828),
        (0.252736745585271, 0.367621922601351),
        (0.254402104945522, 0.365773474257775),
        (0.254521934991023, 0.365647499174082),
    ),
    (
        (15, 148, 0.95),
        (0.0623863995307363, 0.160487241723308),
        (0.0578440100834486, 0.161650490349479),
        (0.0600636026655322, 0.158121733050612),
        (0.0604485170092964, 0.157643143478741),
    ),
    (
        (0, 20, 0.95),
        (0.0, 0.161125158052819),
        (0.0, 0.168433470983085),
        (0.0, 0.139108340668265),
        (0.0, 0.116638982904875),
    ),
    (
        (1, 29, 0.95),
        (0.00611321429276265, 0.171755218793203),
        (0.000872646883579923, 0.177644295488723),
        (0.00172477011470513, 0.158537383681465),
        (0.00374617364905708, 0.150077686002232),
    ),
    (
        (273, 350, 0.95),
        (0.733691205027498, 0.820229188171314),
        (0.732893571167249, 0.822297284203879),
        (0.734317886438433, 0.821067387830297),
        (0.734410376221394, 0.820981186679035),
    ),
    (
        (192, 263, 0.95),
        (0.673358105800631, 0.780094669246993),
        (0.672082195137409, 0.782726988275253),
        (0.673948094155878, 0.781088828364898),
        (0.674079788896703, 0.780965094089036),
    ),
    (
        (301, 328, 0.95),
        (0.882883516457011, 0.942811985767899),
        (0.882492321016637, 0.945052759992348),
        (0.884090882077946, 0.943925289306448),
        (0.884249632279492, 0.943790756537266),
    ),
    (
        (81, 263, 0.99),
        (0.240136902687608, 0.38528250231823),
        (0.236837358165539, 0.386258325669745),
        (0.238425994222327, 0.38443443321974),
        (0.238580047660932, 0.384268239167365),
    ),
]

# Newcombe 1998, Table I, as printed (value from memory): wilson, exact, mid-p. The table prints no lower limit for
# exact and mid-p at no events.
PRINTED_BY_NEWCOMBE = [
    ((81, 263), {"wilson": ("0.2553", "0.3662"), "exact": ("0.2527", "0.3676"), "mid-p": ("0.2544", "0.3658")}),
    ((15, 148), {"wilson": ("0.0624", "0.1605"), "exact": ("0.0578", "0.1617"), "mid-p": ("0.0601", "0.1581")}),
    ((0, 20), {"wilson": ("0.0000", "0.1611"), "exact": ("0.0000", "0.1684"), "mid-p": ("0.0000", "0.1391")}),
    ((1, 29), {"wilson": ("0.0061", "0.1718"), "exact": ("0.0009", "0.1776"), "mid-p": ("0.0017", "0.1585")}),
]

# Success by stone size, Charig 1986 with the strata of Julious SA, Mullee MA, BMJ 1994;309:1480; derived to 4 places.
SMALL_VECTORS = [
    ((81, 87), (0.8576, 0.9680), (0.8559, 0.9743)),
    ((55, 80), (0.5793, 0.7785), (0.5741, 0.7865)),
    ((0, 30), (0.0, 0.1135), (0.0, 0.1157)),
]


def limits(interval: Interval) -> tuple[float | None, float | None]:
    return interval.low, interval.high


@pytest.mark.parametrize("case", COMPUTED_WITH_R, ids=lambda case: "{}/{} at {}".format(*case[0]))
def test_all_methods_equal_r(case):
    (x, n, level), *expected = case
    for method, wanted in zip(("wilson", "exact", "mid-p", "jeffreys"), expected, strict=True):
        got = proportion_interval(events=x, n=n, method=method, level=level)
        assert limits(got) == pytest.approx(wanted, **R_TOLERANCE), method
        assert (got.method, got.level) == (method, level)


@pytest.mark.parametrize(("counts", "printed"), PRINTED_BY_NEWCOMBE)
def test_four_decimals_are_those_newcombe_printed(counts, printed):
    for method, wanted in printed.items():
        got = proportion_interval(events=counts[0], n=counts[1], method=method)
        assert (f"{got.low:.4f}", f"{got.high:.4f}") == wanted, method


@pytest.mark.parametrize(("counts", "wilson", "exact"), SMALL_VECTORS)
def test_stone_series_vectors(counts, wilson, exact):
    x, n = counts
    assert limits(proportion_interval(events=x, n=n)) == pytest.approx(wilson, **PRINTED)
    assert limits(proportion_interval(events=x, n=n, method="exact")) == pytest.approx(exact, **PRINTED)


def test_exact_upper_limit_without_events_is_arithmetic():
    # one-sided 95% (two-sided 90%): the p with (1 - p)^20 = 0.05
    got = proportion_interval(events=0, n=20, method="exact", level=0.90)
    assert got.high == pytest.approx(1 - 0.05 ** (1 / 20), rel=1e-9)
    assert got.high == pytest.approx(0.139108340668265, rel=1e-9)  # computed with R 4.2.2


def test_wilson_takes_an_effective_size_by_its_own_formula():
    # 12.5 of 20.25 by Wilson EB 1927: (p + z^2/2n -+ z sqrt(pq/n + z^2/4n^2)) / (1 + z^2/n)
    x, n, z = 12.5, 20.25, 1.959963984540054
    p = x / n
    middle, reach = p + z**2 / (2 * n), z * (p * (1 - p) / n + z**2 / (4 * n**2)) ** 0.5
    got = proportion_interval(events=x, n=n)
    assert limits(got) == pytest.approx(((middle - reach) / (1 + z**2 / n), (middle + reach) / (1 + z**2 / n)))


def test_statsmodels_is_the_second_route_for_arrays():
    from statsmodels.stats.proportion import proportion_confint

    n = np.array([1, 7, 7, 40, 1000, 10**6])
    x = np.array([1, 0, 3, 40, 17, 1])
    got = wilson_limits(events=x, n=n, level=0.9)
    low, high = proportion_confint(x, n, alpha=0.1, method="wilson")
    np.testing.assert_allclose(got.low, low, rtol=1e-9, atol=1e-15)
    np.testing.assert_allclose(got.high, high, rtol=1e-9)


def test_nothing_observed_gives_no_limits():
    for method in ("wilson", "exact", "mid-p", "jeffreys"):
        assert limits(proportion_interval(events=0, n=0, method=method)) == (None, None)
    many = wilson_limits(events=[0, 1], n=[0, 2])
    assert np.isnan(many.low[0]) and np.isnan(many.high[0])
    assert many.low[1] == proportion_interval(events=1, n=2).low


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"events": 3, "n": 2}, "more events than observations"),
        ({"events": -1, "n": 2}, "below 0"),
        ({"events": 0, "n": -2}, "below 0"),
        ({"events": float("nan"), "n": 2}, "missing or infinite"),
        ({"events": 1, "n": float("inf")}, "missing or infinite"),
        ({"events": 1, "n": 2, "level": 95}, "between 0 and 1"),
        ({"events": 1, "n": 2, "method": "wald"}, "choose one of wilson, exact, mid-p, jeffreys"),
        ({"events": 1.5, "n": 2, "method": "exact"}, "whole counts"),
        ({"events": 1, "n": 2.5, "method": "mid-p"}, "whole counts"),
    ],
)
def test_impossible_input_is_refused_in_words(given, sentence):
    with pytest.raises(ValueError, match=sentence):
        proportion_interval(**given)


def test_one_impossible_cell_among_many_is_named():
    with pytest.raises(ValueError, match="events is 9 but n is 8"):
        wilson_limits(events=[1, 9], n=[4, 8])
