"""Quantities: minutes of the operation, nights from it to discharge, cost of the course, or a column of the cohort."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.cohort.columns import column_named
from analysis.cohort.sql.complications import SUBJECT
from analysis.cohort.subjects import subject_frames
from analysis.reports.complications.gathered import operation_frame
from analysis.reports.complications.operation_units import operation_units
from analysis.reports.ratio.model_file import Model
from analysis.reports.ratio.outcome_options import one_of, options_of, read_as_typed, who_is_counted
from analysis.reports.ratio.rows import KNOWN, NOT_DUE, OUT, UNKNOWN, Kind, Rows, tightest_known
from analysis.reports.request.source import Asked
from registry.schema.errors import GravelbookError

KINDS: dict[str, Kind] = {"linear": "linear", "skewed": "skewed", "count": "count"}


def operating_rows(model: Model, asked: Asked) -> Rows:
    """Operating minutes of each operation that treated a side to remove a stone (or of all)."""
    options_of(model, ("denominator",))
    frame = _operations(model, asked)
    minutes = frame["operating_min"].to_numpy(dtype=np.float64, na_value=np.nan)
    return Rows(
        unit="operation",
        kind="skewed",
        frame=_with(frame, minutes),
        label="operating minutes",
        measured="mean minutes",
        definition={"field": "operation.operating_min", "denominator": model.options.get("denominator", "intended")},
        who=who_is_counted(model.options.get("denominator", "intended")),
        in_words=(("minutes", "operating minutes as recorded, from the start to the end that the unit recorded"),),
    )


def nights_rows(model: Model, asked: Asked) -> Rows:
    """Nights from the operation to the discharge from its admission; 0 when both are on one day."""
    options_of(model, ("denominator",))
    frame = _operations(model, asked)
    stays = subject_frames(asked.snapshot, SUBJECT, asked.cohort.as_of)["operations"].set_index("operation_id")
    out = stays["discharged_on"].reindex(frame["operation_id"]).reset_index(drop=True)
    out = out.where(out <= pd.Timestamp(asked.cohort.as_of))
    nights = (out - frame["operated_on"].reset_index(drop=True)).dt.days.to_numpy(dtype=np.float64)
    return Rows(
        unit="operation",
        kind="count",
        frame=_with(frame, np.where(nights >= 0, nights, np.nan)),
        label="nights in hospital after the operation",
        measured="mean nights",
        definition={
            "rule": "nights from the day of the operation to the discharge from the admission it belongs to",
            "denominator": model.options.get("denominator", "intended"),
        },
        who=who_is_counted(model.options.get("denominator", "intended")),
        in_words=(
            ("nights", "from the operation to the discharge from its admission; none on one day; unknown without one"),
        ),
    )


def cost_rows(model: Model, asked: Asked) -> Rows:
    """Cost of each course to the end of the horizon; its exposure is that of the index side."""
    from analysis.reports.cost.gathered import gathered
    from analysis.reports.cost.request import OWN

    allowed = tuple(name for name in OWN if name not in ("willing", "level", "replicates"))
    options = options_of(model, allowed)
    held = read_as_typed(model, lambda: gathered(asked, dict(options)))
    sides = asked.cohort.sides_frame.set_index("side_id", drop=False)
    courses = held.courses
    frame = sides.loc[courses["index_side"]].reset_index(drop=True)
    frame["unit_id"] = courses["course_id"].to_numpy()
    inside, due = held.inside, courses["due"].to_numpy(dtype=bool)
    known = inside & held.costed
    frame["outcome_state"] = np.where(known, KNOWN, np.where(~inside, OUT, np.where(due, UNKNOWN, NOT_DUE))).astype(
        object
    )
    frame["outcome"] = np.where(known, courses["cost"].to_numpy(dtype=np.float64), np.nan)
    days = held.request.rules.horizon
    return Rows(
        unit="course",
        kind="skewed",
        frame=frame,
        label=f"cost over {days} days ({held.currency or 'no currency'})",
        measured=f"mean cost, {held.currency or ''}".rstrip(", "),
        definition={**held.request.as_dict(), "currency": held.currency, "price_year": held.price_year},
        in_words=(("cost", f"of the course by the hospital's own prices and rates, day 0 to {days}"),),
        own_defaults=held.request.own_defaults,
        small_number=held.request.small_number,
    )


def column_rows(model: Model, asked: Asked) -> Rows:
    """Any column of the cohort that holds numbers, or yes and no.

    `kind` says how numbers are taken: linear (the default), skewed, count. A column of the operation has one row an
    operation, any other one row a treated side. Raises GravelbookError for a column that is no outcome.
    """
    options_of(model, ("column", "kind"))
    if "column" not in model.options:
        raise GravelbookError(f'{model.place}, [outcome]: what = "column" needs column = "...", the one to explain.')
    column = column_named(model.options["column"], where=f"{model.place}, [outcome] column: ")
    if column.name == model.exposure.column or column.name in {one.term.column for one in model.adjusters}:
        raise GravelbookError(f"{model.place}: {column.name} is the outcome and a term of the model too; name it once.")
    of_operation = column.source.startswith("operation.")
    sides = asked.cohort.sides_frame
    frame = tightest_known(operation_frame(sides), sides) if of_operation else sides.copy()
    values = frame[column.name]
    if column.holds == "code" and set(column.levels) == {"yes", "no"}:
        if "kind" in model.options:
            raise GravelbookError(f"{model.place}, [outcome] kind: {column.name} holds yes and no; leave kind out.")
        kind: Kind = "yes_no"
        said = values.astype(object)
        numbers = np.where(said == "yes", 1.0, np.where(said == "no", 0.0, np.nan))
    elif column.holds in ("whole", "number"):
        kind = KINDS[one_of(model, "kind", "linear", tuple(KINDS))]
        numbers = values.to_numpy(dtype=np.float64, na_value=np.nan)
    else:
        raise GravelbookError(
            f"{model.place}, [outcome] column: {column.name} ({column.label}) holds {column.holds}s; an outcome holds "
            "numbers, or yes and no."
        )
    frame = _with(frame, numbers)
    frame["unit_id"] = frame["operation_id" if of_operation else "side_id"]
    if kind == "yes_no":
        frame["lower"] = np.where(np.isnan(numbers), 0.0, numbers)
        frame["upper"] = np.where(np.isnan(numbers), 1.0, numbers)
    return Rows(
        unit="operation" if of_operation else "treated side",
        kind=kind,
        frame=frame,
        label=column.label[0].lower() + column.label[1:],
        measured="share" if kind == "yes_no" else "mean",
        definition={"column": column.name, "source": column.source},
        in_words=(("outcome", f"the column {column.name}, {column.label}, as recorded"),),
    )


def _operations(model: Model, asked: Asked) -> pd.DataFrame:
    denominator = one_of(model, "denominator", "intended", ("intended", "all"))
    sides = asked.cohort.sides_frame
    units = operation_units(sides, (), {"denominator": denominator})
    whole = operation_frame(sides).set_index("operation_id").loc[units.operation_id].reset_index()
    whole["unit_id"] = whole["operation_id"]
    return tightest_known(whole, sides)


def _with(frame: pd.DataFrame, values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> pd.DataFrame:
    made = frame.copy()
    made["outcome"] = values
    made["outcome_state"] = np.where(np.isnan(values), UNKNOWN, KNOWN).astype(object)
    return made
