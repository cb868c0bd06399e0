"""One draw of what lacks in one column, given all others: the three models of chained equations.

All columns stand coded and standardised in one matrix; a column's own places are left out of its model.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
RIDGE = 1e-5
"""Added to the diagonal as a share of it, so that columns that say the same do no harm (van Buuren 2018, 3.2)."""
PRIOR_SD = 2.5
"""Of a coefficient of a standardised column: a level at which everybody is alike sends none to infinity."""
MOST_STEPS, NEAR = 12, 1e-4


@dataclass(eq=False)
class Coded:
    """matrix: shape (rows, places), the intercept first; gram: matrix' matrix, kept up to date by `put`."""

    matrix: FloatArray
    gram: FloatArray

    def put(self, rows: IntArray, places: slice, values: FloatArray) -> None:
        """Set some rows of some places, and what of the products follows from them."""
        self.matrix[rows, places] = values
        side = self.matrix.T @ self.matrix[:, places]
        self.gram[:, places] = side
        self.gram[places, :] = side.T


def draw_by_matching(
    coded: Coded,
    place: int,
    lacking: IntArray,
    known: IntArray,
    donors: int,
    generator: np.random.Generator,
) -> IntArray:
    """For each lacking row the place, among `known`, of the row whose value it takes: predictive mean matching.

    A normal linear model of the column; its variance and coefficients drawn from their posterior; each lacking row's
    prediction by the drawn coefficients is set against the known rows' by the fitted ones, and one of the nearest
    `donors` is taken (type 1 matching: van Buuren S, Flexible Imputation of Missing Data, 2nd ed., 2018, 3.4; Little
    RJA, J Bus Econ Stat 1988;6:287-296). Ties among known rows are broken at random.
    """
    keep = np.delete(np.arange(coded.matrix.shape[1]), place)
    gone = coded.matrix[lacking]
    gram = coded.gram - gone.T @ gone
    among = gram[np.ix_(keep, keep)]
    among[np.diag_indices(len(keep))] *= 1 + RIDGE
    variance = np.linalg.inv(among)
    fitted = variance @ gram[keep, place]
    left = max(float(gram[place, place] - fitted @ gram[keep, place]), 1e-12)
    spread = np.sqrt(left / generator.chisquare(max(len(known) - len(keep), 1)))
    drawn = fitted + spread * (np.linalg.cholesky(variance) @ generator.standard_normal(len(keep)))
    return _matched(coded.matrix, keep, fitted, drawn, lacking, known, donors, generator)


def _matched(
    matrix: FloatArray,
    keep: IntArray,
    fitted: FloatArray,
    drawn: FloatArray,
    lacking: IntArray,
    known: IntArray,
    donors: int,
    generator: np.random.Generator,
) -> IntArray:
    b, d = np.zeros(matrix.shape[1]), np.zeros(matrix.shape[1])
    b[keep], d[keep] = fitted, drawn
    shuffled = generator.permutation(len(known))
    of_known = (matrix @ b)[known[shuffled]]
    order = np.argsort(of_known, kind="stable")
    ordered = of_known[order]
    wanted = matrix[lacking] @ d
    start = np.clip(np.searchsorted(ordered, wanted) - donors, 0, max(len(known) - 2 * donors, 0))
    window = np.minimum(start[:, None] + np.arange(2 * donors)[None, :], len(known) - 1)
    far = np.abs(ordered[window] - wanted[:, None])
    nearest = np.argpartition(far, min(donors, far.shape[1]) - 1, axis=1)[:, :donors]
    taken = nearest[np.arange(len(lacking)), generator.integers(0, nearest.shape[1], len(lacking))]
    picked: IntArray = shuffled[order[window[np.arange(len(lacking)), taken]]]
    return picked


def draw_levels(
    coded: Coded,
    places: slice,
    codes: IntArray,
    levels: int,
    lacking: IntArray,
    known: IntArray,
    start: FloatArray,
    generator: np.random.Generator,
) -> tuple[IntArray, FloatArray]:
    """Levels for the lacking rows, and the fitted coefficients (to begin from the next time).

    codes: of all rows, 0 to levels - 1, read where known. start: shape (levels - 1, kept places). A logistic model
    (multinomial with more than two levels) with a normal prior of 2.5 on standardised coefficients, its coefficients
    drawn from the normal law about their mode (Rubin DB, 1987, 5.4; White IR, Daniel R, Royston P, Comput Stat Data
    Anal 2010;54:2267-2275 for why a bare fit must not be used, from memory), then a level by its chance.
    """
    keep = np.delete(np.arange(coded.matrix.shape[1]), np.arange(places.start, places.stop))
    x = coded.matrix[np.ix_(known, keep)]
    is_level = np.asarray(codes[known][:, None] == np.arange(1, levels)[None, :], dtype=np.float64)
    prior = np.full(len(keep), PRIOR_SD**-2.0)
    prior[0] = 1e-6  # the intercept goes where it wants
    b = start
    for _ in range(MOST_STEPS):
        chance = _chances(x, b)
        gradient = (is_level - chance).T @ x - prior * b
        information = _information(x, chance, prior)
        step = np.linalg.solve(information, gradient.ravel()).reshape(b.shape)
        step *= min(1.0, 3.0 / max(float(np.abs(step).max()), 1e-300))
        b = b + step
        if np.abs(step).max() < NEAR:
            break
    # L with L L' = information gives draws with its inverse as covariance: L'^-1 z.
    lower = np.linalg.cholesky(information)
    drawn = b + np.linalg.solve(lower.T, generator.standard_normal(b.size)).reshape(b.shape)
    upto = np.cumsum(_chances(coded.matrix[np.ix_(lacking, keep)], drawn), axis=1)
    # Chances are of levels 1 and up; what they leave is level 0.
    uniform = generator.random(len(lacking))
    above = (uniform[:, None] >= upto).sum(axis=1)
    return np.where(above == levels - 1, 0, above + 1).astype(np.int64), b


def _chances(x: FloatArray, b: FloatArray) -> FloatArray:
    """Of levels 1 and up, shape (rows, levels - 1)."""
    at = x @ b.T
    top = np.maximum(at.max(axis=1, keepdims=True), 0.0)
    raw = np.exp(at - top)
    made: FloatArray = raw / (np.exp(-top) + raw.sum(axis=1, keepdims=True))
    return made


def _information(x: FloatArray, chance: FloatArray, prior: FloatArray) -> FloatArray:
    many, width = chance.shape[1], x.shape[1]
    made = np.empty((many, width, many, width))
    for first in range(many):
        for second in range(first + 1):
            spread = chance[:, first] * ((first == second) - chance[:, second])
            block = x.T @ (x * spread[:, None])
            made[first, :, second], made[second, :, first] = block, block.T
        made[first, np.arange(width), first, np.arange(width)] += prior
    return made.reshape(many * width, many * width)
