"""Laws of weights and comparisons of two groups, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.estimators.confounding.balance import balance, largest
from analysis.estimators.confounding.balance_weights import balance_weights
from analysis.estimators.confounding.doubly_robust import doubly_robust
from analysis.estimators.confounding.effective_size import effective_size
from analysis.estimators.confounding.propensity import overlap_of, propensity
from analysis.estimators.confounding.weighted_difference import weighted_difference
from analysis.estimators.regression.cluster_bootstrap import newton_in_resamples
from analysis.estimators.regression.fitted import NotEstimable

NAMES = ("intercept", "burden", "lower pole")
Data = tuple[np.ndarray, np.ndarray, np.ndarray]


def drawn(seed: int, rows: int = 800, strength: float = 0.8) -> Data:
    """Group and outcome, both moved by two columns."""
    draw = np.random.default_rng(seed)
    x = np.column_stack([np.ones(rows), draw.normal(size=rows), draw.integers(0, 2, rows)])
    index = (draw.random(rows) < 1 / (1 + np.exp(-strength * (x[:, 1] + x[:, 2] - 0.5)))).astype(float)
    y = (draw.random(rows) < 1 / (1 + np.exp(-(-0.5 - x[:, 1] + 0.7 * index)))).astype(float)
    return index, x, y


@given(st.integers(0, 10_000), st.sampled_from(["ate", "overlap", "stabilised"]))
@settings(max_examples=20, deadline=None)
def test_turning_the_groups_round_turns_the_comparison_round(seed: int, kind: str) -> None:
    index, x, y = drawn(seed)
    cluster = np.arange(len(y)) // 2
    found = []
    for of in (index, 1 - index):
        score = propensity(of, x, NAMES)
        weights = balance_weights(score, kind)  # type: ignore[arg-type]
        found.append(weighted_difference(y, score, weights, cluster=cluster).contrasts)
    one, other = found
    assert one.difference.estimate == pytest.approx(-other.difference.estimate, abs=1e-8)  # type: ignore[operator]
    assert one.difference.standard_error == pytest.approx(other.difference.standard_error, rel=1e-6)
    assert one.ratio.low == pytest.approx(1 / other.ratio.high, rel=1e-6)  # type: ignore[operator]
    assert one.odds_ratio.estimate == pytest.approx(1 / other.odds_ratio.estimate, rel=1e-6)  # type: ignore[operator]


@given(st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_units_of_columns_and_the_size_of_weights_do_not_matter(seed: int) -> None:
    index, x, y = drawn(seed)
    score, scaled = propensity(index, x, NAMES), propensity(index, x * [1, 1000, 0.01], NAMES)
    one, other = (weighted_difference(y, each, balance_weights(each)).contrasts for each in (score, scaled))
    assert one.difference.estimate == pytest.approx(other.difference.estimate, rel=1e-5, abs=1e-9)
    assert one.difference.standard_error == pytest.approx(other.difference.standard_error, rel=1e-5)
    weights = balance_weights(score).values
    assert effective_size(weights) == pytest.approx(effective_size(weights * 7))
    assert 1 <= effective_size(weights) <= len(weights)
    stable = balance_weights(score, "stabilised")
    for at, of in enumerate((score.index, ~score.index)):
        assert stable.effective[at] == pytest.approx(effective_size(weights[of]))


def test_the_slopes_of_weights_are_their_derivatives() -> None:
    index, x, _ = drawn(1)
    score = propensity(index, x, NAMES)
    step = 1e-6
    for kind in ("ate", "att", "overlap", "stabilised"):
        both = []
        for sign in (-1, 1):
            odds = np.log(score.scores / (1 - score.scores)) + sign * step
            moved = type(score)(**{**score.__dict__, "scores": 1 / (1 + np.exp(-odds))})
            both.append(balance_weights(moved, kind).values)  # type: ignore[arg-type]
        slopes = (both[1] - both[0]) / (2 * step)
        assert balance_weights(score, kind).slopes == pytest.approx(slopes, rel=1e-4, abs=1e-6)  # type: ignore[arg-type]


def test_a_row_a_cluster_is_no_clustering_but_for_the_factor_and_twins_are_clusters() -> None:
    index, x, y = drawn(3)
    score = propensity(index, x, NAMES)
    weights, n = balance_weights(score), len(y)
    alone = weighted_difference(y, score, weights).contrasts.difference.standard_error or 0
    each = weighted_difference(y, score, weights, cluster=np.arange(n)).contrasts
    assert (each.difference.standard_error, each.clusters) == (pytest.approx(alone * np.sqrt(n / (n - 1))), n)
    twice = propensity(np.tile(index, 2), np.tile(x, (2, 1)), NAMES)
    pairs = weighted_difference(np.tile(y, 2), twice, balance_weights(twice), cluster=np.tile(np.arange(n), 2))
    assert pairs.contrasts.difference.standard_error == pytest.approx(alone * np.sqrt(n / (n - 1)), rel=1e-5)
    robust = doubly_robust(np.tile(y, 2), twice, NAMES, cluster=np.tile(np.arange(n), 2)).contrasts
    single = doubly_robust(y, score, NAMES).contrasts
    assert robust.difference.standard_error == pytest.approx(single.difference.standard_error, rel=1e-5)


def test_the_error_is_that_of_a_bootstrap_that_fits_the_score_anew() -> None:
    index, x, y = drawn(5, 1500)
    score = propensity(index, x, NAMES)
    draw = np.random.default_rng(1)
    times = draw.multinomial(len(y), np.full(len(y), 1 / len(y)), size=800).T.astype(float)
    coefficients, converged = newton_in_resamples(index, x, times, score.fit.coefficients)
    assert converged.all()
    e = 1 / (1 + np.exp(-(x @ coefficients.T)))
    for kind, one, other in (("ate", 1 / e, 1 / (1 - e)), ("att", np.ones_like(e), e / (1 - e))):
        w1, w0 = times * index[:, None] * one, times * (1 - index)[:, None] * other
        found = (w1 * y[:, None]).sum(0) / w1.sum(0) - (w0 * y[:, None]).sum(0) / w0.sum(0)
        formula = weighted_difference(y, score, balance_weights(score, kind)).contrasts.difference  # type: ignore[arg-type]
        assert formula.standard_error == pytest.approx(found.std(ddof=1), rel=0.08)


def test_trimming_leaves_rows_out_and_says_how_many() -> None:
    index, x, _ = drawn(2, 2000, 1.5)
    whole, part = propensity(index, x, NAMES), propensity(index, x, NAMES, limits=(0.1, 0.9))
    beyond = (whole.scores < 0.1) | (whole.scores > 0.9)
    assert part.left_out == beyond.sum() > 0
    assert (part.rows == np.flatnonzero(~beyond)).all()
    assert len(part.scores) + part.left_out == 2000
    cut = balance_weights(whole, "ate", clip=(0.0, 0.95))
    assert cut.cut is not None and cut.largest == cut.cut[1] and cut.cut_rows == pytest.approx(100, abs=1)
    assert (cut.slopes == 0).sum() == cut.cut_rows
    assert largest(balance(x[:, 1:], NAMES[1:], index, balance_weights(whole).values)) < 0.15  # type: ignore[operator]


def test_a_column_that_does_not_vary_has_no_standardised_difference() -> None:
    index = np.repeat([1, 0], 20)
    x = np.column_stack([index.astype(float), np.ones(40)])
    found = balance(x, ["apart", "alike"], index, np.ones(40))
    assert (found[0].before, found[0].reason) == (None, "it does not vary within the groups")
    assert found[1].before == found[1].after == 0.0
    assert largest(found[:1]) is None
    assert effective_size([0, 0]) == 0


def test_overlap_counts_who_lies_beyond_the_other_group() -> None:
    found = overlap_of(np.array([0.2, 0.5, 0.9, 0.1, 0.3, 0.6]), np.array([True] * 3 + [False] * 3))
    assert (found.shared, found.within, found.outside) == ((0.2, 0.6), (2, 2), (1, 1))
    assert found.outside_share == pytest.approx((1 / 3, 1 / 3))


def test_groups_told_apart_by_a_column_are_refused_by_its_name_and_their_neighbour_runs() -> None:
    """Nobody of the lower pole in the index group; with one in thirty there it runs."""
    index, x, _ = drawn(4)
    apart = np.where(x[:, 2] == 1, 0, index)
    with pytest.raises(NotEstimable, match="no overlap between the groups: lower pole tells"):
        propensity(apart, x, NAMES)
    some = np.where((x[:, 2] == 1) & (np.arange(800) % 30 > 0), 0, index)
    assert balance_weights(propensity(some, x, NAMES), "overlap").effective[0] > 5


def test_groups_that_hardly_share_a_score_are_refused_and_the_overlap_can_be_asked() -> None:
    draw = np.random.default_rng(1)
    size = draw.normal(size=1000)
    index = (size + 0.05 * draw.normal(size=1000) > 0).astype(float)
    x = np.column_stack([np.ones(1000), size])
    score = propensity(index, x, ("intercept", "size"))
    with pytest.raises(NotEstimable, match=r"hardly overlap: .* in the index group"):
        balance_weights(score, "ate")
    with pytest.raises(NotEstimable, match="hardly overlap"):
        doubly_robust(index, score, ("intercept", "size"))
    assert balance_weights(score, "overlap").effective[0] > 5
    few = overlap_of(np.array([0.9] * 20 + [0.5] * 5 + [0.1] * 20 + [0.6] * 3), np.repeat([True, False], [25, 23]))
    assert few.shared == (0.5, 0.6)
    near = type(score)(**{**score.__dict__, "overlap": few})
    with pytest.raises(NotEstimable, match=r"do not overlap: 5 of 25 .* 3 of 23"):
        balance_weights(near, "overlap")


def test_what_a_few_rows_would_decide_is_refused() -> None:
    index, x, y = drawn(6)
    score = propensity(index, x, NAMES)
    weights = balance_weights(score)
    one_row = type(weights)(**{**weights.__dict__, "effective": (4.2, 300.0)})
    with pytest.raises(NotEstimable, match=r"index group is worth 4\.2 rows"):
        weighted_difference(y, score, one_row)


def test_a_group_without_the_outcome_has_no_outcome_model_and_no_ratio() -> None:
    index, x, y = drawn(7)
    score = propensity(index, x, NAMES)
    none = np.where(index == 1, 0.0, y)
    with pytest.raises(NotEstimable, match=r"outcome model of the index group has no fit.*same outcome"):
        doubly_robust(none, score, NAMES)
    found = weighted_difference(none, score, balance_weights(score)).contrasts
    assert (found.means[0], found.ratio.estimate, found.ratio.reason) == (0, None, "a mean is not between 0 and 1")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"index": np.ones(800)}, "no two groups"),
        ({"index": np.zeros(0)}, "no two groups"),
        ({"limits": (0.9999, 1.0)}, "nobody of one of the two groups"),
    ],
)
def test_scores_that_cannot_be_had_are_refused(change: dict, said: str) -> None:
    index, x, _ = drawn(8)
    given_ = {"index": index, "x": x, **change}
    with pytest.raises(NotEstimable, match=said):
        propensity(given_.pop("index"), given_.pop("x"), NAMES, **given_)


def test_what_is_asked_wrongly_is_refused() -> None:
    index, x, y = drawn(9)
    score = propensity(index, x, NAMES)
    with pytest.raises(ValueError, match="0 or 1"):
        propensity(index + 1, x, NAMES)
    with pytest.raises(ValueError, match="rise within"):
        propensity(index, x, NAMES, limits=(0.9, 0.1))
    with pytest.raises(ValueError, match="no kind of weights"):
        balance_weights(score, "all")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="rise within"):
        balance_weights(score, "ate", clip=(0.5, 0.5))
    with pytest.raises(ValueError, match="none missing"):
        weighted_difference(np.where(y == 1, np.nan, y), score, balance_weights(score))
    with pytest.raises(NotEstimable, match="same outcome"):
        weighted_difference(np.ones(len(y)), score, balance_weights(score))
    with pytest.raises(NotEstimable, match="one cluster"):
        weighted_difference(y, score, balance_weights(score), cluster=np.zeros(len(y)))
