"""The idealised outflow beside a scope, absolute and relative to a reference pair, with its limits enforced.

A number is given only where laminar theory can answer: Reynolds number up to 2,000, and an entrance shorter than the
sheath. Entrance effects are those of a round pipe, on the gap's hydraulic diameter: length 0.06 Re Dh (White, Fluid
Mechanics, from memory), and a loss of 2.3 times rho v^2 / 2, of which 1 for the start of the flow and 1.3 for the
growing profile (Shah and London, Laminar Flow Forced Convection in Ducts, 1978, from memory). Both are rough: between
parallel plates they are smaller, in a crescent larger. The loss is not taken off the outflow; its share is stated.
"""

from __future__ import annotations

from dataclasses import dataclass

from analysis.outcomes.fit.concentric import flow, hydraulic_diameter, mean_velocity
from analysis.outcomes.fit.eccentric import eccentric_conductance
from analysis.outcomes.fit.pair import Pair

DEFINITION_ID = "idealised-annulus-1"
LAMINAR_TO = 2000.0
ENTRANCE_LENGTH = 0.06
ENTRANCE_LOSS = 2.3
ML_MIN = 6e7
"""mL/min in one m3/s."""
IGNORED = (
    "suction",
    "the sheath's tip and side ports",
    "bends of scope and sheath",
    "fragments in the gap",
    "pulsation and hand flushes",
    "leak beside the sheath through the ureter",
    "change of the scope's outline along its length",
)


@dataclass(frozen=True)
class Conditions:
    """Length of the gap in m, viscosity in Pa s, density in kg/m3, pressure difference in Pa; each above 0."""

    length: float = 0.45
    viscosity: float = 0.69e-3
    density: float = 1000.0
    pressure: float = 3922.66

    def __post_init__(self) -> None:
        if not min(self.length, self.viscosity, self.density, self.pressure) > 0:
            raise ValueError("Length, viscosity, density and pressure difference are above 0.")


@dataclass(frozen=True)
class Outflow:
    """One pair in one position.

    share: G. gain: over the centred scope. reynolds, entrance_m (m), entrance_share (loss over the pressure
    difference): of the flow that the formula gives. ml_min, velocity (mean, m/s): None outside the limits, with the
    reason.
    """

    pair: Pair
    eccentricity: float
    share: float
    gain: float
    reynolds: float
    entrance_m: float
    entrance_share: float
    ml_min: float | None
    velocity: float | None
    reason: str | None


@dataclass(frozen=True)
class Relative:
    """A pair against the reference pair lying alike, at one length and one fluid.

    outflow: at the same pressure difference. pressure: that is needed for the reference's outflow. reynolds: beside
    this pair at the reference's outflow. Each None outside the limits, with the reason.
    """

    outflow: float | None
    outflow_reason: str | None
    pressure: float | None
    pressure_reason: str | None
    reynolds: float


def outflow(pair: Pair, eccentricity: float, given: Conditions) -> Outflow:
    """The idealised outflow beside a scope. Raises ValueError unless 0 <= eccentricity <= 1."""
    share = eccentric_conductance(pair.kappa, eccentricity)
    volume = _volume(pair, share, given)
    velocity = mean_velocity(volume, pair.radius_m, pair.kappa)
    reynolds = reynolds_number(pair, volume, given)
    entrance = entrance_length(pair, reynolds)
    reason = beyond_limits(reynolds, entrance, given)
    return Outflow(
        pair=pair,
        eccentricity=eccentricity,
        share=share,
        gain=share / eccentric_conductance(pair.kappa, 0.0),
        reynolds=reynolds,
        entrance_m=entrance,
        entrance_share=ENTRANCE_LOSS * given.density * velocity**2 / 2 / given.pressure,
        ml_min=None if reason else volume * ML_MIN,
        velocity=None if reason else velocity,
        reason=reason,
    )


def relative(one: Outflow, reference: Outflow, given: Conditions) -> Relative:
    """One pair against another in the same position; by R^4 G, that is at their own absolute sizes."""
    times = (one.pair.radius_m / reference.pair.radius_m) ** 4 * (one.share / reference.share)
    of_reference = f"the reference, {reference.pair.in_words()}, is outside: {reference.reason}"
    at_reference_flow = reynolds_number(one.pair, _volume(reference.pair, reference.share, given), given)
    # The same flow: the gap's own entrance at that flow, whatever the pressure it takes.
    same_flow = beyond_limits(at_reference_flow, entrance_length(one.pair, at_reference_flow), given)
    flow_reason = one.reason or (of_reference if reference.reason else None)
    pressure_reason = same_flow or (of_reference if reference.reason else None)
    return Relative(
        outflow=None if flow_reason else times,
        outflow_reason=flow_reason,
        pressure=None if pressure_reason else 1 / times,
        pressure_reason=pressure_reason,
        reynolds=at_reference_flow,
    )


def reynolds_number(pair: Pair, volume: float, given: Conditions) -> float:
    """2 R (1 - kappa) v rho / mu, of a flow in m3/s."""
    velocity = mean_velocity(volume, pair.radius_m, pair.kappa)
    return hydraulic_diameter(pair.radius_m, pair.kappa) * velocity * given.density / given.viscosity


def entrance_length(pair: Pair, reynolds: float) -> float:
    """How far the flow takes to settle, m; of a round pipe with the gap's hydraulic diameter."""
    return ENTRANCE_LENGTH * reynolds * hydraulic_diameter(pair.radius_m, pair.kappa)


def beyond_limits(reynolds: float, entrance: float, given: Conditions) -> str | None:
    """Why laminar theory cannot answer; None when it can."""
    if reynolds > LAMINAR_TO:
        return f"not laminar: Reynolds number {reynolds:,.0f} is above {LAMINAR_TO:,.0f}"
    if entrance >= given.length:
        return f"the entrance, {100 * entrance:.1f} cm, is no shorter than the sheath, {100 * given.length:g} cm"
    return None


def _volume(pair: Pair, share: float, given: Conditions) -> float:
    return flow(
        pressure=given.pressure, radius=pair.radius_m, length=given.length, viscosity=given.viscosity, share=share
    )
