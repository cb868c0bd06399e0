"""What is said beside the numbers of the fit: how they were worked out, and what they are not."""

from __future__ import annotations

from typing import Any

from analysis.outcomes.fit.bands import BAND_ID, BAND_SOURCE, RECIPROCAL, SPLIT_ID
from analysis.outcomes.fit.outflow import (
    DEFINITION_ID,
    ENTRANCE_LENGTH,
    ENTRANCE_LOSS,
    IGNORED,
    LAMINAR_TO,
    Conditions,
)
from analysis.outcomes.fit.pair import Pair
from analysis.outcomes.fit.pressure import PASCAL_IN, from_pascal
from analysis.reports.fit.request import FitRequest

IDEALISED = (
    "Idealised: steady laminar flow of a simple fluid through a straight gap. Never a patient's flow or pressure. "
    f"Left out: {', '.join(IGNORED)}."
)
CENTRED = "R. B. Bird, W. E. Stewart, E. N. Lightfoot, Transport Phenomena, section 2.4 (from memory)"
OFF_AXIS = "Piercy, Hooper and Winny, 1933, in the form printed by White, Viscous Fluid Flow (from memory)"
ENTRANCE = (
    f"entrance length {ENTRANCE_LENGTH:g} x Reynolds number x hydraulic diameter (White, from memory); its loss "
    f"{ENTRANCE_LOSS:g} x rho v2/2 (Shah and London 1978, from memory): rough, as of a round pipe"
)
BANDS = (
    f"{RECIPROCAL} Closed below: 7.5 in 10 is 0.75 to under 0.85, 8.5 in 10 is 0.85 and over. The split at 0.85 is a "
    f"second published version, closed above. Source: {BAND_SOURCE}."
)


def position(eccentricity: float) -> str:
    """How the scope lies: centred, on the wall, or between."""
    named = {0.0: "centred", 1.0: "on the wall"}
    return named.get(eccentricity, f"off the axis by {eccentricity:g}")


def request_lines(request: FitRequest) -> list[tuple[str, str]]:
    """The question in words, label and sentence."""
    given = request.conditions
    lines = [
        ("sizes", "scope: shaft, its largest outer diameter within the sheath; sheath: inner diameter. 1 Fr = 1/3 mm"),
        ("sheath", f"length {100 * given.length:g} cm"),
        ("fluid", f"viscosity {1000 * given.viscosity:g} mPa s (water at 37 C: 0.69), {given.density:g} kg/m3"),
        ("pressure", f"{_pressure_words(request)} between the ends of the gap"),
        (
            "reference",
            request.reference.in_words() + ", lying the same way" if request.reference else "none that can be",
        ),
    ]
    lines += [("comma", f"{one}: read as two sizes; decimals are written with a point") for one in request.commas]
    return lines + [
        ("label", f"{one.said}: inner/outer; the inner, {one.size.in_fr()} Fr, is used") for one in request.labels
    ]


def request_definition(request: FitRequest) -> dict[str, Any]:
    """The question, ready for JSON."""
    given = request.conditions
    return {
        "id": DEFINITION_ID,
        "length_cm": 100 * given.length,
        "viscosity_mpa_s": 1000 * given.viscosity,
        "density_kg_m3": given.density,
        "pressure_pa": given.pressure,
        "pressure": request.pressure,
        "pressure_difference": {unit: from_pascal(given.pressure, unit) for unit in PASCAL_IN},
        "reference": pair_numbers(request.reference) if request.reference else None,
        "eccentricities": list(request.eccentricities),
        "sheath_labels": {one.said: one.size.in_fr() for one in request.labels},
        "bands": {"id": BAND_ID, "split_id": SPLIT_ID, "source": BAND_SOURCE, "on": RECIPROCAL},
    }


def outflow_definition(given: Conditions) -> dict[str, Any]:
    """What the outflow was computed under, ready for JSON."""
    return {
        "id": DEFINITION_ID,
        "centred": CENTRED,
        "off_axis": OFF_AXIS,
        "entrance": ENTRANCE,
        "laminar_to": LAMINAR_TO,
        "length_cm": 100 * given.length,
        "idealised": True,
        "left_out": list(IGNORED),
    }


def pair_numbers(pair: Pair) -> dict[str, Any]:
    """A pair's sizes, in Fr and mm."""
    return {
        "scope_fr": float(pair.scope.fr),
        "sheath_inner_fr": float(pair.sheath.fr),
        "scope_mm": float(pair.scope.mm),
        "sheath_inner_mm": float(pair.sheath.mm),
    }


def _pressure_words(request: FitRequest) -> str:
    pascal = request.conditions.pressure
    others = [f"{from_pascal(pascal, unit):.1f} {unit}" for unit in PASCAL_IN if not request.pressure.endswith(unit)]
    return f"{request.pressure} ({', '.join(others)})"
