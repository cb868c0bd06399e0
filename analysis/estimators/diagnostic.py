"""How well a yes-or-no judgement foretells a reference that is itself yes or no."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.estimators.proportions import Interval, ProportionMethod, normal_quantile, proportion_interval

Share = tuple[float | None, Interval, int]


@dataclass(frozen=True)
class LikelihoodRatio:
    """estimate, low, high may each be None; then reason says why."""

    estimate: float | None
    low: float | None
    high: float | None
    reason: str | None = None


@dataclass(frozen=True)
class Accuracy:
    """Shares as (estimate, interval, n); None, and limits of None, where nobody stands in n.

    sensitivity: judged positive among the truly positive; specificity: judged negative among the truly negative;
    ppv and npv: truly so among those judged positive and negative. youden: sensitivity + specificity - 1. odds_ratio:
    tp tn / (fp fn), None when a cell is empty.
    """

    sensitivity: Share
    specificity: Share
    ppv: Share
    npv: Share
    positive_ratio: LikelihoodRatio
    negative_ratio: LikelihoodRatio
    youden: float | None
    odds_ratio: float | None
    n: int


def accuracy(
    *, tp: int, fp: int, fn: int, tn: int, interval: ProportionMethod = "wilson", level: float = 0.95
) -> Accuracy:
    """Accuracy of a judgement against a reference, from the four counts.

    tp, fp: judged positive, and truly so or not; fn, tn: judged negative. The likelihood ratios, se / (1 - sp) and
    (1 - se) / sp, have limits on the log scale with variance (1 - se)/(n+ se) + sp/(n- (1 - sp)) and its mirror:
    Simel DL, Samsa GP, Matchar DB, J Clin Epidemiol 1991;44:763-770. Raises ValueError for counts below 0, or level.
    """
    for name, count in (("tp", tp), ("fp", fp), ("fn", fn), ("tn", tn)):
        if count < 0:
            raise ValueError(f"{name} is {count}; a count cannot be below 0.")

    def share(events: int, n: int) -> Share:
        made = proportion_interval(events=events, n=n, method=interval, level=level)
        return (events / n if n else None), made, n

    sensitivity, specificity = share(tp, tp + fn), share(tn, tn + fp)
    se, sp = sensitivity[0], specificity[0]
    return Accuracy(
        sensitivity=sensitivity,
        specificity=specificity,
        ppv=share(tp, tp + fp),
        npv=share(tn, tn + fn),
        positive_ratio=_ratio(tp, tp + fn, fp, tn + fp, level),
        negative_ratio=_ratio(fn, tp + fn, tn, tn + fp, level),
        youden=None if se is None or sp is None else se + sp - 1,
        odds_ratio=tp * tn / (fp * fn) if fp * fn else None,
        n=tp + fp + fn + tn,
    )


def _ratio(of_positive: int, positive: int, of_negative: int, negative: int, level: float) -> LikelihoodRatio:
    """A judgement's share among the truly positive over its share among the truly negative."""
    z = normal_quantile(level=level)
    if not positive or not negative:
        return LikelihoodRatio(None, None, None, "nobody is truly positive, or nobody truly negative")
    if not of_negative:
        return LikelihoodRatio(None, None, None, "nobody truly negative was judged so, and the ratio has no limit")
    if not of_positive:
        return LikelihoodRatio(0.0, None, None, "nobody truly positive was judged so")
    value = (of_positive / positive) / (of_negative / negative)
    variance = 1 / of_positive - 1 / positive + 1 / of_negative - 1 / negative
    if variance <= 0:
        return LikelihoodRatio(value, None, None, "everybody was judged alike")
    reach = z * math.sqrt(variance)
    return LikelihoodRatio(value, value * math.exp(-reach), value * math.exp(reach))
