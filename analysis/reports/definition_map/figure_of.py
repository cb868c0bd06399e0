"""The figure of the map, as the bytes of a file."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pandas as pd

from analysis.reports.definition_map.differences import WORDS, Difference, differences_of
from analysis.reports.definition_map.map_sections import counted_words, in_order, in_words, threshold_words
from analysis.reports.definition_map.worked import DefinitionMap
from analysis.reports.request.source import Source
from analysis.reports.stone_free.definition_lines import SPOKEN_UNIT
from analysis.tables.rounding import percent, points
from analysis.tables.small_numbers import too_few

if TYPE_CHECKING:
    from analysis.figures.stone_free import Kind


def map_figure(made: DefinitionMap, source: Source, kind: Kind) -> bytes:
    """The figure as PNG or SVG; a definition asked for outside the grid has panels of its own."""
    from analysis.figures.definition_map import draw_map
    from analysis.figures.stone_free import as_bytes

    data = map_data(made)
    title = f"One unit, one set of scans, {counted_words(made).replace('definitions', 'definitions of stone-free')}"
    figure = draw_map(data, title=title, notes=_notes(made, source))
    return as_bytes(figure, kind, title=title, description=" ".join(_spoken(made)))


def map_data(made: DefinitionMap) -> pd.DataFrame:
    """What the figure shows, one row a definition with its bounds beside; see `figures.definition_map.draw_map`."""
    small = made.request.small_number
    codes = in_order(str(row["threshold"]) for row in made.rows)
    cells: dict[tuple[Any, str], dict[str, dict[str, Any]]] = {}
    for row in made.rows:
        cells.setdefault((row["combination"], str(row["threshold"])), {})[str(row["unscanned"])] = row
    rows = []
    for (one, code), held in cells.items():
        complete, lower, upper = (held[mode] for mode in ("complete", "lower", "upper"))
        few = too_few(complete["n"], small)
        hidden = lower["estimate"] is None or too_few(lower["n"], small)
        rows.append(
            {
                "window": one.window,
                "unit": SPOKEN_UNIT[one.unit] + ("" if one.sessions == "single" else f", {one.sessions} stages"),
                "imaging": one.imaging,
                "threshold": _on_axis(code),
                "x": codes.index(code),
                "n": complete["n"],
                "rate": math.nan if few or complete["estimate"] is None else complete["estimate"],
                "bottom": math.nan if hidden else lower["estimate"],
                "top": math.nan if hidden else upper["estimate"],
                "weighted": _modelled(held.get("weighted"), small),
                "imputed": _modelled(held.get("imputed"), small),
                "ringed": complete["own_default"],
                "cannot": not complete["can_succeed"],
                "few": few,
            }
        )
    return pd.DataFrame(rows)


def _modelled(row: dict[str, Any] | None, small_number: int) -> float:
    if row is None or row["estimate"] is None or too_few(row["n"], small_number):
        return math.nan
    return float(row["estimate"])


def _on_axis(code: str) -> str:
    words = threshold_words(code).removesuffix(" mm")
    return words.replace("<=", "\N{LESS-THAN OR EQUAL TO}")


def _notes(made: DefinitionMap, source: Source) -> list[str]:
    definition = made.request.definition
    brackets = "In brackets: no such study can clear a kidney at that threshold, so there is no mark. "
    leans = " Studies not adequate at a threshold can show failure and never success, so that marks lean low."
    notes = [
        "Across: largest fragment that still counts as stone-free, mm. Marks: those with a known status; under each "
        "panel their number. Pale bars: from all unknown counted as failed to all counted as free. "
        f"{'' if all(row['can_succeed'] for row in made.rows) else brackets}No intervals are drawn: all are the same "
        "patients and scans.",
        f"In all of it: {definition.pick} study, adequacy table {definition.adequacy.name}, stones "
        f"{definition.stones}, treated again {definition.retreated}, died {definition.died}, denominator "
        f"{definition.denominator}. As of {source.as_of}, snapshot {str(source.snapshot['content_hash'])[:12]}."
        f"{'' if definition.adequacy.switched_off else leans}",
    ]
    apart = {one.differs: one for one in differences_of(made)}
    alone = [
        f"{words} {points(apart[axis].size)}"
        for axis, words in (
            ("threshold", "threshold"),
            ("imaging", "imaging"),
            ("window", "window"),
            ("unit", "unit"),
        )
        if axis in apart
    ]
    if alone:
        notes.append(
            f"Largest difference by one part of the definition alone, percentage points: {', '.join(alone)}; by "
            f"handling of the unscanned alone, at the definition asked for, {_by_handling(apart.get('handling'))}."
        )
    if made.outside:
        notes.append("The definition asked for lies outside the grid and is shown in a panel of its own.")
    return notes


def _by_handling(found: Difference | None) -> str:
    if found is None:
        return "none to be shown"
    return f"{points(found.size)} ({threshold_words(str(found.high['threshold']))})"


def _spoken(made: DefinitionMap) -> list[str]:
    """The ends of the map in words, for people who cannot see it."""
    said = []
    for one in differences_of(made):
        high, low = (f"{percent(row['estimate'])} of {row['n']} ({in_words(row)})" for row in (one.high, one.low))
        said.append(
            f"Differing in {WORDS[one.differs] if one.differs == 'handling' else one.differs}: from {low} to {high}."
        )
    return said
