"""Two groups compared by weighted or imputed rates: the crude effects alone, by the same models."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.estimators.rubin import METHOD as RUBIN
from analysis.estimators.rubin import pool
from analysis.estimators.weighting import METHOD as WEIGHTING
from analysis.reports.request.grouping import BoolArray, Grouping, IntArray
from analysis.reports.request.splits import Contrast
from analysis.reports.stone_free.comparisons import MEASURES, Comparison, ShownEffect, place_of_arm
from analysis.reports.stone_free.imputed import PLACE, ImputedClasses
from analysis.reports.stone_free.modelled_rows import Modelled
from analysis.reports.stone_free.packed import AskedThreshold, Packed
from analysis.reports.stone_free.request import Request
from analysis.reports.stone_free.unscanned_units import eligible_units
from analysis.reports.stone_free.weighted import Weighted, weighted

FloatArray = npt.NDArray[np.float64]


def modelled_comparisons(
    units: Packed, arms: Grouping, request: Request, modelled: Modelled, parts: pd.DataFrame | None
) -> list[Comparison]:
    """The comparisons of the handlings that need a model, at every threshold; none when none was asked for.

    weighted: index and comparator from one model, limits of the bootstrap. imputed: difference, log ratio and log
    odds ratio of each imputation with their variance over patients, pooled by Rubin's rules.
    """
    contrast = request.contrast
    if contrast is None or parts is None:
        return []
    places = [place_of_arm(arms, name, contrast) for name in (contrast.index, contrast.comparator)]
    found = []
    if modelled.weighted is not None:
        again = weighted(
            units,
            arms,
            parts,
            modelled.weighted.covariates,
            seed=request.seed,
            replicates=request.replicates,
            level=request.level,
        )
        found += [_weighted(one, places, again, units, arms, contrast, request.level) for one in units.thresholds]
    if modelled.imputed is not None:
        found += [
            _imputed(one, places, modelled.imputed, units, arms, contrast, request.level) for one in units.thresholds
        ]
    return found


def in_order(comparisons: Sequence[Comparison], request: Request) -> list[Comparison]:
    """Comparisons by threshold and then by handling, in the order asked."""
    codes = [one.code for one in request.definition.thresholds]
    return sorted(
        comparisons, key=lambda one: (codes.index(one.threshold.code), request.unscanned.index(one.unscanned))
    )


def _weighted(
    threshold: AskedThreshold,
    places: list[int],
    found: Weighted,
    units: Packed,
    arms: Grouping,
    contrast: Contrast,
    level: float,
) -> Comparison:
    made, how = found.by_code[threshold.code], found.how[threshold.code]
    counted = eligible_units(units) & (how.observed | how.fixed)
    index, comparator = (made.groups[place] for place in places)
    effects = {}
    for measure in MEASURES:
        reason = index.reason or comparator.reason
        estimate, low, high = None, None, None
        if index.estimate is not None and comparator.estimate is not None:
            estimate = _finite(_effect(measure, index.estimate, comparator.estimate))
            drawn = np.array([_effect(measure, *pair) for pair in made.draws[:, places].tolist()])
            low, high, why = _percentiles(drawn, level)
            reason = reason or ("a rate is 0 or 1" if estimate is None else why)
        effects[measure] = ShownEffect(estimate, None, None, low, high, WEIGHTING, reason)
    free = [int((counted & how.free & (arms.codes == place)).sum()) for place in places]
    rates = (index.estimate, comparator.estimate)
    return _comparison(contrast, threshold, "weighted", free, [index.n, comparator.n], effects, rates)


def _percentiles(drawn: FloatArray, level: float) -> tuple[float | None, float | None, str | None]:
    """Limits over the resamples; an infinite one stands above all others, one without a value is left out."""
    kept = np.sort(drawn[~np.isnan(drawn)])
    if not len(kept) or kept[0] == kept[-1] or kept[-1] - kept[0] < 1e-12:
        return None, None, "every resample gives the same value"
    tail = (1 - level) / 2
    with np.errstate(invalid="ignore"):
        low, high = (float(each) for each in np.quantile(kept, [tail, 1 - tail], method="weibull"))
    why = None if math.isfinite(low) and math.isfinite(high) else "a limit falls on resamples with an infinite value"
    return _finite(low), _finite(high), why


def _imputed(
    threshold: AskedThreshold,
    places: list[int],
    found: ImputedClasses,
    units: Packed,
    arms: Grouping,
    contrast: Contrast,
    level: float,
) -> Comparison:
    inside = eligible_units(units)
    in_arm = [inside & (arms.codes == place) for place in places]
    n = [int(own.sum()) for own in in_arm]
    if found.classes is None or not min(n):
        reason = found.reason or "a group is empty"
        effects = {measure: ShownEffect(None, None, None, None, None, RUBIN, reason) for measure in MEASURES}
        return _comparison(contrast, threshold, "imputed", [0, 0], n, effects, (None, None))
    free = found.classes <= PLACE[threshold.code]
    shares, spreads = _shares(free, in_arm, units.patient)
    patients = len(np.unique(units.patient[in_arm[0] | in_arm[1]]))
    effects = {measure: _pooled(measure, shares, spreads, patients - 2.0, level) for measure in MEASURES}
    events = [round(float(share.mean()) * of) for share, of in zip(shares.T, n, strict=True)]
    rates = (float(shares[:, 0].mean()), float(shares[:, 1].mean()))
    return _comparison(contrast, threshold, "imputed", events, n, effects, rates)


def _shares(
    free: npt.NDArray[np.bool_], in_arm: list[BoolArray], patient: IntArray
) -> tuple[FloatArray, npt.NDArray[np.float64]]:
    """Of each imputation the two shares, shape (m, 2), and their covariance over patients, shape (m, 2, 2)."""
    either = in_arm[0] | in_arm[1]
    _, cluster = np.unique(patient[either], return_inverse=True)
    many = int(cluster.max(initial=-1)) + 1
    shares = np.stack([free[:, own].mean(axis=1) for own in in_arm], axis=1)
    spreads = np.zeros((len(free), 2, 2))
    for at, drawn in enumerate(free):
        scores = np.stack(
            [
                np.bincount(
                    cluster,
                    weights=np.where(own[either], (drawn[either] - shares[at, arm]) / own.sum(), 0.0),
                    minlength=many,
                )
                for arm, own in enumerate(in_arm)
            ]
        )
        spreads[at] = many / max(many - 1, 1) * scores @ scores.T
    return shares, spreads


def _pooled(measure: str, shares: FloatArray, spreads: FloatArray, df: float, level: float) -> ShownEffect:
    lists = shares.tolist()
    if any(a in (0.0, 1.0) or b in (0.0, 1.0) for a, b in lists):
        return ShownEffect(None, None, None, None, None, RUBIN, "an imputation has none or all of a group stone-free")
    if not df > 0:
        return ShownEffect(None, None, None, None, None, RUBIN, "fewer than three patients")
    values = [_scaled(measure, a, b) for a, b in lists]
    turns = [np.array(_slopes(measure, a, b)) for a, b in lists]
    variances = [float(turn @ spread @ turn) for turn, spread in zip(turns, spreads, strict=True)]
    if not min(variances) > 0:
        return ShownEffect(None, None, None, None, None, RUBIN, "nothing varies between patients")
    made = pool(values, variances, df, level=level)
    if measure == "difference":
        return ShownEffect(made.estimate, max(made.low, -1.0), min(made.high, 1.0), None, None, RUBIN, None)
    low, high = math.exp(made.low), math.exp(made.high)
    return ShownEffect(math.exp(made.estimate), low, high, None, None, RUBIN, None)


def _scaled(measure: str, index: float, comparator: float) -> float:
    """The effect on the scale it is pooled on."""
    effect = _effect(measure, index, comparator)
    return effect if measure == "difference" else math.log(effect)


def _slopes(measure: str, index: float, comparator: float) -> tuple[float, float]:
    """Its derivatives by the two rates."""
    if measure == "difference":
        return 1.0, -1.0
    if measure == "ratio":
        return 1 / index, -1 / comparator
    return 1 / (index * (1 - index)), -1 / (comparator * (1 - comparator))


def _effect(measure: str, index: float, comparator: float) -> float:
    """Index minus or over comparator; infinite over nothing, NaN for nothing over nothing."""
    if measure == "difference":
        return index - comparator
    over, under = (
        (index, comparator)
        if measure == "ratio"
        else (
            index * (1 - comparator),
            comparator * (1 - index),
        )
    )
    if under > 0 or math.isnan(under) or math.isnan(over):
        return over / under
    return math.inf if over > 0 else math.nan


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _comparison(
    contrast: Contrast,
    threshold: AskedThreshold,
    mode: str,
    free: list[int],
    n: list[int],
    effects: dict[str, ShownEffect],
    rates: tuple[float | None, float | None],
) -> Comparison:
    return Comparison(
        column=contrast.split.column,
        index=contrast.index,
        comparator=contrast.comparator,
        threshold=threshold,
        unscanned=mode,
        free_index=free[0],
        n_index=n[0],
        free_comparator=free[1],
        n_comparator=n[1],
        effects={"crude": effects},
        standardised_rates=None,
        homogeneity=None,
        strata_left_out=(),
        rates=rates,
    )
