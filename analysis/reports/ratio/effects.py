"""What a fitted model says of its exposure: effects, tests, risks at each value, and one value against another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from analysis.estimators.pooled_regression import pooled_effect, pooled_wald
from analysis.estimators.regression.fitted import Effect, FloatArray, NotEstimable, WaldTest, effect, wald_test
from analysis.estimators.regression.ordinal import slope_places
from analysis.estimators.regression.standardised_risk import (
    Standardised,
    standardised_contrasts,
    standardised_risks,
)
from analysis.estimators.rubin import pool
from analysis.reports.ratio.fitting import Made

WITHIN = (
    "an intercept for each cluster makes effects hold within a cluster; a risk of the whole cohort would need its "
    'spread too and is not worked out (write method = "equations" or "robust" under [cluster] for it)'
)


@dataclass(frozen=True)
class At:
    """The standardised risk, chance or mean at one value of the exposure; measure: of which outcome."""

    value: Any
    measure: str
    found: Standardised


def exposure_effects(made: Made) -> list[Effect]:
    """The effect of each column of the exposure; none of a spline, whose columns have no meaning alone."""
    if made.exposure.shape == "spline":
        return []
    labels = [_label(made, at) for at in made.places]
    if made.model.fit == "firth":
        from analysis.estimators.regression.firth import profile_effects

        return profile_effects(made.fit, made.y, made.design.x, made.places, labels, level=made.model.level)
    return [_effect(made, _weights(made, at), label) for at, label in _pairs(made, labels)]


def headline(made: Made) -> list[Effect]:
    """The effects that stand for the model: those of the exposure's columns, or of a spline its contrast."""
    found = exposure_effects(made)
    if found:
        return found
    first, second = made.model.contrast or ends(made)
    return [conditional(made, first, second)]


def ends(made: Made) -> tuple[float, float]:
    """Two observed values that hold most of the rows between them: near the 90th and the 10th percentile."""
    values = made.frame[made.exposure.column].to_numpy(dtype=np.float64)
    low, high = np.quantile(values, [0.1, 0.9], method="nearest")
    if low == high:
        low, high = values.min(), values.max()
    return float(high), float(low)


def conditional(made: Made, first: Any, second: Any) -> Effect:
    """One value of the exposure against another, everything else alike (averaged over the cohort with products)."""
    along = (coded(made, first) - coded(made, second)).mean(axis=0)
    if made.ordered is not None:
        weights = np.zeros(len(made.fit.coefficients))
        weights[slope_places(made.fit, np.arange(1, len(along)))] = along[1:]
    else:
        weights = along
    return _effect(made, weights, f"{shown(first)} against {shown(second)}")


def tests(made: Made) -> list[WaldTest]:
    """Whether the exposure matters at all, whether a spline bends, whether products are there."""
    every = [at for at, one in enumerate(made.design.columns) if made.exposure.column in one.term.split(":")]
    asked: list[tuple[str, Sequence[int]]] = [(f"{made.exposure.column} matters", every)]
    if made.exposure.shape == "spline":
        curved = [int(at) for at in made.design.curved_places(made.exposure.column)]
        asked.append((f"{made.exposure.column} is not a straight line", curved))
    for one in made.model.interactions:
        product = [int(at) for at in made.design.places(f"{one.first}:{one.second}")]
        if product:
            asked.append((f"the effect of {one.first} differs with {one.second}", product))
    found = []
    for label, places in asked:
        at = slope_places(made.fit, places) if made.ordered is not None else np.asarray(places, dtype=np.int64)
        try:
            found.append(wald_test(made.fit, at, label) if made.pooled is None else pooled_wald(made.pooled, at, label))
        except NotEstimable as fault:
            found.append(WaldTest(label=f"{label}: {fault}", statistic=np.nan, df=len(at), p=np.nan, test="none"))
    return found


def risks(made: Made, values: Sequence[Any]) -> list[At]:
    """The standardised risk (chance, mean) of the rows at each value, all else as it is.

    Raises NotEstimable where the model has none.
    """
    if made.model.cluster_method == "mixed" and made.model.fit != "firth" and made.cluster is not None:
        raise NotEstimable(WITHIN)
    if made.imputed:
        return _risks_over(made, values)
    matrices = [coded(made, value) for value in values]
    labels = [shown(value) for value in values]
    level = made.model.level
    if made.ordered is not None:
        from analysis.estimators.regression.level_chances import standardised_levels

        return [
            At(value, one.label, one)
            for value, x in zip(values, matrices, strict=True)
            for one in standardised_levels(made.fit, x, made.design.names, level=level)
        ]
    if made.rows.kind == "yes_no":
        found = standardised_risks(made.fit, matrices, labels, level=level)
    else:
        from analysis.estimators.regression.standardised_mean import standardised_means

        found = standardised_means(made.fit, matrices, labels, level=level)
    return [At(value, made.rows.measured, one) for value, one in zip(values, found, strict=True)]


def contrasts(made: Made, first: Any, second: Any) -> list[Standardised]:
    """Standardised differences and ratios of the first value against the second. Raises NotEstimable as `risks`."""
    if made.model.cluster_method == "mixed" and made.model.fit != "firth" and made.cluster is not None:
        raise NotEstimable(WITHIN)
    if made.ordered is not None:
        raise NotEstimable("of an ordered outcome the chances of each grade stand in the table above")
    if made.imputed:
        every = [contrasts(one, first, second) for one in made.imputed]
        return [_pooled(made, [each[at] for each in every]) for at in range(len(every[0]))]
    index, comparator = coded(made, first), coded(made, second)
    if made.rows.kind == "yes_no":
        found = standardised_contrasts(made.fit, index, comparator, level=made.model.level)
        return [found["difference"], found["ratio"], found["odds_ratio"]]
    from analysis.estimators.regression.standardised_mean import standardised_mean_difference

    return [standardised_mean_difference(made.fit, index, comparator, level=made.model.level)]


def coded(made: Made, value: Any) -> FloatArray:
    """The design of the model's rows if all had one value of the exposure, shape (rows, p)."""
    frame = made.frame.drop(columns=[made.exposure.column]).assign(
        **{made.exposure.column: float(value) if not isinstance(value, str) else value}
    )
    return made.design.encode(frame)


def shown(value: Any) -> str:
    """A value of the exposure as it is written."""
    return value if isinstance(value, str) else f"{float(value):.4g}"


def _effect(made: Made, weights: FloatArray, label: str) -> Effect:
    if made.pooled is not None:
        return pooled_effect(made.pooled, weights, label, level=made.model.level).effect
    return effect(made.fit, weights, label, level=made.model.level)


def _risks_over(made: Made, values: Sequence[Any]) -> list[At]:
    every = [risks(one, values) for one in made.imputed]
    return [
        At(one.value, one.measure, _pooled(made, [each[at].found for each in every], share=_share(made)))
        for at, one in enumerate(every[0])
    ]


def _share(made: Made) -> bool:
    return made.rows.kind in ("yes_no", "ordered")


def _pooled(made: Made, found: Sequence[Standardised], *, share: bool = False) -> Standardised:
    """The same estimate of every completed data set by Rubin's rules: a share on the log odds, a ratio on its log."""
    first = found[0]
    values = np.array([one.estimate for one in found])
    errors = np.array([one.standard_error for one in found])
    ratio = "ratio" in first.label
    if share:
        scaled, errors = np.log(values / (1 - values)), errors / (values * (1 - values))
    else:
        scaled = np.log(values) if ratio else values
    complete = made.pooled.complete_df if made.pooled is not None else np.inf
    held = pool(scaled.tolist(), (errors**2).tolist(), complete, level=made.model.level)

    def back(value: float) -> float:
        if share:
            return float(1 / (1 + np.exp(-value)))
        return float(np.exp(value)) if ratio else value

    return replace(
        first,
        estimate=back(held.estimate),
        low=back(held.low),
        high=back(held.high),
        standard_error=held.se,
        method=f"{first.method}; pooled over {len(found)} imputations",
    )


def _pairs(made: Made, labels: Sequence[str]) -> list[tuple[int, str]]:
    return list(zip(made.places, labels, strict=True))


def _weights(made: Made, place: int) -> FloatArray:
    at = int(slope_places(made.fit, [place])[0]) if made.ordered is not None else place
    weights: FloatArray = np.zeros(len(made.fit.coefficients))
    weights[at] = 1.0
    return weights


def _label(made: Made, place: int) -> str:
    term, column = made.exposure, made.design.columns[place]
    if term.shape == "linear":
        return f"{term.column}, per +{term.per:g}" if term.per != 1 else f"{term.column}, per +1"
    reference = made.design.levels[term.column][0]
    return f"{column.label.removeprefix(f'{term.column}: ')} against {reference}"
