"""Kidney function before and after the operation, and acute injury, one row an operation."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.cohort.sql import observations
from analysis.cohort.subjects import subject_frames
from analysis.estimators.mean_change import mean_change
from analysis.estimators.proportions import ProportionMethod
from analysis.outcomes.kidney.filtration import CKD_EPI_2021
from analysis.outcomes.kidney.injury import KDIGO_2012
from analysis.outcomes.kidney.judged import judge_kidney, quartiles
from analysis.outcomes.kidney.rules import KidneyRules
from analysis.reports.complications.answer_rows import answer_rows
from analysis.reports.complications.clinical_options import kidney_rules
from analysis.reports.complications.operation_units import OperationUnits, operation_units
from analysis.reports.request.grouping import Grouping, grouped
from analysis.reports.request.source import Asked
from analysis.reports.request.splits import Split
from analysis.reports.sections.report import Column, Section

STAGES = ((1, "KDIGO stage 1 or more"), (2, "KDIGO stage 2 or more"), (3, "KDIGO stage 3"))
COLUMNS = (
    Column("what", "what"),
    Column("n", "n", "count"),
    Column("missing", "unknown", "count"),
    Column("not due", "not_due", "count"),
    Column("events", "events", "count"),
    Column("rate", "rate", "percent"),
    Column("interval", "rate_low rate_high", "percent_range"),
    Column("before", "mean_before", "number"),
    Column("after", "mean_after", "number"),
    Column("mean change", "mean", "number"),
    Column("low", "mean_low", "number"),
    Column("high", "mean_high", "number"),
    Column("median", "median", "number"),
    Column("quartile 1", "quartile_1", "number"),
    Column("quartile 3", "quartile_3", "number"),
    Column("median day", "median_day_after", "number", 0),
)


def kidney_section(
    asked: Asked,
    by: Sequence[Split],
    level: float,
    interval: ProportionMethod,
    days: Sequence[int],
    settings: Mapping[str, str],
) -> Section:
    """Acute injury by KDIGO within 7 days, and the change of the filtration rate, all and solitary kidneys.

    by, level, interval, settings: as `infection_section` takes them (options in `clinical_options`). days is not
    looked at: the windows are the definition's own and `egfr_window`. Each row: group, what, definition, n, unknown,
    not_computable (what is missing: number), not_due, estimate, low, high, low_clustered, high_clustered; estimate is
    a share in the rows of injury and mL/min/1.73 m2 in those of change, as `unit` says. Rows of change have
    mean_before, mean_after, median, quartile_1, quartile_3, median_day_after and patients besides.
    Raises MalformedOptionError, and GravelbookError for a column that is not there.
    """
    rules = kidney_rules(settings)
    units = operation_units(asked.cohort.sides_frame, by, settings)
    frames = subject_frames(asked.snapshot, observations.SUBJECT, asked.cohort.as_of)
    made = judge_kidney(frames, rules, as_of=asked.cohort.as_of, operation_ids=units.operation_id)
    grouping = grouped(units.side_id, np.ones(len(made), dtype=bool), asked.cohort.sides_frame, by)
    rows = _injury_rows(made, units, grouping, interval, level)
    for place, label in enumerate(grouping.as_dicts()):
        own = grouping.codes == place
        rows.append({"group": label, **_change_row(made, units, own, "Change of eGFR", level)})
        rows.append(
            {"group": label, **_change_row(made, units, own & units.solitary, "Change, solitary kidney", level)}
        )
    order = {str(label): at for at, label in enumerate(grouping.as_dicts())}
    rows.sort(key=lambda row: order[str(row["group"])])
    return Section(
        name="kidney",
        title="Kidney function, one row an operation",
        rows=rows,
        columns=COLUMNS,
        definition={
            "unit": "operation",
            "denominator": settings.get("denominator", "intended"),
            "level": level,
            "interval": interval,
            "interval_of_the_mean": "t; clustered: by patient, robust (CR1), t with patients - 1",
            "definitions": {one.id: one.as_dict() for one in (CKD_EPI_2021, KDIGO_2012)},
            "settings": {
                "baseline_days": rules.baseline_days,
                "egfr_day": "last" if rules.target_day is None else rules.target_day,
                "egfr_window": f"{rules.first_day}:{rules.last_day}",
            },
        },
        in_words=[CKD_EPI_2021.in_words(), KDIGO_2012.in_words(), ("Values", _values_in_words(rules))],
        notes=[
            "Age is that at the operation for both values. A mean change needs both values of the same operation; "
            "whoever was measured again may differ from whoever was not. An operation whose window is not over is "
            "counted once it has a value after, and otherwise not due.",
        ],
    )


def _values_in_words(rules: KidneyRules) -> str:
    chosen = "the last" if rules.target_day is None else f"the one nearest day {rules.target_day}"
    return (
        f"Before: the last creatinine in the {rules.baseline_days} days before the operation. After: {chosen} of days "
        f"{rules.first_day} to {rules.last_day}, none after the patient's next operation. Of one day the highest"
    )


def _injury_rows(
    made: pd.DataFrame, units: OperationUnits, grouping: Grouping, interval: ProportionMethod, level: float
) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    due = made["due_injury"].to_numpy(bool)
    for stage, what in STAGES:
        known = (made["stage"] >= stage).astype("boolean")
        state = made["any_stage"] if stage == 1 else known
        for row in answer_rows(
            state=state,
            missing=made["stage_reason"].where(state.isna(), ""),
            due=due,
            eligible=due,
            cluster=units.patient,
            grouping=grouping,
            interval=interval,
            level=level,
        ):
            rate = {"rate": row["estimate"], "rate_low": row["low"], "rate_high": row["high"]}
            rows.append({"what": what, "definition": KDIGO_2012.id, "unit": "share", **row, **rate})
    return rows


def _change_row(
    made: pd.DataFrame, units: OperationUnits, own: npt.NDArray[np.bool_], what: str, level: float
) -> dict[str, Any]:
    due = own & made["due_change"].to_numpy(bool)
    known = due & made["change"].notna().to_numpy(bool)
    taken = made[known]
    mean = mean_change(values=taken["change"].to_numpy(np.float64), cluster=units.patient[known], level=level)
    low, middle, high = quartiles(taken["change"])
    lacking = made.loc[due & ~known, "reason"].astype(str).value_counts()
    return {
        "what": what,
        "definition": CKD_EPI_2021.id,
        "unit": "mL/min/1.73 m2",
        "n": int(known.sum()),
        "unknown": int((due & ~known).sum()),
        "not_computable": {str(name): int(many) for name, many in lacking.items()},
        "not_due": int((own & ~due).sum()),
        "estimate": mean.estimate,
        "low": mean.low,
        "high": mean.high,
        "low_clustered": mean.low_clustered,
        "high_clustered": mean.high_clustered,
        "patients": mean.clusters,
        "mean": mean.estimate,
        "mean_low": mean.low,
        "mean_high": mean.high,
        "mean_before": float(taken["egfr_before"].mean()) if len(taken) else None,
        "mean_after": float(taken["egfr_after"].mean()) if len(taken) else None,
        "median": middle,
        "quartile_1": low,
        "quartile_3": high,
        "median_day_after": float(taken["day_after"].median()) if len(taken) else None,
    }
