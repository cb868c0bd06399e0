"""Multiple imputation by chained equations: every column that lacks values has a model on all the others."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import pandas as pd

from analysis.estimators.imputation_draws import Coded, FloatArray, IntArray, draw_by_matching, draw_levels
from analysis.estimators.missingness import Missingness, missingness
from analysis.estimators.parallel import run_all
from analysis.estimators.regression.fitted import NotEstimable

Kind = Literal["numeric", "ordinal", "binary", "categorical"]
HOW: dict[Kind, str] = {
    "numeric": "predictive mean matching",
    "ordinal": "predictive mean matching of the place of the level",
    "binary": "logistic model",
    "categorical": "multinomial logistic model",
}
METHOD = "chained equations (van Buuren S, Flexible Imputation of Missing Data, 2nd ed., CRC Press 2018, 4.5)"
FEWEST, CYCLES, DONORS = 20, 10, 5
MOST_LEVELS = 12


@dataclass(frozen=True, kw_only=True)
class Trace:
    """What the chains of one column did. means, spreads: of the drawn values (of level places), shape (imputations,
    cycles). rhat: of the means, over the last half of the cycles, near 1 when chains agree (Gelman A, Rubin DB, Stat
    Sci 1992;7:457-472, from memory); None when nothing varies or there are fewer than four cycles. drift: from the
    middle to the last cycle, the mean over chains, in standard deviations between chains.
    """

    column: str
    means: FloatArray
    spreads: FloatArray
    rhat: float | None
    drift: float | None


@dataclass(frozen=True, kw_only=True, eq=False)
class Imputations:
    """values: of each column that lacked any, what was drawn, shape (imputations, rows that lacked it): numbers, or
    places of `levels`. how: of each such column, its model in words. remarks: what a reader has to know.
    """

    frame: pd.DataFrame
    kinds: Mapping[str, Kind]
    levels: Mapping[str, tuple[Any, ...]]
    values: Mapping[str, FloatArray]
    missing: Missingness
    how: Mapping[str, str]
    traces: tuple[Trace, ...]
    imputations: int
    cycles: int
    donors: int
    seed: int
    remarks: tuple[str, ...]
    method: str = METHOD

    def completed(self, number: int) -> pd.DataFrame:
        """The frame with what lacked filled in, of imputation `number` from 0; columns keep their kind of values."""
        made = self.frame.copy()
        for name, drawn in self.values.items():
            lacking = self.frame[name].isna().to_numpy()
            own: Any = drawn[number]
            if name in self.levels:
                own = [self.levels[name][int(place)] for place in own]
            filled = made[name].astype(object) if name in self.levels else made[name].astype(np.float64)
            filled[lacking] = own
            made[name] = filled.astype(self.frame[name].dtype)
        return made


def chained_equations(
    frame: pd.DataFrame,
    kinds: Mapping[str, Kind],
    *,
    seed: int,
    imputations: int | None = None,
    cycles: int = CYCLES,
    donors: int = DONORS,
    workers: int | None = 1,
    dask: str | None = None,
    doing: str = "",
) -> Imputations:
    """Draw what lacks, `imputations` times.

    frame: one row an observation; rows to which a column does not apply are left out beforehand. kinds: of every column
    that takes part, what it holds; all other columns of the frame stay as they are and are in no model. The outcome
    has to be among them (without it effects lean to nothing: Moons KGM et al, J Clin Epidemiol 2006;59:1092-1101), and
    so does every column of the later model, an operator as a categorical one. Means of clusters are not added: a
    patient has one or two rows, whose means are of little but themselves; rows of one patient are drawn apart, and
    clustering is allowed for when the completed data are analysed. ordinal: levels in the order of the categories.

    imputations: as many as rows in a hundred are incomplete, and at least 20, if None (White IR, Royston P, Wood AM,
    Stat Med 2011;30:377-399, from memory); ``imputations_needed`` tells afterwards whether they were enough. cycles: of
    each chain, from a start at random from what is known; the last is kept. donors: of predictive mean matching.
    workers, dask, doing: as ``run_all``; the seed gives the same values on any of them, and the first m of more
    imputations are those of m.

    Right when what lacks depends on nothing but what is known of the columns here (missing at random), which the data
    cannot show. Raises NotEstimable when a column has no known value, or always the same; has more than 12 levels and
    lacks values; or when fewer rows know it than there are columns to predict it. ValueError for bad numbers, unknown
    columns and kinds.
    """
    names = list(kinds)
    _check(frame, kinds, imputations, cycles, donors)
    found = missingness(frame, names)
    many = imputations or max(FEWEST, math.ceil(100 * found.incomplete_share - 1e-9))
    plan = _plan(frame, kinds, cycles, donors)
    _check_known(plan)
    parts: list[dict[str, tuple[FloatArray, FloatArray]]] = []
    if plan.visits:
        parts = run_all(
            _chain, list(range(many)), seed, workers, dask, shared={"plan": plan, "seed": seed}, doing=doing
        )
    values = {name: np.stack([part[name][0] for part in parts]) for name in plan.visits}
    traces = [_trace(name, np.stack([part[name][1] for part in parts])) for name in plan.visits]
    return Imputations(
        frame=frame,
        kinds=dict(kinds),
        levels=plan.levels,
        values=values,
        missing=found,
        how={name: HOW[kinds[name]] for name in plan.visits},
        traces=tuple(traces),
        imputations=many,
        cycles=cycles,
        donors=donors,
        seed=seed,
        remarks=_remarks(traces),
    )


@dataclass(frozen=True, eq=False)
class _Plan:
    """Everything a chain reads. visits: columns that lack values, those with fewest gaps first. codes: of a column its
    numbers, or places of levels, NaN where it lacks. places: where it stands in the matrix. tables: of a column of
    levels, each level's values there; of a number its mean and standard deviation."""

    kinds: Mapping[str, Kind]
    levels: Mapping[str, tuple[Any, ...]]
    codes: Mapping[str, FloatArray]
    places: Mapping[str, slice]
    tables: Mapping[str, FloatArray]
    visits: tuple[str, ...]
    rows: int
    width: int
    cycles: int
    donors: int

    def coded(self, name: str, codes: FloatArray) -> FloatArray:
        table = self.tables[name]
        if self.kinds[name] in ("binary", "categorical"):
            return np.asarray(table[codes.astype(np.int64)], dtype=np.float64)
        return np.asarray(((codes - table[0, 0]) / table[0, 1])[:, None], dtype=np.float64)


def _plan(frame: pd.DataFrame, kinds: Mapping[str, Kind], cycles: int, donors: int) -> _Plan:
    levels: dict[str, tuple[Any, ...]] = {}
    codes: dict[str, FloatArray] = {}
    places: dict[str, slice] = {}
    tables: dict[str, FloatArray] = {}
    at = 1
    for name, kind in kinds.items():
        values = frame[name]
        if kind == "numeric":
            codes[name] = values.to_numpy(dtype=np.float64, na_value=np.nan)
        else:
            levels[name], codes[name] = _levels(values)
        known = codes[name][np.isfinite(codes[name])]
        if not len(known) or known.min() == known.max():
            what = "is known in no row" if not len(known) else "is the same in every row where it is known"
            raise NotEstimable(f"{name} {what}, so that it cannot be imputed nor help to. Leave it out.")
        if kind in ("binary", "categorical"):
            tables[name] = _table(known.astype(np.int64), len(levels[name]))
            wide = tables[name].shape[1]
        else:
            tables[name], wide = np.array([[known.mean(), known.std()]]), 1
        places[name] = slice(at, at + wide)
        at += wide
    gaps = {name: int(np.isnan(codes[name]).sum()) for name in kinds}
    visits = sorted((name for name in kinds if gaps[name]), key=lambda name: gaps[name])
    return _Plan(kinds, levels, codes, places, tables, tuple(visits), len(frame), at, cycles, donors)


def _levels(values: pd.Series) -> tuple[tuple[Any, ...], FloatArray]:
    """The levels that occur, in order, and the place of each row's, NaN where it lacks."""
    met = set(values.dropna())
    order = list(values.cat.categories) if isinstance(values.dtype, pd.CategoricalDtype) else sorted(met)
    levels = [each for each in order if each in met]
    of = {level: float(place) for place, level in enumerate(levels)}
    return tuple(levels), np.array(
        [np.nan if lacks else of[each] for each, lacks in zip(values, values.isna(), strict=True)]
    )


def _table(known: IntArray, many: int) -> FloatArray:
    """Of each level its standardised indicators, shape (levels, levels - 1)."""
    share = np.bincount(known, minlength=many)[1:] / len(known)
    made: FloatArray = (np.eye(many)[:, 1:] - share) / np.sqrt(share * (1 - share))
    return made


def _chain(number: int, _: np.random.Generator, *, plan: _Plan, seed: int) -> dict[str, tuple[FloatArray, FloatArray]]:
    """One imputation: of each column its drawn values, and their mean and spread in every cycle."""
    # Seeded by its number, so that more imputations begin with the same ones.
    generator = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=(number,))))
    lacking = {name: np.flatnonzero(np.isnan(plan.codes[name])) for name in plan.visits}
    known = {name: np.flatnonzero(~np.isnan(plan.codes[name])) for name in plan.visits}
    matrix = np.ones((plan.rows, plan.width))
    codes: dict[str, FloatArray] = {}
    for name, own in plan.codes.items():
        codes[name] = own.copy()
        if name in lacking:
            codes[name][lacking[name]] = generator.choice(own[known[name]], len(lacking[name]))
        matrix[:, plan.places[name]] = plan.coded(name, codes[name])
    coded = Coded(matrix, matrix.T @ matrix)
    starts: dict[str, FloatArray] = {}
    seen: dict[str, list[tuple[float, float]]] = {name: [] for name in plan.visits}
    for _cycle in range(plan.cycles):
        for name in plan.visits:
            rows, at = lacking[name], plan.places[name]
            if plan.kinds[name] in ("binary", "categorical"):
                wide = at.stop - at.start
                start = starts.get(name, np.zeros((wide, plan.width - wide)))
                whole = np.nan_to_num(plan.codes[name], nan=-1).astype(np.int64)
                drawn, starts[name] = draw_levels(coded, at, whole, wide + 1, rows, known[name], start, generator)
                made = drawn.astype(np.float64)
            else:
                picked = draw_by_matching(coded, at.start, rows, known[name], plan.donors, generator)
                made = plan.codes[name][known[name][picked]]
            codes[name][rows] = made
            coded.put(rows, at, plan.coded(name, made))
            seen[name].append((float(made.mean()), float(made.std())))
    return {name: (codes[name][lacking[name]], np.asarray(seen[name])) for name in plan.visits}


def _trace(name: str, seen: FloatArray) -> Trace:
    """seen: shape (imputations, cycles, 2)."""
    means, spreads = seen[:, :, 0], seen[:, :, 1]
    chains, cycles = means.shape
    rhat = drift = None
    if cycles >= 4 and chains >= 2:
        last = means[:, cycles // 2 :]
        long = last.shape[1]
        within = float(last.var(axis=1, ddof=1).mean())
        between = float(last.mean(axis=1).var(ddof=1))
        if within > 0:
            rhat = math.sqrt((long - 1) / long + between / within)
        spread = float(means[:, -1].std(ddof=1))
        if spread > 0:
            drift = float(means[:, -1].mean() - means[:, cycles // 2].mean()) / spread
    return Trace(column=name, means=means, spreads=spreads, rhat=rhat, drift=drift)


def _remarks(traces: Sequence[Trace]) -> tuple[str, ...]:
    slow = [each.column for each in traces if each.rhat is not None and each.rhat > 1.2]
    if not slow:
        return ()
    return (f"The chains of {', '.join(slow)} do not agree yet (R-hat above 1.2): take more cycles.",)


def _check(frame: pd.DataFrame, kinds: Mapping[str, Kind], imputations: int | None, cycles: int, donors: int) -> None:
    for name, kind in kinds.items():
        if name not in frame.columns:
            raise ValueError(f"{name!r} is no column of the data.")
        if kind not in HOW:
            raise ValueError(f"{name}: {kind!r} is no kind of column; there are {', '.join(HOW)}.")
        if kind == "numeric" and not pd.api.types.is_numeric_dtype(frame[name].dtype):
            raise ValueError(f"{name} holds words, and is to be imputed as a number.")
        if kind == "binary" and frame[name].nunique() > 2:
            raise ValueError(f"{name} has {frame[name].nunique()} levels, and is to be imputed as one of two.")
    if (imputations is not None and imputations < 2) or cycles < 1 or donors < 1:
        raise ValueError("Imputation needs two imputations or more, a cycle or more, and a donor or more.")


def _check_known(plan: _Plan) -> None:
    for name in plan.visits:
        if plan.kinds[name] == "categorical" and len(plan.levels[name]) > MOST_LEVELS:
            raise NotEstimable(
                f"{name} has {len(plan.levels[name])} levels and lacks values; more than {MOST_LEVELS} cannot be "
                "imputed. Join levels, or leave out the rows that lack it."
            )
        known = int(np.isfinite(plan.codes[name]).sum())
        if known <= plan.width + plan.donors:
            raise NotEstimable(
                f"{name} is known in {known:,} rows, too few to be imputed from {plan.width - 1} other columns. Leave "
                "columns out, or do without it."
            )
