"""Which rows each outcome of a model file has."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from analysis.reports.ratio.model_file import Model
from analysis.reports.ratio.outcome_complications import complication_rows, worst_grade_rows
from analysis.reports.ratio.outcome_infection import infection_rows
from analysis.reports.ratio.outcome_quantities import column_rows, cost_rows, nights_rows, operating_rows
from analysis.reports.ratio.outcome_stone_free import stone_free_rows
from analysis.reports.ratio.rows import Rows, tidied
from analysis.reports.request.source import Asked

MAKERS: dict[str, Callable[[Model, Asked], Rows]] = {
    "stone_free": stone_free_rows,
    "complication": complication_rows,
    "worst_grade": worst_grade_rows,
    "infection": infection_rows,
    "operating_min": operating_rows,
    "nights": nights_rows,
    "cost": cost_rows,
    "column": column_rows,
}


def rows_of(model: Model, asked: Asked) -> Rows:
    """The rows of a model's outcome in a cohort. Raises GravelbookError for options at fault."""
    rows = MAKERS[model.outcome](model, asked)
    return replace(rows, frame=tidied(rows.frame, model.exposure.column).reset_index(drop=True))
