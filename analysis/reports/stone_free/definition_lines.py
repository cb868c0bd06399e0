"""The six parts of the definition, each in words on a line of its own."""

from __future__ import annotations

from analysis.outcomes.definition import Definition
from analysis.outcomes.definition_words import DENOMINATOR, DIED, IMAGING, PICK, RETREATED, SESSIONS, STONES, UNIT
from analysis.reports.stone_free.modelled import HANDLINGS
from analysis.reports.stone_free.request import Request

SPOKEN_UNIT = {
    "side": "treated sides",
    "stone": "stones",
    "operation": "operations",
    "course": "courses",
    "patient": "patients",
}


def definition_lines(request: Request) -> list[tuple[str, str]]:
    """Part and what was decided about it, in the order threshold, imaging, window, unit, sessions, unscanned."""
    definition = request.definition
    first, last = definition.window
    return [
        ("threshold", "; ".join(one.in_words() for one in definition.thresholds)),
        ("imaging", _imaging(definition)),
        ("window", f"day {first} to {last}, both included, {SESSIONS[definition.sessions]}"),
        ("unit", f"{UNIT[definition.unit]} {DENOMINATOR[definition.denominator]}; {STONES[definition.stones]}"),
        ("sessions", f"{definition.sessions}; {RETREATED[definition.retreated]}, and {DIED[definition.died]}"),
        ("unscanned", "; ".join(HANDLINGS[mode] for mode in request.unscanned)),
    ]


def _imaging(definition: Definition) -> str:
    table = definition.adequacy
    adequacy = "adequacy switched off" if table.switched_off else f"adequacy table {table.name}"
    assumed = definition.assume_slice_mm
    slices = "" if assumed is None else f", a CT slice that is not recorded taken as {assumed:g} mm"
    pick = PICK[definition.pick].format(target=definition.target_day)
    return f"{IMAGING[definition.imaging]}; {pick}; {adequacy}{slices}"
