"""Weights by the inverse of a chance, cut and normalised, for rows as they are and resampled by their clusters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.observation_model import BoolArray, ObservationModel, refitted_chances
from analysis.estimators.proportions import FloatArray

IntArray = npt.NDArray[np.int64]
TRUNCATED_AT = 0.99
"""Weights are cut at this quantile of themselves."""
CELLS_AT_ONCE = 500_000


@dataclass(frozen=True, eq=False)
class WeighedRows:
    """One row an observation, as in ``weighting.weighted_proportions``."""

    outcomes: FloatArray  # shape (rows, outcomes)
    observed: BoolArray
    weight_one: BoolArray
    covariates: FloatArray
    cluster: IntArray
    group: IntArray
    groups: int

    @property
    def modelled(self) -> BoolArray:
        return ~self.weight_one


def cut_weights(raw: FloatArray, times: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Weights cut at their 99th percentile in each column, rows counted `times`; 0 is no weight at all."""
    if not len(raw):
        return raw, np.zeros(raw.shape[1])
    drawn = np.where(raw > 0, times, 0.0)
    order = np.argsort(-raw, axis=0, kind="stable")
    above = np.cumsum(np.take_along_axis(drawn, order, axis=0), axis=0)
    # The cap is the largest weight with more than 1 % of the rows at or above it.
    total = above[-1] if len(above) else np.zeros(raw.shape[1])
    reached = above > (1 - TRUNCATED_AT) * total * (1 + 1e-12)
    place = np.argmax(reached, axis=0)
    caps = np.take_along_axis(np.take_along_axis(raw, order, axis=0), place[None, :], axis=0)[0] if len(raw) else total
    return np.minimum(raw, caps), caps


def _sums(values: FloatArray, rows: WeighedRows) -> FloatArray:
    """Sums over the rows of each group, shape (groups, columns)."""
    from scipy.sparse import csr_array

    placed = np.flatnonzero(rows.group >= 0)
    cells = (np.ones(len(placed)), (rows.group[placed], placed))
    return np.asarray(csr_array(cells, shape=(rows.groups, len(rows.group))) @ values, dtype=np.float64)


def normalised_weights(raw: FloatArray, times: FloatArray, rows: WeighedRows) -> FloatArray:
    """Each group's weights made to sum to its modelled rows; 0 where none of it is observed."""
    stand_for = _sums(np.where(rows.modelled[:, None], times, 0.0), rows)
    weigh = _sums(raw * times, rows)
    factor = np.divide(stand_for, weigh, out=np.zeros_like(weigh), where=weigh > 0)
    padded = np.vstack([factor, np.zeros((1, factor.shape[1]))])  # the last is where -1, no group, lands
    return np.asarray(raw * padded[rows.group], dtype=np.float64)


def resampled_estimates(rows: WeighedRows, model: ObservationModel | None, replicates: int, seed: int) -> FloatArray:
    """The estimate of each outcome and group in each resample, shape (outcomes, replicates, groups)."""
    many = int(rows.cluster.max(initial=-1)) + 1
    generator = np.random.Generator(np.random.PCG64(seed))
    at_once = max(1, CELLS_AT_ONCE // max(1, len(rows.group)))
    parts = []
    from threadpoolctl import threadpool_limits  # slow to load: only for who asks

    # Small matrices: threads would wait for each other, on a busy machine for minutes, and sum in another order.
    with threadpool_limits(1):
        for start in range(0, replicates, at_once):
            here = min(at_once, replicates - start)
            of = generator.integers(0, max(many, 1), size=(here, many)) + np.arange(here)[:, None] * max(many, 1)
            drawn = np.bincount(of.ravel(), minlength=here * many).reshape(here, many).astype(np.float64)
            parts.append(_estimates(rows, model, np.ascontiguousarray(drawn.T[rows.cluster])))
    return np.concatenate(parts, axis=1)


def _estimates(rows: WeighedRows, model: ObservationModel | None, times: FloatArray) -> FloatArray:
    modelled, seen = rows.modelled, rows.modelled & rows.observed
    raw = np.where(seen[:, None], 1.0, 0.0) * np.ones_like(times)
    if model is not None:
        chances = refitted_chances(model, rows.observed[modelled], times[modelled])
        raw[seen], _ = cut_weights(1.0 / chances[rows.observed[modelled]], times[seen])
    drawn = raw * times
    fixed = np.where(rows.weight_one[:, None], times, 0.0)
    weigh, one = _sums(drawn, rows), _sums(fixed, rows)
    stand_for = _sums(np.where(modelled[:, None], times, 0.0), rows)
    made = []
    for outcome in rows.outcomes.T:
        free = outcome[:, None]
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(stand_for > 0, stand_for * _sums(drawn * free, rows) / weigh, 0.0)
            made.append(((_sums(fixed * free, rows) + share) / (one + stand_for)).T)
    return np.stack(made)


def checked_rows(
    outcomes: npt.ArrayLike,
    observed: npt.ArrayLike,
    weight_one: npt.ArrayLike,
    covariates: npt.ArrayLike,
    cluster: npt.ArrayLike,
    group: npt.ArrayLike | None,
    groups: int,
) -> WeighedRows:
    """The rows, or a ValueError that says what is wrong with them."""
    one = np.asarray(weight_one, dtype=bool)
    seen = np.asarray(observed, dtype=bool) & ~one
    x = np.asarray(covariates, dtype=np.float64)
    x = x.reshape(len(one), -1) if x.size else np.zeros((len(one), 0))
    _, codes = np.unique(np.asarray(cluster), return_inverse=True)
    of = np.zeros(len(one), dtype=np.int64) if group is None else np.asarray(group, dtype=np.int64)
    y = np.asarray(outcomes, dtype=np.float64)
    if len({len(one), len(seen), len(x), len(codes), len(of), len(y)}) != 1:
        raise ValueError("outcome, observed, weight_one, covariates, cluster and group must have one entry a row each.")
    if not np.isfinite(x).all():
        raise ValueError(
            "covariates holds a value that is missing or infinite; give missing its own column beforehand."
        )
    if not np.isin(y[one | seen], (0.0, 1.0)).all():
        raise ValueError("outcome must be 0 or 1 wherever it is observed or known without.")
    if len(of) and not (of.min() >= -1 and of.max() < groups):
        raise ValueError(f"The codes of group must lie from -1 to {groups - 1}.")
    return WeighedRows(np.where((one | seen)[:, None], y, 0.0), seen, one, x, codes.astype(np.int64), of, groups)


def ordered_rows(rows: WeighedRows) -> tuple[WeighedRows, IntArray]:
    """The rows by cluster and, within it, by their own content, so that the order they came in never
    matters; and their places as given."""
    of_row = [rows.observed, rows.weight_one, rows.group, *rows.covariates.T, *rows.outcomes.T]
    order = np.lexsort((*of_row[::-1], rows.cluster))
    ordered = WeighedRows(
        rows.outcomes[order],
        rows.observed[order],
        rows.weight_one[order],
        rows.covariates[order],
        rows.cluster[order],
        rows.group[order],
        rows.groups,
    )
    return ordered, order
