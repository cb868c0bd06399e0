"""Restricted cubic splines: a smooth curve that is straight beyond its outer knots."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analysis.design.errors import DesignError

FloatArray = npt.NDArray[np.float64]

PLACES: dict[int, tuple[float, ...]] = {
    3: (0.10, 0.50, 0.90),
    4: (0.05, 0.35, 0.65, 0.95),
    5: (0.05, 0.275, 0.50, 0.725, 0.95),
    6: (0.05, 0.23, 0.41, 0.59, 0.77, 0.95),
    7: (0.025, 0.1833, 0.3417, 0.50, 0.6583, 0.8167, 0.975),
}
"""Where the knots stand, as shares of the observed values: Harrell FE, Regression Modeling Strategies, 2nd ed.,
Springer 2015, table 2.3 (from memory)."""
MANY, FIFTH = 100, 5


def knots_of(values: npt.ArrayLike, count: int, *, name: str = "the column") -> tuple[float, ...]:
    """The knots of a restricted cubic spline at Harrell's quantiles.

    values: shape (rows,); missing ones are left out. count: 3 to 7. name: of the column, for sentences.

    With fewer than 100 values the outer knots are the fifth smallest and the fifth largest (Harrell, section 2.4.6,
    from memory; Hmisc's rcspline.eval does so). A curve needs its knots apart, and one distinct value more than it has
    knots, or it says more than was measured.

    Raises DesignError when there are too few distinct values, or when two knots fall on one value.
    """
    if count not in PLACES:
        raise DesignError(f"A spline of {name} has {min(PLACES)} to {max(PLACES)} knots, not {count}.")
    known = np.asarray(values, dtype=np.float64)
    known = known[np.isfinite(known)]
    distinct = len(np.unique(known))
    if distinct < count + 1:
        raise DesignError(
            f"A spline of {name} with {count} knots needs at least {count + 1} distinct values, and there are "
            f"{distinct}. Take it as linear or in categories."
        )
    knots = np.quantile(known, PLACES[count])  # R's type 7
    if MANY > len(known) >= 2 * FIFTH:
        ordered = np.sort(known)
        knots[0], knots[-1] = ordered[FIFTH - 1], ordered[-FIFTH]
    if len(np.unique(knots)) < count or (np.diff(knots) < 0).any():
        shown = ", ".join(f"{knot:g}" for knot in knots)
        raise DesignError(
            f"A spline of {name} with {count} knots would have two of them in one place ({shown}): too many rows share "
            "one value. Take fewer knots, or take it as linear or in categories."
        )
    return tuple(float(knot) for knot in knots)


def basis(values: npt.ArrayLike, knots: tuple[float, ...]) -> FloatArray:
    """The columns of a restricted cubic spline: the value itself, then one less than two for each knot.

    values: shape (rows,). knots: rising, three or more. Returns shape (rows, knots - 1). With knots t_1 .. t_k,

        s_j(x) = [(x - t_j)+^3 - (x - t_(k-1))+^3 (t_k - t_j)/(t_k - t_(k-1))
                  + (x - t_k)+^3 (t_(k-1) - t_j)/(t_k - t_(k-1))] / (t_k - t_1)^2,

    Devlin TF, Weeks BJ, Proc 11th SAS Users Group International 1986:646-651, as in Harrell FE, Regression Modeling
    Strategies, 2nd ed., equation 2.25, divided by the square of the knots' span.
    """
    x, t = np.asarray(values, dtype=np.float64), np.asarray(knots, dtype=np.float64)
    span, last = t[-1] - t[0], t[-1] - t[-2]

    def beyond(knot: float) -> FloatArray:
        cubed: FloatArray = np.maximum(x - knot, 0.0) ** 3
        return cubed

    curved = [
        (beyond(at) - beyond(t[-2]) * (t[-1] - at) / last + beyond(t[-1]) * (t[-2] - at) / last) / span**2
        for at in t[:-2]
    ]
    return np.column_stack([x, *curved])
