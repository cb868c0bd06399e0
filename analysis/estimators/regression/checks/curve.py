"""The calibration curve: what happened against what was predicted, smoothed and in groups of like risk."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.calibration import RiskGroup, risk_groups
from analysis.estimators.regression.fitted import FloatArray

SMOOTH = "locally weighted line (lowess), span 2/3"
SPAN, POINTS = 2 / 3, 100


@dataclass(frozen=True, kw_only=True)
class CalibrationCurve:
    """predicted, observed: points of the smooth curve, within the predictions met. groups: of like risk. mean_gap:
    mean distance of the curve from the predictions; largest_gap. reason: why there is no smooth curve."""

    predicted: tuple[float, ...]
    observed: tuple[float, ...]
    groups: tuple[RiskGroup, ...]
    mean_gap: float | None
    largest_gap: float | None
    n: int
    method: str = SMOOTH
    reason: str | None = None


def calibration_curve(
    outcome: npt.ArrayLike, probability: npt.ArrayLike, *, groups: int = 10, level: float = 0.95
) -> CalibrationCurve:
    """The curve by Cleveland's lowess (J Am Stat Assoc 1979;74:829-836; without robust steps, as for 0 and 1), by
    statsmodels, and groups of like risk with Wilson's interval.

    outcome: 0 or 1, shape (rows,). probability: shape (rows,). mean_gap: Austin PC, Steyerberg EW, Stat Med
    2019;38:4051-4065 [from memory]. No smooth curve with fewer than 10 different predictions. Raises ValueError as
    `analysis.estimators.calibration.risk_groups`.
    """
    from statsmodels.nonparametric.smoothers_lowess import lowess

    grouped = risk_groups(outcome, probability, groups=groups, level=level)
    y, p = np.asarray(outcome, dtype=np.float64), np.asarray(probability, dtype=np.float64)
    distinct = len(np.unique(p))
    if distinct < POINTS // 10:
        return CalibrationCurve(
            predicted=(),
            observed=(),
            groups=grouped,
            mean_gap=None,
            largest_gap=None,
            n=len(y),
            reason=f"{distinct} different predictions: too few for a smooth curve",
        )
    order = np.argsort(p, kind="stable")
    smooth: FloatArray = lowess(
        y[order], p[order], frac=SPAN, it=0, delta=0.01 * float(np.ptp(p)), is_sorted=True, return_sorted=False
    )
    inside = np.clip(smooth, 0.0, 1.0)
    gap = np.abs(inside - p[order])
    at = np.linspace(float(p.min()), float(p.max()), POINTS)
    drawn = np.interp(at, p[order], inside)
    return CalibrationCurve(
        predicted=tuple(float(value) for value in at),
        observed=tuple(float(value) for value in drawn),
        groups=grouped,
        mean_gap=float(gap.mean()),
        largest_gap=float(gap.max()),
        n=len(y),
    )
