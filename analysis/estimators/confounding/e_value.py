"""How strong an unmeasured confounder would have to be to explain an effect away."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

RatioScale = Literal["risk ratio", "odds ratio", "hazard ratio"]
COMMON = 0.15
"""From this share with the outcome on, an odds or hazard ratio is no longer read as a risk ratio."""
METHOD = "E-value (VanderWeele TJ, Ding P, Ann Intern Med 2017;167:268-274)"


@dataclass(frozen=True, kw_only=True)
class EValue:
    """The risk ratio that a confounder needs with both the exposure and the outcome to explain an effect away.

    point: for the estimate. limit: for the interval's end nearer to 1; 1 when the interval holds 1. risk_ratio: the
    estimate as it was read. reading: how it was made a risk ratio, in words.
    """

    point: float
    limit: float
    risk_ratio: float
    reading: str
    method: str = METHOD


def e_value(
    estimate: float, low: float, high: float, *, scale: RatioScale, outcome_share: float | None = None
) -> EValue:
    """The E-value of a ratio and of its interval.

    estimate, low, high: the ratio and its limits, above 0, of the contrast that is spoken of (per 0.1 of an exposure
    it is another than between its ends). outcome_share: how many of all have the outcome, 0 to 1; needed for an odds
    or a hazard ratio.

    E = R + sqrt(R (R - 1)) for a risk ratio R at or above 1, of 1/R below (VanderWeele TJ, Ding P, Ann Intern Med
    2017;167:268-274). An odds or hazard ratio stands for R when the outcome is rare (below 15 %); when it is common R
    is sqrt(odds ratio), or (1 - 0.5^sqrt(h)) / (1 - 0.5^sqrt(1/h)) of a hazard ratio h (the same article; the hazard
    ratio's from memory).

    Raises ValueError for limits that do not hold the estimate, numbers not above 0, or no share where one is needed.
    """
    if not (0 < low <= estimate <= high < math.inf):
        raise ValueError(f"A ratio above 0 within its limits is needed, not {estimate:g} ({low:g} to {high:g}).")
    if scale != "risk ratio" and (outcome_share is None or not 0 <= outcome_share <= 1):
        raise ValueError(f"The share with the outcome, 0 to 1, is needed to read a {scale} as a risk ratio.")
    common = outcome_share is not None and outcome_share >= COMMON
    ratio, nearer, further = (_as_risk_ratio(value, scale, common=common) for value in (estimate, low, high))
    if estimate < 1:
        ratio, nearer = 1 / ratio, 1 / further
    return EValue(
        point=_of(ratio),
        limit=_of(max(nearer, 1.0)),
        risk_ratio=_as_risk_ratio(estimate, scale, common=common),
        reading=_reading(scale, common=common),
    )


def bias_factor(exposure_confounder: float, confounder_outcome: float) -> float:
    """The most by which a confounder of these two risk ratios can move a risk ratio: a b / (a + b - 1).

    exposure_confounder: how much commoner the confounder is among the exposed, 1 or more. confounder_outcome: its risk
    ratio for the outcome, 1 or more. Ding P, VanderWeele TJ, Epidemiology 2016;27:368-377 (from memory). Raises
    ValueError below 1.
    """
    if not (1 <= exposure_confounder < math.inf and 1 <= confounder_outcome < math.inf):
        raise ValueError("The two risk ratios of a confounder are taken as 1 or more; turn them round if below.")
    return exposure_confounder * confounder_outcome / (exposure_confounder + confounder_outcome - 1)


def _of(ratio: float) -> float:
    return ratio + math.sqrt(ratio * (ratio - 1))


def _as_risk_ratio(value: float, scale: RatioScale, *, common: bool) -> float:
    if scale == "risk ratio" or not common:
        return value
    if scale == "odds ratio":
        return math.sqrt(value)
    root = math.sqrt(value)
    return math.expm1(-root * math.log(2)) / math.expm1(-math.log(2) / root)


def _reading(scale: RatioScale, *, common: bool) -> str:
    if scale == "risk ratio":
        return "a risk ratio as it is"
    if not common:
        return f"{scale} of a rare outcome (below {COMMON:.0%}) read as a risk ratio"
    how = "its square root" if scale == "odds ratio" else "(1 - 0.5^sqrt(h)) / (1 - 0.5^sqrt(1/h))"
    return f"{scale} of a common outcome ({COMMON:.0%} or more) read as a risk ratio by {how}"
