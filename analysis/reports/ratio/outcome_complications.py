"""Complications, one row an operation: at least a grade, or the worst grade."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.outcomes.complications import proposal
from analysis.outcomes.complications.therapy_levels import GRADES
from analysis.reports.complications.gathered import Gathered, gather
from analysis.reports.complications.request import COMPLICATIONS, Request, read_request
from analysis.reports.complications.units import Status, status_at, units_of
from analysis.reports.ratio.model_file import Model
from analysis.reports.ratio.outcome_options import one_of, options_of, read_as_typed, who_is_counted
from analysis.reports.ratio.rows import KNOWN, NOT_DUE, UNKNOWN, Rows, tightest_known
from analysis.reports.request.source import Asked, settings_in_force

OPTIONS = ("days", "grades", "denominator", "catheter", "alpha_blocker")
WORST = ("none", "I", "II", "III", "IV", "V")
"""Levels of the worst grade; a and b are taken together, for the subgrades of so few would only empty the table."""
OF_GRADE = (0, 1, 2, 3, 3, 4, 4, 5)
"""Place in WORST of each grade number: none, I, II, IIIa, IIIb, IVa, IVb, V."""


def complication_rows(model: Model, asked: Asked) -> Rows:
    """Whether an operation was followed by a complication of at least a grade (`at_least`, by default any)."""
    options_of(model, (*OPTIONS, "at_least"))
    grade = one_of(model, "at_least", GRADES[0], GRADES)
    number = GRADES.index(grade) + 1
    request, gathered, frame, status = _judged(model, asked)
    yes, no = status.low >= number, status.high < number
    frame["outcome_state"] = _state(status, yes | no)
    known = (frame["outcome_state"] == KNOWN).to_numpy(dtype=bool)
    frame["outcome"] = np.where(known, yes.astype(float), np.nan)
    # A complication that is known without a review is a yes in both bounds.
    frame["lower"] = np.where(status.due, yes.astype(float), np.nan)
    frame["upper"] = np.where(status.due, np.where(no & status.reviewed, 0.0, 1.0), np.nan)
    said = "any complication" if number == 1 else f"a complication of grade {grade} or worse"
    return _rows(
        request, gathered, frame, status, kind="yes_no", label=f"{said} by day {status.days}", measured="share"
    )


def worst_grade_rows(model: Model, asked: Asked) -> Rows:
    """The worst grade of each operation: none, I, II, III, IV, V; `highest` joins what lies above a grade with it."""
    options_of(model, (*OPTIONS, "highest"))
    top = WORST.index(one_of(model, "highest", WORST[-1], WORST[2:]))
    request, gathered, frame, status = _judged(model, asked)
    of_grade = np.minimum(np.asarray(OF_GRADE), top)
    low, high = of_grade[status.low], of_grade[status.high]
    frame["outcome_state"] = _state(status, low == high)
    known = (frame["outcome_state"] == KNOWN).to_numpy(dtype=bool)
    frame["outcome"] = np.where(known, low.astype(float), np.nan)
    return _rows(
        request,
        gathered,
        frame,
        status,
        kind="ordered",
        label=f"worst grade of complication by day {status.days}",
        measured="share",
        levels=(*WORST[:top], WORST[top] if top == len(WORST) - 1 else f"{WORST[top]} or worse"),
    )


def _judged(model: Model, asked: Asked) -> tuple[Request, Gathered, pd.DataFrame, Status]:
    typed: dict[str, str | None] = {name: model.options.get(name) for name in OPTIONS}
    typed |= {"days": model.options.get("days", "30"), "unit": "operation", "unreviewed": "reviewed", "show": "grades"}
    given = [name for name, value in typed.items() if value is not None]
    settings = settings_in_force(asked.snapshot, asked.cohort.as_of, COMPLICATIONS, given)
    request = read_as_typed(model, lambda: read_request(typed, settings))
    gathered = gather(asked, denominator=request.denominator, choices=request.choices, grades=request.grades)
    units = units_of(gathered, "operation")
    frame = tightest_known(units.frame, asked.cohort.sides_frame)
    return request, gathered, frame, status_at(units, gathered, request.days[-1])


def _state(status: Status, told: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> np.ndarray[tuple[int], np.dtype]:
    known = status.due & status.reviewed & told
    return np.where(known, KNOWN, np.where(status.due, UNKNOWN, NOT_DUE)).astype(object)


def _rows(
    request: Request,
    gathered: Gathered,
    frame: pd.DataFrame,
    status: Status,
    *,
    kind: str,
    label: str,
    measured: str,
    levels: tuple[str, ...] = (),
) -> Rows:
    return Rows(
        unit="operation",
        kind="ordered" if kind == "ordered" else "yes_no",
        frame=frame,
        label=label,
        measured=measured,
        levels=levels,
        definition={
            "grade": {"id": proposal.RULE, "source": proposal.SOURCE},
            "grades": request.grades,
            "days": status.days,
            "denominator": request.denominator,
            "outside_the_denominator": gathered.left_out,
        },
        in_words=(
            ("grades", f"{proposal.RULE}: {proposal.SOURCE}; by {request.grades}"),
            ("window", f"day 0, the operation, to day {status.days}; the review has to reach that day"),
        ),
        own_defaults=request.own_defaults,
        cautions=("No complication recorded is not 'no complication': unreviewed operations are unknown.",),
        small_number=request.small_number,
        who=who_is_counted(request.denominator),
    )
