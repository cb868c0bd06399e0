"""The tables about the sizes that were asked: pairs, outflow, channel, and what has no answer."""

from __future__ import annotations

from typing import Any

from analysis.outcomes.fit.channel import channel_with
from analysis.outcomes.fit.outflow import Outflow, Relative, outflow, relative
from analysis.outcomes.fit.pair import Pair
from analysis.reports.fit.request import FitRequest
from analysis.reports.fit.words import (
    BANDS,
    CENTRED,
    ENTRANCE,
    IDEALISED,
    OFF_AXIS,
    outflow_definition,
    pair_numbers,
    position,
)
from analysis.reports.sections.report import Column, Section

NO_REFERENCE = "there is no reference that can be"
HIGH_LOSS = 0.05


def sections_of(request: FitRequest) -> list[Section]:
    """The tables that have something to show, in the order they are printed."""
    made = []
    if request.pairs:
        made += [pairs_section(request), outflow_section(request)]
    if request.channels and request.devices:
        made.append(channel_section(request))
    if request.unanswered:
        made.append(unanswered_section(request))
    return made


def pairs_section(request: FitRequest) -> Section:
    """Ratio, reciprocal, bands, gap and free area of each pair."""
    return Section(
        name="pairs",
        title="Scope shaft in sheath inner diameter",
        rows=[pair_row(pair) for pair in request.pairs],
        columns=[
            Column("pair", "pair"),
            Column("sheath-to-scope", "sheath_to_scope_ratio", "number", 3),
            Column("scope-to-sheath", "scope_to_sheath_ratio", "number", 3),
            Column("gap mm", "gap_mm", "number", 3),
            Column("free mm2", "free_mm2", "number", 2),
            Column("open", "open_share", "percent"),
            Column("band (scope-to-sheath)", "scope_to_sheath_band"),
            Column("split at 0.85", "scope_to_sheath_split"),
        ],
        definition={"bands": BANDS},
        notes=[
            "gap: all around a centred scope; twice that on one side when it lies on the wall. open: free area over "
            "that of the empty sheath.",
            BANDS,
        ],
    )


def pair_row(pair: Pair) -> dict[str, Any]:
    """One pair's sizes and geometry, ready for JSON."""
    return {
        "pair": pair.in_words(),
        **pair_numbers(pair),
        "sheath_to_scope_ratio": float(pair.sheath_to_scope),
        "scope_to_sheath_ratio": float(pair.scope_to_sheath),
        "scope_to_sheath_band": pair.band,
        "scope_to_sheath_split": pair.split,
        "gap_mm": pair.gap_mm,
        "free_mm2": pair.free_mm2,
        "open_share": pair.open_share,
    }


def outflow_section(request: FitRequest) -> Section:
    """Idealised outflow of each pair in each position, relative to the reference."""
    rows = [outflow_row(pair, each, request) for pair in request.pairs for each in request.eccentricities]
    return Section(
        name="outflow",
        title="Idealised outflow beside the scope",
        rows=rows,
        columns=[
            Column("pair", "pair"),
            Column("scope lies", "position"),
            Column("flow, same pressure", "relative_outflow", "ratio"),
            Column("pressure, same flow", "relative_pressure", "ratio"),
            Column("against centred", "gain", "ratio"),
            Column("mL/min", "outflow_ml_min", "number"),
            Column("Reynolds", "reynolds", "number", 0),
            Column("entrance cm", "entrance_cm", "number"),
            Column("its loss", "entrance_share", "percent"),
        ],
        definition=outflow_definition(request.conditions),
        in_words=[("centred", CENTRED), ("off the axis", OFF_AXIS), ("entrance", ENTRANCE)],
        notes=[*_why_not(rows), *_losses(rows), IDEALISED],
    )


def outflow_row(pair: Pair, eccentricity: float, request: FitRequest) -> dict[str, Any]:
    """One pair in one position, ready for JSON. relative_* are against the reference lying the same way.

    relative_pressure_centred_reference, the figure's, is against the reference with its scope centred.
    """
    one = outflow(pair, eccentricity, request.conditions)
    against, centred = against_reference(one, request), against_reference(one, request, centred=True)
    return {
        "pair": pair.in_words(),
        **pair_numbers(pair),
        "eccentricity": eccentricity,
        "position": position(eccentricity),
        "relative_outflow": against.outflow if against else None,
        "relative_pressure": against.pressure if against else None,
        "relative_pressure_centred_reference": centred.pressure if centred else None,
        "gain": one.gain,
        "conductance": one.share,
        "outflow_ml_min": one.ml_min,
        "mean_velocity_m_s": one.velocity,
        "reynolds": one.reynolds,
        "reynolds_at_reference_outflow": against.reynolds if against else None,
        "entrance_cm": 100 * one.entrance_m,
        # Of a flow that is withheld the loss is withheld too: it would be a share of a pressure that cannot be.
        "entrance_share": None if one.reason else one.entrance_share,
        "outflow_reason": one.reason,
        "relative_outflow_reason": against.outflow_reason if against else NO_REFERENCE,
        "relative_pressure_reason": against.pressure_reason if against else NO_REFERENCE,
    }


def against_reference(one: Outflow, request: FitRequest, *, centred: bool = False) -> Relative | None:
    """A pair against the reference lying the same way, or centred; None without a reference."""
    if request.reference is None:
        return None
    lies = 0.0 if centred else one.eccentricity
    return relative(one, outflow(request.reference, lies, request.conditions), request.conditions)


def channel_section(request: FitRequest) -> Section:
    """Each device in each channel: whether it passes, and what it leaves free."""
    rows = []
    for channel in request.channels:
        for device in request.devices:
            found = channel_with(channel.size, device.size)
            rows.append(
                {
                    "channel_fr": float(channel.size.fr),
                    "channel_mm": float(channel.size.mm),
                    "device_fr": float(device.size.fr),
                    "device_mm": float(device.size.mm),
                    "device_inch": float(device.size.inch),
                    "passes": "yes" if found.passes else "no",
                    "free_mm2": found.free_mm2,
                    "free_share": found.free_share,
                    "reason": found.reason,
                }
            )
    return Section(
        name="channel",
        title="Working channel with a device in it",
        rows=rows,
        columns=[
            Column("channel Fr", "channel_fr", "number", 2),
            Column("channel mm", "channel_mm", "number", 3),
            Column("device Fr", "device_fr", "number", 2),
            Column("device mm", "device_mm", "number", 3),
            Column("free mm2", "free_mm2", "number", 3),
            Column("free share", "free_share", "percent"),
            Column("passes", "passes"),
        ],
        definition={"id": "circle-in-circle-1"},
        notes=[
            "A round device in a round channel: free area (channel2 - device2) x pi/4; the share is of the empty "
            "channel. It passes when it is thinner; coatings, bends and the bent tip may still stop it."
        ],
    )


def unanswered_section(request: FitRequest) -> Section:
    """What was asked and has no answer, case by case."""
    return Section(
        name="not_answered",
        title="Not answered",
        rows=[{"case": one.case, "reason": one.reason} for one in request.unanswered],
        columns=[Column("case", "case"), Column("why", "reason")],
    )


def _why_not(rows: list[dict[str, Any]]) -> list[str]:
    """One sentence for each column with numbers withheld: of which pairs, and why."""
    reasons = {
        "No flow": [row["outflow_reason"] or row["relative_outflow_reason"] for row in rows],
        "No pressure for the same flow": [row["relative_pressure_reason"] for row in rows],
    }
    names = [f"{row['pair']} {row['position']}" for row in rows]
    said = []
    for what, why in reasons.items():
        pairs = zip(names, why, strict=True)
        about = [f"{name} ({reason})" for name, reason in pairs if reason and reason != NO_REFERENCE]
        said += [f"{what}: {', '.join(about)}."] if about else []
    return [*said, "A lower --pressure may be answered."] if said else []


def _losses(rows: list[dict[str, Any]]) -> list[str]:
    high = [row for row in rows if row["entrance_share"] is not None and row["entrance_share"] >= HIGH_LOSS]
    if not high:
        return []
    named = ", ".join(f"{row['pair']} {row['position']}" for row in high)
    return [f"The entrance takes {100 * HIGH_LOSS:g} % of the pressure or more, so flow is overstated: {named}."]
