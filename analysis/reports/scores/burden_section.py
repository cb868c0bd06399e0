"""Stone burden and lower-pole anatomy of the cohort's sides, with how each was measured."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from analysis.outcomes.anatomy import SOURCE as POLE_SOURCE
from analysis.outcomes.anatomy import VERSION as POLE_VERSION
from analysis.outcomes.burden import SOURCES, VERSION
from analysis.reports.scores.gathered import Gathered
from analysis.reports.sections.report import Column, Section

MEASURES = {
    "stone_count": ("stones", None),
    "largest_mm": ("largest diameter, mm", None),
    "cumulative_mm": ("cumulative diameter, mm", None),
    "area_mm2": ("area, mm2 (from memory)", None),
    "ellipsoid_mm3": ("volume as ellipsoid, mm3", None),
    "segmented_mm3": ("volume as segmented, mm3", None),
    "density_hu": ("attenuation, HU", "density_method"),
    "angle_deg": ("lower-pole angle, degrees", "angle_method"),
    "length_mm": ("infundibular length, mm", None),
    "width_mm": ("infundibular width, mm", None),
}
"""Column, its words, and the column of its method, by which its rows are split."""

FAVOURABLE = {"angle_favourable": "angle above 70 degrees", "length_favourable": "length under 30 mm",
              "width_favourable": "width above 5 mm"}  # fmt: skip


def burden_section(held: Gathered) -> Section:
    """Median and quartiles of each measure among the sides that have it, a method a row where it matters."""
    rows = []
    for place, group in enumerate(held.grouping.as_dicts()):
        own = held.measures[held.grouping.codes == place]
        for column, (words, method) in MEASURES.items():
            unknown = int(own[column].isna().sum())
            ways = _by_method(own, column, method)
            rows += [_row(group, column, words, how, part[column], unknown) for how, part in ways]
    return Section(
        name="burden",
        title="Stone burden and lower pole",
        rows=rows,
        columns=(
            Column("measure", "measure_in_words"),
            Column("measured by", "method"),
            Column("n", "n", "count"),
            Column("unknown", "unknown", "count"),
            Column("median", "estimate", "number"),
            Column("lower quartile", "quartile_low", "number"),
            Column("upper quartile", "quartile_high", "number"),
        ),
        definition={
            "burden": {"version": VERSION, **SOURCES},
            "lower_pole": {"version": POLE_VERSION, "source": POLE_SOURCE},
        },
        notes=(
            "All sides where stone removal was intended; the median describes them, with no interval. A measure is not "
            "added up over a stone that lacks it. Ellipsoid and segmented volumes are told apart and not mixed; angles "
            "are apart by method, because each cut belongs to one.",
            _favourable(held),
        ),
    )


def _by_method(own: pd.DataFrame, column: str, method: str | None) -> list[tuple[str, pd.DataFrame]]:
    known = own[own[column].notna()]
    if method is None or known.empty:
        return [("", known)]
    said = known[method].astype(object).where(known[method].notna(), "not recorded")
    return [(str(how), known[said == how]) for how in sorted(set(said))]


def _row(group: dict[str, Any], column: str, words: str, how: str, values: pd.Series, unknown: int) -> dict[str, Any]:
    known = values.dropna().to_numpy(dtype=np.float64)
    low, middle, high = np.quantile(known, [0.25, 0.5, 0.75]) if len(known) else (None, None, None)
    return {
        "group": group,
        "measure": column,
        "measure_in_words": words,
        "method": how,
        "n": len(known),
        "unknown": unknown,
        "estimate": middle,
        "low": None,
        "high": None,
        "quartile_low": low,
        "quartile_high": high,
    }


def _favourable(held: Gathered) -> str:
    told = []
    for column, words in FAVOURABLE.items():
        known = held.measures[column].dropna()
        told.append(f"{words} in {int((known == 'yes').sum())} of {len(known)}")
    return f"Favourable lower pole: {'; '.join(told)}. {POLE_SOURCE}."
