"""Sections before any result: who is in the model, the values of the exposure, operators, overlap."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from analysis.estimators.proportions import proportion_interval
from analysis.reports.ratio.effects import shown
from analysis.reports.ratio.exposure_values import same_value
from analysis.reports.ratio.model_file import RATIO, Model
from analysis.reports.ratio.overlap import FEW
from analysis.reports.ratio.rows import DIED, KNOWN, NOT_DUE, OUT, UNKNOWN, Rows
from analysis.reports.ratio.support import Support
from analysis.reports.sections.report import Column, Section
from analysis.tables.small_numbers import too_few, withheld

STATE_WORDS = {
    OUT: "outside the denominator (treatment not meant, or not begun)",
    NOT_DUE: "outcome not due yet",
    DIED: "died before the outcome was looked for",
    UNKNOWN: "outcome unknown",
}
EXPOSURE_WORDS = {
    "not applicable": "exposure not applicable (no sheath, or no scope in it)",
    "missing": "exposure missing",
    "impossible": "exposure impossible (a scope thicker than its sheath)",
}
FLOW_COLUMNS = (Column("", "step"), Column("left out", "left_out", "count"), Column("left", "n", "count", free=True))
FIRST_SIDE = (
    "Where both sides were treated the exposure is that of the tighter side, and what else tells of a side (stones, "
    "hydronephrosis) is that of the first; the sensitivity section leaves these operations out."
)


def flow_rows(rows: Rows, dropped: dict[str, int]) -> list[dict[str, Any]]:
    """From the cohort to the model, each step with how many it leaves out and how many are left.

    dropped: rows with outcome and exposure that lack a covariate, by the first one they lack.
    """
    frame, left = rows.frame, len(rows.frame)
    made: list[dict[str, Any]] = [{"step": rows.first_step, "left_out": 0, "n": left}]
    for state, said in STATE_WORDS.items():
        many = int((frame["outcome_state"] == state).sum())
        if many or state == UNKNOWN:
            left -= many
            made.append({"step": said, "left_out": many, "n": left})
    known = frame[frame["outcome_state"] == KNOWN]
    for state, said in EXPOSURE_WORDS.items():
        many = int((known["exposure_state"] == state).sum())
        if many or state == "missing":
            left -= many
            made.append({"step": said, "left_out": many, "n": left})
    for name, many in dropped.items():
        left -= many
        made.append({"step": f"{name} missing", "left_out": many, "n": left})
    made.append({"step": "in the model", "left_out": 0, "n": left})
    return made


def flow_section(rows: Rows, dropped: dict[str, int], *, refused: int | None, imputed: bool) -> Section:
    """Who is in the model. refused: patients' sides left out because they refused research use."""
    notes = []
    if refused is not None:
        notes.append(f"Left out before that, for research use was refused: {refused:,} treated sides.")
    if rows.unit == "operation":
        notes.append(FIRST_SIDE)
    if imputed:
        notes.append("Missing covariates are imputed, so that no row is left out for them.")
    return Section(
        name="rows",
        title=f"Who is in the model ({rows.unit}s)",
        rows=flow_rows(rows, dropped),
        columns=FLOW_COLUMNS,
        definition={"unit": rows.unit, "refused_research": refused},
        notes=notes,
    )


def support_sections(model: Model, rows: Rows, support: Support) -> list[Section]:
    """`exposure`, `operators_by_exposure`, `overlap`."""
    return [_values(model, rows, support), _operators(rows, support), _overlap(support, rows.small_number)]


def _values(model: Model, rows: Rows, support: Support) -> Section:
    frame, column = support.frame, support.column
    lacking = rows.frame[(rows.frame["outcome_state"] == UNKNOWN) & (rows.frame["exposure_state"] == "known")]
    made: list[dict[str, Any]] = []
    for value, own in support.parts.items():
        mine = frame[own]
        n = len(mine)
        row: dict[str, Any] = {
            "value": shown(value),
            "n": n,
            "unknown": int(same_value(lacking[column], value).sum()) if value in support.values else None,
            "operators": int(mine["operator"].nunique()),
            "patients": int(mine["patient_id"].nunique()),
            "events": int(mine["outcome"].sum()) if rows.kind == "yes_no" else None,
            "estimate": float(mine["outcome"].mean()) if n else None,
        }
        if rows.kind == "yes_no" and n:
            limits = proportion_interval(events=int(mine["outcome"].sum()), n=n, level=model.level)
            row |= {"low": limits.low, "high": limits.high}
        if column == RATIO and not isinstance(value, str):
            row |= {"reciprocal": 1 / value, "band": str(mine["scope_to_sheath_band"].iloc[0])}
        made.append(row)
    many = len(support.values)
    notes = [f"{many} distinct values among {len(frame):,} {rows.unit}s with outcome and exposure known."]
    if many > len(support.parts):
        notes.append("With so many values, stretches of a quarter of the rows each are shown.")
    return Section(
        name="exposure",
        title=f"What supports the answer: the values of {column} that occur",
        rows=made,
        columns=(
            Column(column if column != RATIO else "sheath to scope", "value"),
            *(
                (Column("reciprocal", "reciprocal", "ratio", free=True), Column("band", "band"))
                if column == RATIO
                else ()
            ),
            Column("n", "n", "count"),
            *((Column("with it", "events", "count"),) if rows.kind == "yes_no" else ()),
            Column(f"crude {rows.measured}", "estimate", "percent" if rows.kind == "yes_no" else "number"),
            *((Column("interval", "low high", "percent_range"),) if rows.kind == "yes_no" else ()),
            Column("unknown", "unknown", "count"),
            Column("patients", "patients", "count"),
            Column("operators", "operators", "count"),
        ),
        definition={"column": column, "distinct": many, "values": list(support.values)},
        notes=(*notes, *support.cautions),
    )


def _operators(rows: Rows, support: Support) -> Section:
    frame = support.frame
    who = frame["operator"].astype(object).where(frame["operator"].notna(), "not recorded")
    keys = {value: f"at_{shown(value).replace(' ', '_')}" for value in support.parts}
    made = []
    for operator in sorted(who.unique(), key=lambda each: (each == "not recorded", str(each))):
        own = (who == operator).to_numpy(dtype=bool)
        counts = {keys[value]: int((own & part).sum()) for value, part in support.parts.items()}
        made.append(
            {"operator": operator, "n": int(own.sum()), "values": sum(1 for each in counts.values() if each), **counts}
        )
    return Section(
        name="operators_by_exposure",
        title=f"Operators and {support.column} ({rows.unit}s)",
        rows=made,
        columns=(
            Column("operator", "operator"),
            *(Column(shown(value), key, "count") for value, key in keys.items()),
            Column("all", "n", "count"),
            Column("values used", "values", "count"),
        ),
        notes=() if any(row["values"] > 1 for row in made) else ("No operator used two values.",),
    )


def _overlap(support: Support, small_number: int) -> Section:
    keys = {value: f"at_{shown(value).replace(' ', '_')}" for value in support.parts}
    few = {value for value, own in support.parts.items() if too_few(float(own.sum()), small_number)}
    made: list[dict[str, Any]] = []
    for one in support.overlaps:
        between = f"{shown(one.between[0])} and {shown(one.between[1])}" if one.between else None
        row: dict[str, Any] = {
            "column": one.column,
            "level": one.level,
            "measure": "share" if one.level else "mean",
            "n": one.n,
            "unknown": one.unknown,
            "estimate": one.largest if one.largest is None or np.isfinite(one.largest) else None,
            "reason": None if one.largest is None or np.isfinite(one.largest) else "no spread: told apart completely",
            "between": between,
            **{keys[value]: told for value, told in one.by_value.items()},
            **{
                f"{keys[value]}_shown": withheld(small_number) if value in few else _said(told, bool(one.level))
                for value, told in one.by_value.items()
            },
        }
        made.append(row)
    # A share or a mean of a few rows tells nothing of anybody's outcome, and the table would be no use without.
    return Section(
        name="overlap",
        title=f"Are the rows alike at every {support.column}? Mean or share, and the largest difference",
        rows=made,
        columns=(
            Column("column", "column"),
            Column("", "level"),
            *(Column(shown(value), f"{key}_shown") for value, key in keys.items()),
            Column("largest std. difference", "estimate", "ratio", free=True),
        ),
        definition={
            "standardised_difference": "Austin PC, Stat Med 2009;28:3083-3107",
            "between_values_with_rows": FEW,
        },
        notes=(
            f"Differences in standard deviations, the largest between two values with {FEW} rows or more; about 0.1 is "
            "little. Among rows with outcome and exposure known.",
        ),
    )


def _said(value: float | None, share: bool) -> str | None:
    if value is None or pd.isna(value):
        return None
    return f"{100 * value:.0f} %" if share else f"{value:.4g}"
