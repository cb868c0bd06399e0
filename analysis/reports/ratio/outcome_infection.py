"""Infection after the operation, one row an operation, by a definition that is named."""

from __future__ import annotations

import numpy as np

from analysis.cohort.sql import observations
from analysis.cohort.subjects import subject_frames
from analysis.outcomes.infection.judged import InfectionOutcome, judge
from analysis.reports.complications.clinical_options import infection_days, infection_rules
from analysis.reports.complications.gathered import operation_frame
from analysis.reports.complications.operation_units import operation_units
from analysis.reports.ratio.model_file import Model
from analysis.reports.ratio.outcome_options import one_of, options_of, read_as_typed, who_is_counted
from analysis.reports.ratio.rows import KNOWN, NOT_DUE, UNKNOWN, Rows, tightest_known
from analysis.reports.request.source import Asked
from registry.schema.errors import GravelbookError

DEFAULT = "infection-evidence-1"
READ = ("fever_c", "fever_strict", "culture_log10", "baseline_days", "infection_days")
OPTIONS = ("definition", "days", "denominator", *READ)


def infection_rows(model: Model, asked: Asked) -> Rows:
    """The operations of a cohort with an infectious outcome.

    `definition` is the id of one, or how its id begins where that tells it apart (`fever`, `sepsis-3`); by default
    infection, suspected or documented. Raises GravelbookError for one that is not known, with those that are.
    """
    options = dict(options_of(model, OPTIONS))
    options.setdefault("infection_days", options.get("days", "30"))
    denominator = one_of(model, "denominator", "intended", ("intended", "all"))
    rules = read_as_typed(model, lambda: infection_rules(options))
    days = read_as_typed(model, lambda: infection_days(options))
    sides = asked.cohort.sides_frame
    units = operation_units(sides, (), options)
    frames = subject_frames(asked.snapshot, observations.SUBJECT, asked.cohort.as_of)
    made = judge(frames, rules, days=days, as_of=asked.cohort.as_of, operation_ids=units.operation_id)
    outcome = _named(model, made.outcomes, options.get("definition", DEFAULT))
    whole = operation_frame(sides).set_index("operation_id").loc[units.operation_id].reset_index()
    frame = tightest_known(whole, sides)
    due = made.operations["due"].to_numpy(dtype=bool)
    seen = made.operations["reviewed"].to_numpy(dtype=bool) if outcome.of_reviewed else np.ones(len(frame), dtype=bool)
    state = outcome.answer.state
    yes = state.fillna(False).to_numpy(dtype=bool)
    no = (~state).fillna(False).to_numpy(dtype=bool)
    known = due & seen & (yes | no)
    frame["unit_id"] = frame["operation_id"]
    frame["outcome_state"] = np.where(known, KNOWN, np.where(due, UNKNOWN, NOT_DUE)).astype(object)
    frame["outcome"] = np.where(known, yes.astype(float), np.nan)
    frame["lower"] = np.where(due, yes.astype(float), np.nan)
    frame["upper"] = np.where(due, np.where(no & seen, 0.0, 1.0), np.nan)
    return Rows(
        unit="operation",
        kind="yes_no",
        frame=frame,
        label=f"{outcome.definition.label[0].lower()}{outcome.definition.label[1:]} by day {days}",
        who=who_is_counted(denominator),
        measured="share",
        definition={**outcome.definition.as_dict(), "days": days, "kind": outcome.kind},
        in_words=(outcome.definition.in_words(), ("window", f"day 0, the operation, to day {days}, by calendar days")),
        cautions=("Where measurements are made because a patient is ill, those measured are no fair sample.",)
        if outcome.kind == "computed"
        else (),
    )


def _named(model: Model, outcomes: tuple[InfectionOutcome, ...], asked: str) -> InfectionOutcome:
    exact = [one for one in outcomes if one.definition.id == asked]
    begins = [one for one in outcomes if one.definition.id.startswith(asked)]
    found = exact or begins
    if len(found) != 1:
        why = "is not known" if not found else f"may be {' or '.join(one.definition.id for one in found)}"
        raise GravelbookError(
            f"{model.place}, [outcome] definition: {asked!r} {why}; choose one of "
            f"{', '.join(one.definition.id for one in outcomes)}."
        )
    return found[0]
