"""Whether one odds ratio over all cuts is right: Brant's test, a test for each term, and the model that follows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.clustering import Correction, cluster_covariance
from analysis.estimators.regression.cumulative import Cumulative
from analysis.estimators.regression.fitted import Fitted, FloatArray, NotEstimable
from analysis.estimators.regression.logistic import logistic
from analysis.estimators.regression.ordered_levels import Levels, ordered_levels
from analysis.estimators.regression.ordinal import proportional_odds
from analysis.estimators.regression.partial_odds import partial_odds, same_over_cuts

FEWEST = 5
"""How many rows each cut must have on its rarer side for every column tested there, or the test is not computable."""
TWO_LEVELS = "there are two levels and so one cut: nothing to compare"


@dataclass(frozen=True, kw_only=True)
class ProportionTest:
    """A chi-squared test that effects are alike at every cut; all None with the reason where it is not computable."""

    label: str
    test: str
    statistic: float | None = None
    df: int | None = None
    p: float | None = None
    reason: str | None = None


@dataclass(frozen=True, kw_only=True)
class Proportionality:
    """overall: Brant's test of all columns. columns: Brant's of each. terms: of each term, the others held common."""

    overall: ProportionTest
    columns: tuple[ProportionTest, ...]
    terms: tuple[ProportionTest, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Ordered:
    """proportional: the fit with one effect each. tests. partial: with the terms in `freed` cut by cut, None when the
    assumption stands or the partial model cannot be had (`reason`)."""

    proportional: Fitted
    tests: Proportionality
    freed: tuple[str, ...]
    partial: Fitted | None
    reason: str | None


def proportionality(
    outcome: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    levels: Sequence[str],
    terms: Mapping[str, npt.ArrayLike],
    cluster: npt.ArrayLike | None = None,
    correction: Correction = "CR1",
) -> Proportionality:
    """Test the assumption of `proportional_odds`; arguments as there. terms: of each its places in x.

    Brant R, Biometrics 1990;46:1171-1178: the logistic models of every cut, compared by a Wald test with their joint
    covariance; with clusters that covariance is the sandwich over them. Not computable when a cut is separated, or has
    fewer than 5 rows a column on its rarer side (our choice: such tests reject far too often). Terms:
    likelihood ratio against the model with that term free; with clusters, where rows' likelihoods do not multiply, the
    cluster-robust Wald test in that model. Raises as `proportional_odds`.
    """
    made = ordered_levels(outcome, levels)
    brant = _brant(made, x, names, cluster, correction)
    common = proportional_odds(outcome, x, names, levels=levels, events_per_parameter=0)
    tests = []
    for label, places in terms.items():
        at = np.asarray(places, dtype=np.int64)
        tests.append(_of_term(label, at, outcome, x, names, levels, common, cluster, correction))
    return Proportionality(overall=brant[0], columns=brant[1:], terms=tuple(tests))


def ordered_model(
    outcome: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    levels: Sequence[str],
    terms: Mapping[str, npt.ArrayLike],
    cluster: npt.ArrayLike | None = None,
    correction: Correction = "CR1",
    below: float = 0.05,
    events_per_parameter: float = 10.0,
    force: bool = False,
) -> Ordered:
    """The proportional model, its tests, and the partial model that frees the terms whose test has p under `below`.

    Terms chosen by their own test: limits of the partial model do not allow for that choice. Raises as
    `proportional_odds`.
    """
    fit = proportional_odds(
        outcome,
        x,
        names,
        levels=levels,
        cluster=cluster,
        correction=correction,
        events_per_parameter=events_per_parameter,
        force=force,
    )
    tests = proportionality(outcome, x, names, levels=levels, terms=terms, cluster=cluster, correction=correction)
    freed = tuple(each.label for each in tests.terms if each.p is not None and each.p < below)
    if not freed:
        untested = [each.label for each in tests.terms if each.p is None]
        reason = f"no term's test has p under {below:g}"
        if untested:
            reason += f"; not testable: {', '.join(untested)}"
        return Ordered(proportional=fit, tests=tests, freed=(), partial=None, reason=reason)
    places = np.concatenate([np.atleast_1d(np.asarray(terms[label], dtype=np.int64)) for label in freed])
    try:
        partial = partial_odds(
            outcome,
            x,
            names,
            levels=levels,
            free=places,
            cluster=cluster,
            correction=correction,
            events_per_parameter=events_per_parameter,
            force=force,
        )
    except NotEstimable as fault:
        return Ordered(proportional=fit, tests=tests, freed=freed, partial=None, reason=str(fault))
    return Ordered(proportional=fit, tests=tests, freed=freed, partial=partial, reason=None)


def _of_term(
    label: str,
    places: npt.NDArray[np.int64],
    outcome: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    levels: Sequence[str],
    common: Fitted,
    cluster: npt.ArrayLike | None,
    correction: Correction,
) -> ProportionTest:
    from scipy import stats

    test = "likelihood ratio" if cluster is None else "Wald, cluster-robust"
    cuts = len(common.extra["cuts"])
    if cuts < 2:
        return ProportionTest(label=label, test=test, reason=TWO_LEVELS)
    made = ordered_levels(outcome, levels)
    few = _too_few(made, len(places))
    if few is not None:
        return ProportionTest(label=label, test=test, reason=few)
    try:
        if cluster is not None:
            fit = partial_odds(
                outcome,
                x,
                names,
                levels=levels,
                free=places,
                cluster=cluster,
                correction=correction,
                events_per_parameter=0,
            )
            joint = same_over_cuts(fit, fit.extra["free"])
            return ProportionTest(label=label, test=test, statistic=joint.statistic, df=joint.df, p=joint.p)
        value = 2 * (_likelihood_free(made, x, names, places) - float(common.log_likelihood or 0.0))
    except NotEstimable as fault:
        return ProportionTest(label=label, test=test, reason=str(fault))
    df = (cuts - 1) * len(places)
    return ProportionTest(
        label=label, test=test, statistic=max(value, 0.0), df=df, p=float(stats.chi2.sf(max(value, 0.0), df))
    )


def _too_few(levels: Levels, columns: int) -> str | None:
    """Why a test of so many columns at every cut is not computable, by the first cut that has too few rows."""
    above = np.cumsum(levels.counts[::-1])[::-1][1:]
    for words, many in zip(levels.cuts, above.tolist(), strict=True):
        rarer = min(many, len(levels.code) - many)
        if rarer < FEWEST * columns:
            return (
                f"not computable at the cut {words}: {rarer:,} rows on its rarer side, of columns {columns}, which is "
                f"fewer than {FEWEST} a column; join levels"
            )
    return None


def _likelihood_free(levels: Levels, x: FloatArray, names: Sequence[str], places: npt.NDArray[np.int64]) -> float:
    """Of the model with the columns free. Lines that cross where nobody is do not matter to a likelihood."""
    from analysis.estimators.regression.ordinal import fit_or_refuse

    own = x[:, places]
    rest = np.delete(x, np.concatenate([[0], places]), axis=1)
    model = Cumulative(levels.code, rest, own, len(levels.cuts))
    kept = [name for at, name in enumerate(names) if at and at not in places]
    labels = [*levels.cuts, *kept, *(names[at] for _ in levels.cuts for at in places)]
    return fit_or_refuse(model, labels).log_likelihood


def _brant(
    levels: Levels, x: FloatArray, names: Sequence[str], cluster: npt.ArrayLike | None, correction: Correction
) -> tuple[ProportionTest, ...]:
    test = "Brant" if cluster is None else "Brant, cluster-robust"
    labels = ["all columns", *names[1:]]
    cuts, width = len(levels.cuts), x.shape[1]

    def without(reason: str) -> tuple[ProportionTest, ...]:
        return tuple(ProportionTest(label=label, test=test, reason=reason) for label in labels)

    if cuts < 2:
        return without(TWO_LEVELS)
    few = _too_few(levels, width - 1)
    if few is not None:
        return without(few)
    fits = []
    for above, words in enumerate(levels.cuts):
        try:
            fits.append(logistic(levels.code > above, x, names, events_per_parameter=0).coefficients)
        except NotEstimable as fault:
            return without(f"not computable at the cut {words}: {fault}")
    b = np.concatenate(fits)
    covariance = _joint(levels, x, fits, cluster, correction)
    slopes = np.arange(1, width)
    turn = np.zeros(((cuts - 1) * len(slopes), cuts * width))
    for cut in range(1, cuts):
        for at in slopes:
            row = (cut - 1) * len(slopes) + at - 1
            turn[row, at], turn[row, cut * width + at] = -1.0, 1.0
    groups = [np.arange(len(turn)), *(np.arange(at, len(turn), len(slopes)) for at in range(len(slopes)))]
    return tuple(_wald(turn[group], b, covariance, label, test) for group, label in zip(groups, labels, strict=True))


def _joint(
    levels: Levels,
    x: FloatArray,
    fits: Sequence[FloatArray],
    cluster: npt.ArrayLike | None,
    correction: Correction,
) -> FloatArray:
    """Covariance of the coefficients of all cuts. Independent rows: the chance of lying above both of two cuts is that
    of the higher, so that cov = p_high - p_low p_high."""
    chance = [1 / (1 + np.exp(-(x @ b))) for b in fits]
    breads = [np.linalg.inv((x * (p * (1 - p))[:, None]).T @ x) for p in chance]
    cuts, width = len(fits), x.shape[1]
    whole = np.zeros((cuts * width, cuts * width))
    for at, bread in enumerate(breads):
        whole[at * width : (at + 1) * width, at * width : (at + 1) * width] = bread
    if cluster is not None:
        scores = np.hstack([x * ((levels.code > at) - p)[:, None] for at, p in enumerate(chance)])
        return cluster_covariance(bread=whole, scores=scores, cluster=cluster, correction=correction)[0]
    for low in range(cuts):
        for high in range(low + 1, cuts):
            w = chance[high] - chance[low] * chance[high]
            between = breads[low] @ ((x * w[:, None]).T @ x) @ breads[high]
            whole[low * width : (low + 1) * width, high * width : (high + 1) * width] = between
            whole[high * width : (high + 1) * width, low * width : (low + 1) * width] = between.T
    return whole


def _wald(turn: FloatArray, b: FloatArray, covariance: FloatArray, label: str, test: str) -> ProportionTest:
    from scipy import stats

    gap, v = turn @ b, turn @ covariance @ turn.T
    scale = np.sqrt(np.clip(np.diag(v), 1e-300, None))
    if np.linalg.eigvalsh(v / np.outer(scale, scale)).min() < 1e-10:
        return ProportionTest(
            label=label, test=test, reason="not computable: the covariance of the differences cannot be inverted"
        )
    value = float(gap @ np.linalg.solve(v, gap))
    return ProportionTest(
        label=label, test=test, statistic=value, df=len(turn), p=float(stats.chi2.sf(value, len(turn)))
    )
