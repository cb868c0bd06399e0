"""What an ordered model refuses, and its laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.regression.level_chances import level_chances, standardised_levels
from analysis.estimators.regression.logistic import logistic
from analysis.estimators.regression.ordered_levels import with_top_joined
from analysis.estimators.regression.ordinal import proportional_odds, slopes
from analysis.estimators.regression.partial_odds import effects_by_cut, partial_odds, same_over_cuts
from analysis.estimators.regression.proportionality import ordered_model, proportionality

UNHURRIED = settings(deadline=None)  # the first call loads a library
LEVELS = ("none", "I", "II", "III")
NAMES = ("intercept", "x", "z")


def cumulative(seed: int, n: int, apart: float) -> tuple[np.ndarray, np.ndarray]:
    """Levels by x (one effect, 0.8) and z (0.5, and `apart` more at each higher cut), one uniform number a row."""
    draw = np.random.default_rng(seed)
    x = np.column_stack([np.ones(n), draw.normal(size=n), draw.integers(0, 2, n)])
    along = np.array([0.2, 1.2, 2.4])[None, :] - 0.8 * x[:, 1:2] - (0.5 + apart * np.arange(3))[None, :] * x[:, 2:]
    return (draw.random((n, 1)) > 1 / (1 + np.exp(-along))).sum(axis=1), x


@pytest.mark.parametrize(
    ("outcome", "said"),
    [([1] * 40, "all 40 rows are at I"), ([], "there is no row"), ([0] * 20 + [2] * 20, "separated by x")],
)
def test_what_cannot_be_estimated_is_refused_with_its_reason(outcome: list[int], said: str) -> None:
    x = np.column_stack([np.ones(len(outcome)), np.arange(len(outcome))])
    with pytest.raises(NotEstimable, match=said):
        proportional_odds(outcome, x, NAMES[:2], levels=LEVELS)


def test_a_level_that_holds_a_whole_group_is_named_as_separated() -> None:
    z = np.repeat([0.0, 1.0], 30)
    outcome = np.concatenate([np.tile([0, 1, 2], 10), np.full(30, 3)])
    with pytest.raises(NotEstimable, match="separated by z"):
        proportional_odds(outcome, np.column_stack([np.ones(60), z]), ("intercept", "z"), levels=LEVELS)
    outcome[0], outcome[30] = 3, 2  # the neighbour that runs
    fit = proportional_odds(outcome, np.column_stack([np.ones(60), z]), ("intercept", "z"), levels=LEVELS)
    assert fit.coefficients[-1] > 3


@pytest.mark.parametrize(("outcome", "levels"), [([0, 1, 4], LEVELS), ([0, 0.5, 1], LEVELS), ([0, np.nan, 1], LEVELS)])
def test_codes_that_are_no_level_are_refused(outcome: list[float], levels: tuple[str, ...]) -> None:
    with pytest.raises(ValueError, match="whole codes from 0 to 3"):
        proportional_odds(outcome, np.ones((3, 1)), NAMES[:1], levels=levels)


def test_x_has_its_intercept_first() -> None:
    with pytest.raises(ValueError, match="intercept as its first column"):
        proportional_odds([0, 1, 2], np.arange(3.0)[:, None], ("x",), levels=LEVELS)


@pytest.mark.parametrize("column", [np.ones(200), np.linspace(2, 5, 200)], ids=["constant", "said twice"])
def test_columns_that_say_the_same_are_named(column: np.ndarray) -> None:
    outcome = np.tile([0, 1, 2, 3], 50)
    x = np.column_stack([np.ones(200), np.linspace(0, 1, 200), column])
    with pytest.raises(NotEstimable, match="The columns z say the same as others"):
        proportional_odds(outcome, x, NAMES, levels=LEVELS)
    with pytest.raises(NotEstimable, match="The columns z say the same as others"):
        partial_odds(outcome, x, NAMES, levels=LEVELS, free=[1])


def test_too_many_parameters_are_refused_or_remarked_on() -> None:
    outcome, x = cumulative(2, 400, 0.0)
    outcome[:] = 0
    outcome[:12] = np.tile([1, 2, 3], 4)
    with pytest.raises(NotEstimable, match=r"12 rows beyond the commonest level, 6\.0 for each; at 10 for each"):
        proportional_odds(outcome, x, NAMES, levels=LEVELS)
    assert "6.0 for each" in proportional_odds(outcome, x, NAMES, levels=LEVELS, force=True).remarks[0]


def test_a_level_that_nobody_is_in_is_left_out_and_said() -> None:
    outcome, x = cumulative(3, 300, 0.0)
    wider = np.array([0, 1, 3, 4])[outcome]
    fit = proportional_odds(wider, x, NAMES, levels=("none", "I", "II", "III", "IV", "V"))
    plain = proportional_odds(outcome, x, NAMES, levels=LEVELS)
    assert fit.coefficients == pytest.approx(plain.coefficients)
    assert fit.remarks == ("nobody is at II, V, so that the model has no such level",)
    assert fit.extra["cuts"] == ("at least I", "at least III", "at least IV")


@given(st.integers(0, 10_000))
@UNHURRIED
def test_two_levels_are_a_logistic_model(seed: int) -> None:
    outcome, x = cumulative(seed, 200, 0.0)
    yes, cluster = (outcome > 0).astype(int), np.arange(200) // 3
    one = proportional_odds(yes, x, NAMES, levels=("no", "yes"), cluster=cluster)
    other = logistic(yes, x, NAMES, cluster=cluster)
    assert one.coefficients * [-1, 1, 1] == pytest.approx(other.coefficients, rel=1e-5, abs=1e-7)
    assert one.standard_errors == pytest.approx(other.standard_errors, rel=1e-5)
    assert one.log_likelihood == pytest.approx(other.log_likelihood)


@given(st.integers(0, 10_000))
@UNHURRIED
def test_turning_the_levels_round_turns_the_odds_ratios_round(seed: int) -> None:
    outcome, x = cumulative(seed, 300, 0.0)
    one = slopes(proportional_odds(outcome, x, NAMES, levels=LEVELS))
    other = slopes(proportional_odds(3 - outcome, x, NAMES, levels=LEVELS[::-1]))
    for before, after in zip(one, other, strict=True):
        assert (1 / after.estimate, 1 / after.high, 1 / after.low) == pytest.approx(
            (before.estimate, before.low, before.high), rel=1e-5
        )


@given(st.integers(0, 10_000), st.booleans())
@UNHURRIED
def test_chances_are_chances_and_average_to_the_cohort_s(seed: int, partly: bool) -> None:
    outcome, x = cumulative(seed, 300, 0.3)
    try:
        fit = (
            partial_odds(outcome, x, NAMES, levels=LEVELS, free=[2])
            if partly
            else proportional_odds(outcome, x, NAMES, levels=LEVELS)
        )
    except NotEstimable as fault:
        assert partly and ("cross" in str(fault) or "separated" in str(fault))
        return
    made = level_chances(fit, x, NAMES)
    assert (made >= 0).all() and made.sum(axis=1) == pytest.approx(np.ones(300))
    found = standardised_levels(fit, x, NAMES)
    assert [each.estimate for each in found] == pytest.approx(1 - np.cumsum(made.mean(axis=0))[:-1])
    assert all(each.low < each.estimate < each.high for each in found)


def test_rows_shuffled_give_the_same_and_a_row_a_cluster_is_near_the_model_s_own() -> None:
    outcome, x = cumulative(5, 2000, 0.0)
    order, cluster = np.random.default_rng(1).permutation(2000), np.arange(2000) // 2
    one = proportional_odds(outcome, x, NAMES, levels=LEVELS, cluster=cluster)
    other = proportional_odds(outcome[order], x[order], NAMES, levels=LEVELS, cluster=cluster[order])
    assert other.covariance == pytest.approx(one.covariance, rel=1e-6)
    plain = proportional_odds(outcome, x, NAMES, levels=LEVELS)
    assert one.standard_errors == pytest.approx(plain.standard_errors, rel=0.1)


def test_a_partial_model_with_every_cut_alike_is_the_proportional_one_and_reads_by_cut() -> None:
    outcome, x = cumulative(6, 20_000, 0.4)
    fit = partial_odds(outcome, x, NAMES, levels=LEVELS, free=[2])
    by_cut = effects_by_cut(fit, "z")
    assert [each.label for each in by_cut] == ["at least I", "at least II", "at least III"]
    for at, found in enumerate(by_cut):
        assert np.log(found.estimate) == pytest.approx(0.5 + 0.4 * at, abs=3 * found.standard_error)
        split = logistic(outcome > at, x, NAMES)
        assert found.estimate == pytest.approx(np.exp(split.coefficients[2]), rel=0.05)
    assert same_over_cuts(fit, ["z"]).p < 1e-6
    with pytest.raises(ValueError, match="one effect over all cuts in this fit; free are: z"):
        effects_by_cut(fit, "x")
    plain = proportional_odds(outcome, x, NAMES, levels=LEVELS)
    assert fit.log_likelihood > plain.log_likelihood


@pytest.mark.parametrize("free", [[], [0], [3]])
def test_free_columns_must_be_columns(free: list[int]) -> None:
    outcome, x = cumulative(7, 200, 0.0)
    with pytest.raises(ValueError, match="columns of x beyond the intercept"):
        partial_odds(outcome, x, NAMES, levels=LEVELS, free=free)


def test_lines_that_cross_among_the_rows_are_refused() -> None:
    """The two cuts' lines meet near z = -2, where some rows still lie: the level between would have less than none."""
    draw = np.random.default_rng(1)
    z = draw.normal(size=400)
    chance = draw.random(400)
    outcome = (chance > 1 / (1 + np.exp(0.3 + z))).astype(int) + (chance > 1 / (1 + np.exp(-0.3 + 0.2 * z)))
    x = np.column_stack([np.ones(400), z])
    with pytest.raises(NotEstimable, match="rows a chance below 0 of being at I: its lines cross within the data"):
        partial_odds(outcome, x, NAMES[:2], levels=LEVELS[:3], free=[1])
    lower = (chance > 1 / (1 + np.exp(0.3 + z))).astype(int) + (chance > 1 / (1 + np.exp(-2.0 + 0.8 * z)))
    fit = partial_odds(lower, x, NAMES[:2], levels=LEVELS[:3], free=[1])  # the neighbour that runs: cuts further apart
    assert (level_chances(fit, x, NAMES[:2]) >= 0).all()


TERMS = {"x": [1], "z": [2]}


def test_the_term_that_breaks_the_assumption_is_found_and_freed() -> None:
    outcome, x = cumulative(8, 3000, 0.6)
    found = ordered_model(outcome, x, NAMES, levels=LEVELS, terms=TERMS)
    assert found.freed == ("z",) and found.partial is not None
    assert found.tests.overall.p < 0.001 and found.tests.overall.df == 4
    assert [each.test for each in found.tests.terms] == ["likelihood ratio"] * 2
    clustered = ordered_model(outcome, x, NAMES, levels=LEVELS, terms=TERMS, cluster=np.arange(3000) // 2)
    assert [each.test for each in clustered.tests.terms] == ["Wald, cluster-robust"] * 2
    assert clustered.freed == ("z",)
    assert clustered.tests.overall.statistic == pytest.approx(found.tests.overall.statistic, rel=0.2)


def test_where_it_holds_nothing_is_freed() -> None:
    outcome, x = cumulative(10, 1000, 0.0)
    found = ordered_model(outcome, x, NAMES, levels=LEVELS, terms=TERMS, below=0.001)
    assert (found.freed, found.partial) == ((), None)
    assert found.reason == "no term's test has p under 0.001"


def test_brant_is_not_computable_when_a_cut_is_separated_and_says_so() -> None:
    outcome, x = cumulative(9, 300, 0.0)
    outcome = np.where((outcome == 3) & (x[:, 2] == 1), 2, outcome)  # nobody with z reaches III
    found = proportionality(outcome, x, NAMES, levels=LEVELS, terms=TERMS)
    assert found.overall.p is None
    assert "not computable at the cut at least III: The outcome is separated by z" in (found.overall.reason or "")
    assert found.terms[0].p is not None
    assert found.terms[1].p is None and "separated by" in (found.terms[1].reason or "")


def test_cuts_with_too_few_rows_are_not_tested_until_levels_are_joined() -> None:
    outcome, x = cumulative(13, 1000, 0.0)
    rare = np.where(outcome == 3, 2, outcome)
    rare[:4] = 3
    found = proportionality(rare, x, NAMES, levels=LEVELS, terms=TERMS)
    assert {each.p for each in (found.overall, *found.columns, *found.terms)} == {None}
    assert "at the cut at least III: 4 rows on its rarer side" in (found.terms[0].reason or "")
    joined, names = with_top_joined(rare, LEVELS, "II")
    assert names == ("none", "I", "II or above")
    again = proportionality(joined, x, NAMES, levels=names, terms=TERMS)
    assert all(each.p is not None for each in (again.overall, *again.columns, *again.terms))
    with pytest.raises(ValueError, match="'none' is no level above the lowest; they are I, II, III"):
        with_top_joined(rare, LEVELS, "none")


def test_two_levels_have_nothing_to_compare() -> None:
    outcome, x = cumulative(12, 200, 0.0)
    found = proportionality(outcome > 0, x, NAMES, levels=("no", "yes"), terms=TERMS)
    assert {each.reason for each in (found.overall, *found.columns, *found.terms)} == {
        "there are two levels and so one cut: nothing to compare"
    }
