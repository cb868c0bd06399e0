"""How many imputations are enough for stable results."""

from __future__ import annotations

import math

from analysis.estimators.proportions import normal_quantile


def imputations_needed(fraction_missing: float, imputations: int, *, spread: float = 0.05, level: float = 0.95) -> int:
    """How many imputations keep the standard error within `spread` of itself from one seed to the next.

    fraction_missing: the largest of the coefficients spoken of, of a pilot of `imputations`. m = 1 + (g / spread)^2 /
    2 with g the upper limit of the fraction: logit(fraction) + z sqrt(2 / m_pilot) (von Hippel PT, Sociol Methods Res
    2020;49:699-718, from memory). 2 at least. Raises ValueError for a fraction outside 0 to 1.
    """
    if not 0 <= fraction_missing <= 1 or imputations < 2 or not spread > 0:
        raise ValueError("A fraction from 0 to 1, two imputations or more and a spread above 0 are needed.")
    if fraction_missing in (0.0, 1.0):
        upper = fraction_missing
    else:
        logit = math.log(fraction_missing / (1 - fraction_missing))
        upper = 1 / (1 + math.exp(-(logit + normal_quantile(level=level) * math.sqrt(2 / imputations))))
    return max(2, math.ceil(1 + 0.5 * (upper / spread) ** 2))
