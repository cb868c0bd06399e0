"""The model of Fine and Gray: how columns go with the cumulative incidence of one event among several.

No library at hand has its error right with rows that go together (two kidneys of one patient), so that it is written
here, on sums over times.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.clustering import Correction, cluster_covariance
from analysis.estimators.regression.fitted import Fitted, FloatArray, NotEstimable
from analysis.estimators.survival.cox_likelihood import within_reach
from analysis.estimators.survival.follow_up import BoolArray, Causes, IntArray, causes
from analysis.estimators.survival.influence import coded_clusters

MOST_STEPS, SETTLED, VAGUE = 40, 1e-9, 20.0


@dataclass(frozen=True, eq=False)
class _Setting:
    """Rows by rising time. own, other: whether each had the event, or another. moments: times of the event, with d of
    them at each. at: of each row how many moments are at its time or before. risk_from: of each moment the first row
    still followed; others_before: how many had another event before it. free: chance of not being censored, just
    before each row's time and just before each moment."""

    time: FloatArray
    own: BoolArray
    other: BoolArray
    x: FloatArray
    moments: FloatArray
    d: FloatArray
    at: IntArray
    risk_from: IntArray
    others_before: IntArray
    free_row: FloatArray
    free_moment: FloatArray


@dataclass(frozen=True, eq=False)
class _Sums:
    log_likelihood: float
    slope: FloatArray
    curve: FloatArray
    risk: FloatArray
    mean: FloatArray
    step: FloatArray


def fine_gray(
    time: npt.ArrayLike,
    cause: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    of: int = 1,
    cluster: npt.ArrayLike | None = None,
    correction: Correction = "CR1",
    entry: npt.ArrayLike | None = None,
    events_per_parameter: float = 10.0,
    force: bool = False,
) -> Fitted:
    """Fit log subdistribution hazard of cause `of` = unspecified function of time + x b.

    time, cause, entry: as `follow_up.causes`. x: shape (rows, p), without an intercept. cluster: shape (rows,).
    Whoever had another event stays at risk with the weight G(t) / G(own time), G the chance of not being censored just
    before, by Kaplan and Meier over all rows; rows with an event at a time are at risk of censoring at it (as in
    cmprsk's crr; survival's finegray takes them out first, which differs by some thousandths where both are tied).
    Ties by Breslow. Errors from the sandwich that allows for G being estimated, in clusters when given.

    Fine JP, Gray RJ, J Am Stat Assoc 1999;94:496-509; clusters: Zhou B et al, Biostatistics 2012;13:371-383.
    extra: log_likelihood_alone, competing (how many had another event).
    Raises NotEstimable, with the reason, as `cox`.
    """
    data = causes(time, cause, entry=entry)
    x = np.asarray(x, dtype=np.float64)
    own = data.cause == of
    remarks = _check(x, names, own, events_per_parameter, force=force)
    order = np.argsort(data.time, kind="stable")
    centre = x.mean(axis=0)
    setting = _setting(data, own, (x - centre)[order], order)
    b = _maximum(setting, names)
    sums = _sums(setting, b)
    bread: FloatArray = np.asarray(np.linalg.inv(sums.curve), dtype=np.float64)
    parts = _influence(setting, sums)
    if cluster is None:
        covariance, clusters = bread @ (parts.T @ parts) @ bread, None
        said = "sandwich that allows for the estimated chance of censoring"
    else:
        groups, clusters = coded_clusters(np.asarray(cluster), data.n)
        covariance, _ = cluster_covariance(bread=bread, scores=parts, cluster=groups[order], correction=correction)
        said = f"sandwich that allows for the estimated chance of censoring, cluster-robust ({correction})"
    return Fitted(
        kind="Fine-Gray regression, Breslow's ties",
        names=tuple(names),
        coefficients=b,
        covariance=covariance,
        covariance_method=said,
        n=data.n,
        events=int(own.sum()),
        clusters=clusters,
        log_likelihood=sums.log_likelihood,
        scale="subdistribution hazard ratio",
        remarks=remarks,
        extra={
            "log_likelihood_alone": _sums(setting, np.zeros(len(b))).log_likelihood,
            "competing": int(((data.cause > 0) & ~own).sum()),
        },
    )


def _check(x: FloatArray, names: Sequence[str], own: BoolArray, wanted: float, *, force: bool) -> tuple[str, ...]:
    if x.ndim != 2 or x.shape != (len(own), len(names)) or not np.isfinite(x).all():
        raise ValueError(f"x must be numbers of shape ({len(own)}, {len(names)}), none missing, not {x.shape}.")
    flat = [name for name, wide in zip(names, np.ptp(x, axis=0), strict=True) if wide == 0]
    if flat:
        raise NotEstimable(f"{', '.join(flat)} does not vary, so that it has no effect to estimate. Leave it out.")
    if np.linalg.matrix_rank(x - x.mean(axis=0)) < x.shape[1]:
        raise NotEstimable("Columns of the model say the same (a linear combination). Leave one of them out.")
    events, parameters = int(own.sum()), x.shape[1]
    if not events:
        raise NotEstimable(f"No hazard can be estimated: none of {len(own):,} had the event. Ask of other rows.")
    if wanted <= 0 or parameters <= int(events / wanted):
        return ()
    said = f"{parameters} parameters are asked of {events:,} events; at {wanted:g} for each the data carry "
    said += f"{int(events / wanted)}"
    if force:
        return (f"{said}: read the estimates with that in mind.",)
    raise NotEstimable(
        f"The model has more parameters than the data carry: {said}. Leave terms out, or set events_per_parameter to "
        "another number that you can defend."
    )


def _setting(data: Causes, own: BoolArray, x: FloatArray, order: IntArray) -> _Setting:
    time, own, cause = data.time[order], own[order], data.cause[order]
    moments, d = np.unique(time[own], return_counts=True)
    times, place = np.unique(time, return_inverse=True)
    censored = np.bincount(place, weights=cause == 0, minlength=len(times))
    left = np.bincount(place, minlength=len(times))[::-1].cumsum()[::-1]
    before = np.concatenate([[1.0], np.cumprod(1 - censored / left)[:-1]])
    other = (cause > 0) & ~own
    return _Setting(
        time=time,
        own=own,
        other=other,
        x=x,
        moments=moments,
        d=d.astype(np.float64),
        at=np.searchsorted(moments, time, side="right"),
        risk_from=np.searchsorted(time, moments, side="left"),
        others_before=np.searchsorted(time[other], moments, side="left"),
        free_row=before[place],
        free_moment=before[np.searchsorted(times, moments)],
    )


def _weighted(s: _Setting, values: FloatArray) -> FloatArray:
    """At each moment the weighted sum of rows' values: those still followed, and those with another event before."""
    zero = np.zeros((1, *values.shape[1:]))
    back = np.concatenate([np.cumsum(values[::-1], axis=0)[::-1], zero])
    shape = (-1, *[1] * (values.ndim - 1))
    kept = values[s.other] / s.free_row[s.other].reshape(shape)
    total = np.concatenate([zero, np.cumsum(kept, axis=0)])
    return np.asarray(back[s.risk_from] + s.free_moment.reshape(shape) * total[s.others_before], dtype=np.float64)


def _sums(s: _Setting, b: FloatArray) -> _Sums:
    eta = s.x @ b
    top = float(eta.max())
    risk = np.exp(eta - top)
    s0 = _weighted(s, risk)
    mean = _weighted(s, risk[:, None] * s.x) / s0[:, None]
    step = s.d / s0
    slope = s.x[s.own].sum(axis=0) - s.d @ mean
    each = _carried(s, step) * risk
    curve = s.x.T @ (s.x * each[:, None]) - mean.T @ (mean * s.d[:, None])
    value = float(eta[s.own].sum() - s.d @ np.log(s0) - top * s.d.sum())
    return _Sums(value, slope, curve, risk, mean, step)


def _carried(s: _Setting, of_moment: FloatArray) -> FloatArray:
    """For each row the weighted sum of a moment's value over all moments it is at risk in."""
    zero = np.zeros((1, *of_moment.shape[1:]))
    until = np.concatenate([zero, np.cumsum(of_moment, axis=0)])
    made = until[s.at]
    shape = (-1, *[1] * (of_moment.ndim - 1))
    later = np.concatenate([np.cumsum((s.free_moment.reshape(shape) * of_moment)[::-1], axis=0)[::-1], zero])
    made[s.other] += later[s.at[s.other]] / s.free_row[s.other].reshape(shape)
    return np.asarray(made, dtype=np.float64)


def _maximum(s: _Setting, names: Sequence[str]) -> FloatArray:
    spread = s.x.std(axis=0)
    b = np.zeros(s.x.shape[1])
    sums = _sums(s, b)
    for _ in range(MOST_STEPS):
        if np.linalg.cond(sums.curve / np.outer(spread, spread)) > 1e12:
            break
        step = within_reach(s.x, b, np.linalg.solve(sums.curve, sums.slope))
        new = _sums(s, b + step)
        while new.log_likelihood < sums.log_likelihood - 1e-9 * abs(sums.log_likelihood) and np.abs(step).max() > 1e-12:
            step = step / 2
            new = _sums(s, b + step)
        b, sums = b + step, new
        if np.abs(step * spread).max() < SETTLED and _told(sums.curve, spread):
            return b
    far = [name for name, reach in zip(names, np.abs(b) * spread, strict=True) if reach > 1]
    raise NotEstimable(
        f"The likelihood has no maximum, or was not found, in {', '.join(far) or 'these columns'} (a level in which "
        "nobody has the event, as a rule), so that no number is given. Leave the term out, join levels, or compare by "
        "Gray's test."
    )


def _told(curve: FloatArray, spread: FloatArray) -> bool:
    """Whether each coefficient has an error that a maximum would give it, for a standard deviation of its column."""
    scaled = curve / np.outer(spread, spread)
    return bool(np.linalg.cond(scaled) < 1e12 and np.diag(np.linalg.inv(scaled)).max() < VAGUE**2)


def _influence(s: _Setting, sums: _Sums) -> FloatArray:
    """Each row's part in the score, and in the estimate of the chance of censoring; shape (rows, p)."""
    drift = sums.mean * sums.step[:, None]
    made = -sums.risk[:, None] * (s.x * _carried(s, sums.step)[:, None] - _carried(s, drift))
    made[s.own] += s.x[s.own] - sums.mean[s.at[s.own] - 1]
    return made + _censoring_part(s, sums, drift)


def _censoring_part(s: _Setting, sums: _Sums, drift: FloatArray) -> FloatArray:
    """psi of Fine and Gray's section 4: each row's step in the censoring martingale times q / (at risk)."""
    times, place = np.unique(s.time, return_inverse=True)
    censored = np.bincount(place, weights=~(s.own | s.other), minlength=len(times))
    left = np.bincount(place, minlength=len(times))[::-1].cumsum()[::-1]
    p = s.x.shape[1]
    free = s.free_moment
    from_here = np.searchsorted(s.moments, times, side="left")  # moments at this time or later
    h0 = np.concatenate([np.cumsum((free * sums.step)[::-1])[::-1], [0.0]])[from_here]
    h1 = np.concatenate([np.cumsum((free[:, None] * drift)[::-1], axis=0)[::-1], np.zeros((1, p))])[from_here]
    weight = sums.risk[s.other] / s.free_row[s.other]
    before = np.searchsorted(s.time[s.other], times, side="left")
    w0 = np.concatenate([[0.0], np.cumsum(weight)])[before]
    w1 = np.concatenate([np.zeros((1, p)), np.cumsum(weight[:, None] * s.x[s.other], axis=0)])[before]
    q = (w1 * h0[:, None] - w0[:, None] * h1) / left[:, None]
    passed = np.cumsum(q * (censored / left)[:, None], axis=0)
    made = -passed[place]
    gone = ~(s.own | s.other)
    made[gone] += q[place[gone]]
    return np.asarray(made, dtype=np.float64)
