"""Laminar flow through the gap between a scope and a sheath that share one axis.

R. B. Bird, W. E. Stewart, E. N. Lightfoot, Transport Phenomena, section 2.4, flow through an annulus (from memory; the
values tested are worked out from its formulas). A Newtonian fluid in steady, fully developed laminar flow between
straight, smooth, round walls; kappa is the scope-to-sheath ratio and R half the sheath's inner diameter.

    Q = pi dP R^4 / (8 mu L) G(kappa),  G = (1 - kappa^4) - (1 - kappa^2)^2 / ln(1 / kappa)
"""

from __future__ import annotations

import math

NARROW = 0.99
"""Above this kappa the terms of G cancel, and the limit of a narrow gap (parallel plates) stands for it."""


def narrow_gap(kappa: float) -> float:
    """The limit of G as kappa nears 1, a slit rolled up: 2/3 (1 - kappa)^3 (1 + kappa)."""
    return 2 / 3 * (1 - kappa) ** 3 * (1 + kappa)


def conductance(kappa: float) -> float:
    """G: the share of the empty sheath's flow that passes beside a centred scope. Raises ValueError outside (0, 1)."""
    check_kappa(kappa)
    if kappa > NARROW:
        return narrow_gap(kappa)
    return (1 - kappa**4) - (1 - kappa**2) ** 2 / -math.log(kappa)


def flow(*, pressure: float, radius: float, length: float, viscosity: float, share: float) -> float:
    """Volume a second, m3/s: pressure difference in Pa, sheath's inner radius and length in m, viscosity in Pa s.

    share: G of a centred or an eccentric scope.
    """
    return math.pi * pressure * radius**4 / (8 * viscosity * length) * share


def mean_velocity(volume: float, radius: float, kappa: float) -> float:
    """Mean velocity in the gap, m/s, of a flow in m3/s through a sheath of that inner radius in m."""
    return volume / (math.pi * radius**2 * (1 - kappa**2))


def highest_velocity(*, pressure: float, radius: float, length: float, viscosity: float, kappa: float) -> float:
    """Velocity where it is highest beside a centred scope, m/s; at r = lambda R, 2 lambda^2 = (1-kappa^2)/ln(1/kappa).

    Raises ValueError unless 0 < kappa < 1.
    """
    check_kappa(kappa)
    scale = pressure * radius**2 / (4 * viscosity * length)
    if kappa > NARROW:
        return scale * (1 - kappa) ** 2 / 2  # between parallel plates half as much again as the mean
    square = (1 - kappa**2) / (-2 * math.log(kappa))
    return scale * (1 - square + square * math.log(square))


def hydraulic_diameter(radius: float, kappa: float) -> float:
    """Four times the gap's area over its wetted edge, m: 2 R (1 - kappa), wherever the scope lies."""
    return 2 * radius * (1 - kappa)


def check_kappa(kappa: float) -> None:
    """Raises ValueError unless 0 < kappa < 1."""
    if not 0 < kappa < 1:
        raise ValueError(f"The scope-to-sheath ratio has to lie between 0 and 1, both excluded; it is {kappa:g}.")
