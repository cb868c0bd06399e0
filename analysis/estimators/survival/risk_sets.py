"""Sums over who is still at risk at each event, with Efron's handling of ties: what a Cox model is made from."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import FloatArray
from analysis.estimators.survival.follow_up import FollowUp, IntArray


@dataclass(frozen=True, eq=False)
class RiskSets:
    """Rows ordered by stratum and falling time, and the steps of the likelihood: one for each event.

    order: of the rows. event: of the ordered rows. A moment is a time with events in a stratum: moment, the place in
    the order just behind all who are at risk; moment_time; tied, its events. row_bounds, moment_bounds: where each
    stratum begins, and the end. moment_of_row: the moment at a row's own time, -1 for none. first_moment, ends: from
    where to where the moments lie that a row is at risk in. step: of each step its moment. share: of the tied events
    the part that Efron takes off at this step.
    """

    order: IntArray
    event: npt.NDArray[np.bool_]
    row_bounds: IntArray
    moment_bounds: IntArray
    moment: IntArray
    moment_of_row: IntArray
    moment_time: FloatArray
    ends: IntArray
    first_moment: IntArray
    tied: IntArray
    step: IntArray
    share: FloatArray


def risk_sets(data: FollowUp, strata: npt.NDArray[Any] | None = None) -> RiskSets:
    """The risk sets of follow-up. strata: labels, shape (rows,): only rows of one stratum are at risk together."""
    layer = np.zeros(data.n, dtype=np.int64)
    if strata is not None:
        layer = np.unique(strata, return_inverse=True)[1].astype(np.int64)
    order = np.lexsort((-data.time, layer))
    time, event, layer = data.time[order], data.event[order], layer[order]
    new_layer = np.concatenate([[True], layer[1:] != layer[:-1]])
    new_time = new_layer | np.concatenate([[True], time[1:] != time[:-1]])
    group = np.cumsum(new_time) - 1  # rows of one time in one stratum
    group_end = np.append(np.flatnonzero(new_time)[1:], len(time))
    tied_of_group = np.bincount(group, weights=event).astype(np.int64)
    starts = np.append(np.flatnonzero(new_layer), len(time))
    kept = np.flatnonzero(tied_of_group)
    tied = tied_of_group[kept]
    step = np.repeat(np.arange(len(kept)), tied)
    first = np.cumsum(tied) - tied
    place = np.full(len(group_end), -1, dtype=np.int64)
    place[kept] = np.arange(len(kept))
    # Moments of a row's stratum at its time or earlier lie behind it in the order, up to the stratum's end.
    before = np.searchsorted(group_end[kept], np.arange(len(time)), side="right")
    layer_end = np.searchsorted(kept, group[starts[1:] - 1], side="right")
    return RiskSets(
        order=order,
        event=event,
        row_bounds=starts,
        moment_bounds=np.concatenate([[0], layer_end]),
        moment=group_end[kept],
        moment_of_row=place[group],
        moment_time=time[group_end[kept] - 1],
        ends=layer_end[layer],
        first_moment=before,
        tied=tied,
        step=step,
        share=(np.arange(len(step)) - first[step]) / tied[step],
    )


def at_risk_sums(sets: RiskSets, values: FloatArray) -> FloatArray:
    """At each moment the sum of ordered rows' values (rows, or rows by columns) over those at risk."""
    return _running(values, sets.row_bounds)[sets.moment - 1]


def _running(values: FloatArray, bounds: IntArray) -> FloatArray:
    """Running sums that begin anew in each stratum.

    Differences of one running sum would lose what is small beside what came before it in another part of the sum.
    """
    made = np.empty_like(values, dtype=np.float64)
    for start, end in pairwise(bounds):
        np.cumsum(values[start:end], axis=0, out=made[start:end])
    return made


def tied_sums(sets: RiskSets, values: FloatArray) -> FloatArray:
    """At each moment the sum of ordered rows' values over those with the event then."""
    on = np.flatnonzero(sets.event)
    made = np.zeros((len(sets.moment), *values.shape[1:]))
    np.add.at(made, sets.moment_of_row[on], values[on])
    return made


def step_sums(sets: RiskSets, values: FloatArray) -> FloatArray:
    """At each step the sum over those at risk, less Efron's share of those with the event."""
    risk, tied = at_risk_sums(sets, values), tied_sums(sets, values)
    share = sets.share.reshape(-1, *[1] * (values.ndim - 1))
    return np.asarray(risk[sets.step] - share * tied[sets.step], dtype=np.float64)


def carried(sets: RiskSets, of_step: FloatArray) -> FloatArray:
    """For each ordered row the sum of a step's value over all steps it is at risk in, less Efron's share of its own.

    of_step: shape (steps,) or (steps, columns).
    """
    shape = of_step.shape[1:]
    by_moment = np.zeros((len(sets.moment), *shape))
    np.add.at(by_moment, sets.step, of_step)
    backwards = len(by_moment) - sets.moment_bounds[::-1]
    total = np.concatenate([_running(by_moment[::-1], backwards)[::-1], np.zeros((1, *shape))])
    made = np.where((sets.first_moment < sets.ends).reshape(-1, *[1] * len(shape)), total[sets.first_moment], 0.0)
    taken = np.zeros((len(sets.moment), *shape))
    np.add.at(taken, sets.step, sets.share.reshape(-1, *[1] * len(shape)) * of_step)
    on = np.flatnonzero(sets.event)
    made[on] -= taken[sets.moment_of_row[on]]
    return np.asarray(made, dtype=np.float64)
