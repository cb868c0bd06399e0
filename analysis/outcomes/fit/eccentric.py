"""Laminar flow past a scope that lies off the sheath's axis, up to lying on its wall.

N. A. V. Piercy, M. S. Hooper, H. F. Winny, Viscous flow through pipes with cores, Philosophical Magazine 1933, in the
form printed by F. M. White, Viscous Fluid Flow (from memory; checked against an independent numerical solution in the
tests). Eccentricity is the distance of the axes over the gap of a centred scope: 0 centred, 1 on the wall.

On the wall the series tends to an integral with a closed value, worked out here from the same formula:

    G = 1 - kappa^4 - 4 kappa^2 trigamma(1 / (1 - kappa))
"""

from __future__ import annotations

import math

from analysis.outcomes.fit.concentric import NARROW, check_kappa, conductance, narrow_gap

ALMOST = 1e-8
"""Nearer than this to 0 or 1, an eccentricity is 0 or 1: the difference is below what doubles hold."""


def eccentric_conductance(kappa: float, eccentricity: float) -> float:
    """G of a scope off the axis, as the share of the empty sheath's flow.

    Above a kappa of 0.99, where the terms cancel, the limit of a narrow gap stands for it.

    Raises ValueError unless 0 < kappa < 1 and 0 <= eccentricity <= 1.
    """
    check_kappa(kappa)
    if not 0 <= eccentricity <= 1:
        raise ValueError(f"An eccentricity lies from 0 (centred) to 1 (on the wall); it is {eccentricity:g}.")
    if eccentricity < ALMOST:
        return conductance(kappa)
    if kappa > NARROW:
        return narrow_gap(kappa) * narrow_gap_gain(eccentricity)
    if eccentricity > 1 - ALMOST:
        return _on_the_wall(kappa)
    return _off_axis(kappa, eccentricity)


def gain(kappa: float, eccentricity: float) -> float:
    """Flow past the scope off the axis over that past a centred one. Raises ValueError as `eccentric_conductance`."""
    return eccentric_conductance(kappa, eccentricity) / conductance(kappa)


def narrow_gap_gain(eccentricity: float) -> float:
    """What the gain tends to as the gap narrows: 1 + 1.5 eccentricity^2. A check, and no more, elsewhere."""
    return 1 + 1.5 * eccentricity**2


def _on_the_wall(kappa: float) -> float:
    from scipy.special import polygamma

    return float(1 - kappa**4 - 4 * kappa**2 * polygamma(1, 1 / (1 - kappa)))


def _off_axis(kappa: float, eccentricity: float) -> float:
    """The series with the sheath's inner radius as unit of length: a = 1, b = kappa, c the distance of the axes."""
    import numpy as np

    apart = eccentricity * (1 - kappa)
    # F - a, written so that nothing cancels when the circles nearly touch.
    beyond = (1 - kappa) * (1 - eccentricity) * (1 - apart + kappa) / (2 * apart)
    far = 1 + beyond
    middle = math.sqrt(beyond * (far + 1))
    alpha, beta = math.log(far + middle), math.log((far - apart + middle) / kappa)
    terms = math.ceil(20 / beta) + 10
    n = np.arange(1, terms + 1, dtype=np.float64)
    # exp(-n(beta+alpha)) / sinh(n(beta-alpha)), without a sinh that overflows.
    series = float(np.sum(n * 2 * np.exp(-2 * n * beta) / -np.expm1(-2 * n * (beta - alpha))))
    strength = (apart * middle) ** 2
    return 1 - kappa**4 - 4 * strength / (beta - alpha) - 8 * strength * series
