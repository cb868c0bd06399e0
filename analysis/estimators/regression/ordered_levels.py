"""An ordered outcome made ready for a model: levels that occur, and how many parameters they carry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import FloatArray, NotEstimable

IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Levels:
    """code: of each row, 0 to len(names) - 1. names: of the levels that occur, rising. counts: rows of each."""

    code: IntArray
    names: tuple[str, ...]
    counts: tuple[int, ...]
    remarks: tuple[str, ...]

    @property
    def cuts(self) -> tuple[str, ...]:
        """What lies above each cut, in words: `at least II`."""
        return tuple(f"at least {name}" for name in self.names[1:])

    @property
    def beyond_commonest(self) -> int:
        """Rows that are not at the commonest level: of two levels the rarer outcome."""
        return len(self.code) - max(self.counts)


def ordered_levels(outcome: npt.ArrayLike, levels: Sequence[str]) -> Levels:
    """Levels that occur, in order; one that nobody is in has no cut of its own and is left out, with a remark.

    outcome: whole codes, 0 for the first of `levels`, shape (rows,), without gaps. Raises ValueError for other codes,
    NotEstimable when fewer than two levels occur.
    """
    given = np.asarray(outcome, dtype=np.float64)
    if given.ndim != 1 or not np.isin(given, np.arange(len(levels))).all():
        raise ValueError(f"outcome must be whole codes from 0 to {len(levels) - 1}, none missing, one for each level.")
    counts = np.bincount(given.astype(np.int64), minlength=len(levels))
    met = np.flatnonzero(counts)
    if len(met) < 2:
        what = "there is no row" if not len(met) else f"all {len(given):,} rows are at {levels[int(met[0])]}"
        raise NotEstimable(f"No effect on the ordered outcome can be estimated: {what}. Ask of other rows.")
    absent = [name for name, count in zip(levels, counts, strict=True) if not count]
    remarks = (f"nobody is at {', '.join(absent)}, so that the model has no such level",) if absent else ()
    return Levels(
        code=np.searchsorted(met, given.astype(np.int64)).astype(np.int64),
        names=tuple(levels[int(at)] for at in met),
        counts=tuple(int(counts[at]) for at in met),
        remarks=remarks,
    )


def with_top_joined(outcome: npt.ArrayLike, levels: Sequence[str], first: str) -> tuple[FloatArray, tuple[str, ...]]:
    """Codes and names with every level from `first` up made one, `first or above`, where the top ones are too rare.

    outcome: codes of `levels`, shape (rows,); missing stays missing. Raises ValueError for a name that is no level, or
    the lowest.
    """
    if first not in levels[1:]:
        raise ValueError(f"{first!r} is no level above the lowest; they are {', '.join(levels[1:])}.")
    at = list(levels).index(first)
    return np.minimum(np.asarray(outcome, dtype=np.float64), float(at)), (*levels[:at], f"{first} or above")


def carried(levels: Levels, parameters: int, wanted: float, *, force: bool) -> tuple[str, ...]:
    """The remark on too many parameters when forced; raises NotEstimable when not.

    The count is of the rows beyond the commonest level, which for two levels is the rarer outcome of a logistic model:
    our choice, on the safe side of what has been proposed for ordered outcomes.
    """
    rarer = levels.beyond_commonest
    can = int(rarer / wanted) if wanted > 0 else parameters
    if parameters <= can:
        return ()
    said = (
        f"{parameters} parameters besides the cuts are asked of {rarer:,} rows beyond the commonest level, "
        f"{rarer / max(parameters, 1):.1f} for each; at {wanted:g} for each the data carry {can}"
    )
    if force:
        return (f"{said}: read the estimates with that in mind.",)
    raise NotEstimable(
        f"The model has more parameters than the data carry: {said}. Leave terms out, or set events_per_parameter to "
        "another number that you can defend."
    )


def without_intercept(x: FloatArray) -> FloatArray:
    """The columns after the first, whose place the cuts take. Raises ValueError when the first is no intercept."""
    made = np.asarray(x, dtype=np.float64)
    if made.ndim != 2 or not made.shape[1] or not (made[:, 0] == 1).all():
        raise ValueError("x must have the intercept as its first column; the cuts take its place.")
    return made[:, 1:]
