"""Fit, irrigation, suction, pressure and view as recorded: of each, how many have it, and how it is spread."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.cohort.columns import CohortColumn, column_named
from analysis.reports.request.grouping import everyone, units_of
from analysis.reports.sections.proportion_rows import proportion_rows
from analysis.reports.sections.report import Column, Section

FIT_COLUMNS = (
    "sheath_to_scope_ratio",
    "scope_to_sheath_ratio",
    "scope_to_sheath_band",
    "scope_to_sheath_split",
)
EXPOSURES = (
    *FIT_COLUMNS,
    "irrigation_drive",
    "irrigation_height_cm",
    "irrigation_set_pressure_mmhg",
    "hand_flushes",
    "suction",
    "suction_control",
    "suction_level_kpa",
    "suction_pattern",
    "pressure_mean_cmh2o",
    "pressure_highest_cmh2o",
    "pressure_threshold_cmh2o",
    "pressure_above_threshold_s",
    "visibility",
)
ONLY_WITH_SUCTION = ("suction_control", "suction_level_kpa", "suction_pattern")
ONLY_DRIVEN_BY = {
    "irrigation_height_cm": ("gravity",),
    "irrigation_set_pressure_mmhg": ("pressure_bag", "automatic_pump"),
}
"""A height belongs to gravity, a set pressure to a bag or a pump; a recorded value counts whatever is said."""
NOT_IRRIGATED = ("shock_wave",)
WHO = (
    "All sides but those treated by shock waves alone. Not applicable: a ratio without a sheath, control of suction "
    "where there was none, a bag's height where irrigation was not by gravity, a set pressure where it was by neither "
    "pressure bag nor pump."
)


def exposure_sections(sides: pd.DataFrame) -> list[Section]:
    """Two tables: one row a column with n, missing and quartiles; one row a level with its count and share."""
    asked = sides[~sides["technique"].isin(NOT_IRRIGATED).to_numpy(dtype=bool)].reset_index(drop=True)
    cluster = pd.factorize(asked["patient_id"])[0].astype(np.int64)
    overview: list[dict[str, Any]] = []
    levels: list[dict[str, Any]] = []
    for name in EXPOSURES:
        column = column_named(name)
        out = not_applicable(asked, name)
        overview.append(overview_row(asked[name], column, out))
        if column.holds == "code":
            levels += level_rows(asked[name], column, out, cluster)
    return [_overview_section(overview, len(asked)), _levels_section(levels)]


def not_applicable(sides: pd.DataFrame, name: str) -> npt.NDArray[np.bool_]:
    """Which sides cannot have a value: it is not recorded, and what it belongs to was not used."""
    empty = sides[name].isna().to_numpy()
    if name in FIT_COLUMNS:
        return np.asarray(empty & (sides["ratio_state"] == "not applicable").to_numpy(dtype=bool, na_value=False))
    if name in ONLY_WITH_SUCTION:
        return np.asarray(empty & (sides["suction"] == "none").to_numpy(dtype=bool, na_value=False))
    if name in ONLY_DRIVEN_BY:
        drive = sides["irrigation_drive"]
        return np.asarray(empty & (drive.notna() & ~drive.isin(ONLY_DRIVEN_BY[name])).to_numpy(dtype=bool))
    return np.zeros(len(sides), dtype=bool)


def overview_row(values: pd.Series, column: CohortColumn, out: npt.NDArray[np.bool_]) -> dict[str, Any]:
    """n, unknown (missing) and not applicable of one column, with median and quartiles of a number."""
    known = values.dropna()
    number = column.holds in ("whole", "number")
    at = known.astype("float64").quantile([0, 0.25, 0.5, 0.75, 1]).tolist() if number and len(known) else [None] * 5
    return {
        "column": column.name,
        "label": column.label,
        "unit": units_of({column.name: column})(column.name),
        "arises": column.arises.value if column.arises else None,
        "n": len(known),
        "unknown": int(values.isna().sum() - out.sum()),
        "not_applicable": int(out.sum()),
        "lowest": at[0],
        "lower_quartile": at[1],
        "median": at[2],
        "upper_quartile": at[3],
        "highest": at[4],
    }


def level_rows(
    values: pd.Series, column: CohortColumn, out: npt.NDArray[np.bool_], cluster: npt.NDArray[np.int64]
) -> list[dict[str, Any]]:
    """One row a level of a coded column: count, share among those recorded, plain and patient-clustered interval."""
    counted = values.notna().to_numpy()
    text = values.astype("string")
    unknown = int((~counted).sum() - out.sum())
    rows = []
    for level, label in zip(column.levels, column.labels, strict=True):
        event = (text == level).to_numpy(dtype=bool, na_value=False)
        (row,) = proportion_rows(event=event, counted=counted, cluster=cluster, grouping=everyone(len(values)))
        made = {key: value for key, value in row.items() if key != "group"}
        rows.append({"column": column.name, "level": level, "label": label, **made, "unknown": unknown})
    return rows


def _overview_section(rows: list[dict[str, Any]], sides: int) -> Section:
    return Section(
        name="exposures",
        title="Fit, irrigation, suction, pressure and view, as recorded",
        rows=rows,
        columns=[
            Column("column", "column"),
            Column("unit", "unit"),
            Column("arises", "arises"),
            Column("n", "n", "count"),
            Column("missing", "unknown", "count"),
            Column("not applicable", "not_applicable", "count"),
            Column("lower quartile", "lower_quartile", "number", 2),
            Column("median", "median", "number", 2),
            Column("upper quartile", "upper_quartile", "number", 2),
        ],
        definition={"sides": sides, "who": WHO},
        notes=[f"{sides:,} sides. {WHO}", "What arises after access is no adjuster of a comparison of equipment."],
    )


def _levels_section(rows: list[dict[str, Any]]) -> Section:
    return Section(
        name="exposure_levels",
        title="Their levels",
        rows=rows,
        columns=[
            Column("column", "column"),
            Column("level", "label"),
            Column("count", "events", "count"),
            Column("n", "n", "count"),
            Column("share", "estimate", "percent"),
            Column("95 % interval", "low high", "percent_range"),
            Column("clustered", "low_clustered high_clustered", "percent_range"),
        ],
        definition={"who": WHO, "interval": "wilson", "level": 0.95, "clustered": "by patient"},
        notes=["Shares among the sides with the column recorded. Clustered: wider where a patient has several sides."],
    )
