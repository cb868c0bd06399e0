"""The likelihood of ordered levels: log odds of lying at or below a cut, columns with one effect or one a cut.

The library's ordered model agrees with it where every column has one effect over all cuts (tested), but has neither
effects of their own a cut nor scores on the scale of the cuts, which clusters need: one likelihood serves both models.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import FloatArray, NotEstimable
from analysis.estimators.regression.separation import separating

IntArray = npt.NDArray[np.int64]
MOST_STEPS, HALVINGS, FAR = 100, 40, 15.0
ENOUGH = 1e-8
"""Newton's decrement from which the next step is the last: it is then right to about the square of this."""


@dataclass(frozen=True, eq=False)
class Maximum:
    """parameters: cuts, then common effects, then free effects cut by cut. scores: of each row, shape (rows, p)."""

    parameters: FloatArray
    information: FloatArray
    scores: FloatArray
    log_likelihood: float


@dataclass(frozen=True, eq=False)
class Cumulative:
    """log odds of (y <= j) = cut_j - common b - free g_j, for the cuts j = 0 .. cuts - 1.

    y: level of each row, 0 to cuts, each level met. common: shape (rows, columns), one effect each; free: shape (rows,
    columns), one effect a cut each. offset: a part of the log odds that is given, taken off like common b.
    """

    y: IntArray
    common: FloatArray
    free: FloatArray
    cuts: int
    offset: FloatArray | None = None

    @property
    def size(self) -> int:
        """How many parameters."""
        return int(self.cuts + self.common.shape[1] + self.cuts * self.free.shape[1])

    def towards(self, cut: IntArray) -> FloatArray:
        """The row of the design at one cut a row, shape (rows, size); a cut outside 0 .. cuts - 1 gives zeros."""
        inside = ((cut >= 0) & (cut < self.cuts)).astype(np.float64)[:, None]
        which = (cut[:, None] == np.arange(self.cuts)[None, :]).astype(np.float64)
        own = (which[:, :, None] * self.free[:, None, :]).reshape(len(self.y), -1)
        return np.hstack([which, -self.common * inside, -own])

    def start(self) -> FloatArray:
        """The cuts of the levels' shares, and no effect."""
        share = np.cumsum(np.bincount(self.y, minlength=self.cuts + 1))[:-1] / len(self.y)
        return np.concatenate([np.log(share / (1 - share)), np.zeros(self.size - self.cuts)])

    def maximum(self, start: FloatArray | None = None) -> Maximum | None:
        """By Newton's method with halved steps; None when it does not converge."""
        upper, lower = self.towards(self.y), self.towards(self.y - 1)
        b = self.start() if start is None else start
        at = self._slopes(b, upper, lower)
        for _ in range(MOST_STEPS):
            if at is None:
                return None
            gradient = at.scores.sum(axis=0)
            try:
                step = np.linalg.solve(at.information, gradient)
            except np.linalg.LinAlgError:
                return None
            decrement = float(step @ gradient)
            if abs(decrement) < ENOUGH:
                return self._slopes(at.parameters + step, upper, lower) or at
            at = self._risen(at, step, upper, lower)
        return None

    def _risen(self, at: Maximum, step: FloatArray, upper: FloatArray, lower: FloatArray) -> Maximum | None:
        for _ in range(HALVINGS):
            tried = self._slopes(at.parameters + step, upper, lower)
            if tried is not None and tried.log_likelihood >= at.log_likelihood:
                return tried
            step = step / 2
        return None

    def _slopes(self, b: FloatArray, upper: FloatArray, lower: FloatArray) -> Maximum | None:
        """None where a row's own level has no chance (cuts out of order)."""
        given = np.zeros(len(self.y)) if self.offset is None else self.offset
        u = np.where(self.y < self.cuts, upper @ b - given, np.inf)
        v = np.where(self.y > 0, lower @ b - given, -np.inf)
        both = np.isfinite(u) & np.isfinite(v)
        gap = np.where(both, v - u, -np.inf)
        if not (gap < 0).all():
            return None
        # F(u) - F(v) = F(u) F(-v) (1 - exp(v - u)), which loses nothing far out.
        log_p = -np.logaddexp(0, -u) - np.logaddexp(0, v) + np.log(-np.expm1(gap))
        p = np.exp(log_p)
        if not (p > 0).all():
            return None
        density_u, density_v = _density(u), _density(v)
        a, c = density_u / p, density_v / p
        bent_u = np.where(np.isfinite(u), a * -np.tanh(np.where(np.isfinite(u), u, 0.0) / 2), 0.0)
        bent_v = np.where(np.isfinite(v), c * -np.tanh(np.where(np.isfinite(v), v, 0.0) / 2), 0.0)
        mixed = upper.T @ ((a * c)[:, None] * lower)
        information = (upper.T @ ((a**2 - bent_u)[:, None] * upper) + lower.T @ ((c**2 + bent_v)[:, None] * lower)) - (
            mixed + mixed.T
        )
        return Maximum(b, information, a[:, None] * upper - c[:, None] * lower, float(log_p.sum()))

    def below(self, b: FloatArray) -> FloatArray:
        """The chance of lying at or below each cut, shape (rows, cuts)."""
        width = self.common.shape[1]
        own = b[self.cuts + width :].reshape(self.cuts, -1)
        fixed = self.common @ b[self.cuts : self.cuts + width]
        if self.offset is not None:
            fixed = fixed + self.offset
        along = b[: self.cuts][None, :] - fixed[:, None] - self.free @ own.T
        return np.asarray(1 / (1 + np.exp(-np.clip(along, -700, 700))), dtype=np.float64)

    def refuse_separated(self, names: list[str]) -> None:
        """Raise NotEstimable when some mix of the columns tells the levels on both sides of a cut without fail.

        The likelihood is concave, and lacks a maximum when a direction raises no row's lower end and lowers no row's
        upper one; that is the linear programme of a yes/no outcome on the two ends of every row.
        """
        has_upper, has_lower = self.y < self.cuts, self.y > 0
        rows = np.vstack([self.towards(self.y)[has_upper], self.towards(self.y - 1)[has_lower]])
        yes = np.concatenate([np.ones(has_upper.sum()), np.zeros(has_lower.sum())])
        apart = [name for name in separating(yes, rows, names) if name in names[self.cuts :]]
        if apart:
            raise NotEstimable(
                f"The ordered outcome is separated by {', '.join(apart)}: at some value of it everybody lies on one "
                "side of a level, so that the likelihood has no maximum and an ordered model would print numbers "
                "without meaning. Join levels, leave the term out, or ask of one cut with the penalised model (fit = "
                '"firth").'
            )


def _density(at: FloatArray) -> FloatArray:
    """Of the logistic law; 0 at infinity."""
    tail = np.exp(-np.abs(at))
    return np.asarray(tail / (1 + tail) ** 2, dtype=np.float64)
