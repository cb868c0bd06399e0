"""The cases behind every number: each unit with what is known of it, each complication with how it was graded."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from analysis.outcomes.complications import proposal
from analysis.outcomes.complications.therapy_levels import GRADES
from analysis.reports.complications.attendance_section import came_back, placed
from analysis.reports.complications.deaths_section import died_by
from analysis.reports.complications.index_section import index_of
from analysis.tables.spreadsheet_text import never_a_formula

if TYPE_CHECKING:
    from analysis.reports.complications.answering import Answer

OF_UNIT = ("study_number", "site", "operation_id", "operated_on", "day_number")
OF_EVENT = (
    "complication_id",
    "what",
    "main_on",
    "also_after",
    "onset_low",
    "onset_high",
    "therapies",
    "organs_failing",
    "state",
    "proposal",
    "rule",
    "deciding",
    "missing",
    "contradictions",
    "flags",
    "first",
    "second",
    "agreed",
    "used",
    "used_suffix_d",
    "used_by",
)
DAYS = ("operated_on", "main_on", "onset_low", "onset_high")
# What somebody typed, and a spreadsheet might run.
TYPED = ("study_number", "site", "group")


def case_list(answer: Answer) -> pd.DataFrame:
    """Two kinds of lines, sorted by group, patient and operation; `line` says which.

    A unit's line (operation or patient) has, for each window d, due_d, reviewed_d (yes, by death, no), worst_d (none, a
    grade, or a range when it is not known), index_d, readmission_d, attendance_d and died_d (yes, no, not known). A
    complication's line has its therapies, the rule's proposal and what fired, the people's grades, the grade used, and
    in_d (whether it lies in the window). Complications that stand in no counted unit come last, with the reason in
    `not_counted`.
    """
    units, grouping = answer.units, answer.grouping
    names = np.array([*grouping.named(), ""], dtype=object)
    frame = units.frame.assign(
        line=units.name, group=names[grouping.codes], order=0, order_last=0, unit=np.arange(len(units))
    )
    events = _events(answer)
    back, seen = came_back(answer.gathered, units)
    for status in answer.statuses:
        ending = f"_{status.days}"
        frame[f"due{ending}"] = _yes_no(status.due)
        frame[f"reviewed{ending}"] = np.where(status.by_death, "by death", _yes_no(status.reviewed))
        frame[f"worst{ending}"] = [_range(*pair) for pair in zip(status.low, status.high, strict=True)]
        frame[f"index{ending}"] = index_of(units, status)
        frame[f"readmission{ending}"] = _answer(*placed(back, units, status.days))
        frame[f"attendance{ending}"] = _answer(*placed(seen, units, status.days))
        frame[f"died{ending}"] = _answer(*died_by(answer.gathered, units, status.days))
        events[f"in{ending}"] = _answer(status.event_sure, status.event_high > 0)
    told = frame.set_index("unit")
    for name in (*OF_UNIT, "group"):
        events[name] = told[name].reindex(events["unit"]).array
    frame, measured = _with_measured(frame, answer)
    parts = (frame, events, _outside(answer))
    # What nobody recorded is a column without a value; `reindex` below brings it back.
    filled = [part.dropna(axis="columns", how="all") for part in parts if len(part)] or [frame]
    lines = pd.concat(filled, ignore_index=True)
    lines = lines.reindex(columns=lines.columns.union(["complication_id"], sort=False))
    by_day = [name for status in answer.statuses for name in _columns(status.days)]
    columns = ["line", "group", *OF_UNIT, *by_day, *OF_EVENT, "rule_version", "not_counted", *measured]
    lines["place"] = lines["group"].map({name: at for at, name in enumerate(names)}).fillna(len(names))
    made = lines.sort_values(["order_last", "place", "study_number", "operation_id", "order", "complication_id"])
    return made.reindex(columns=columns).reset_index(drop=True)


def cases_csv(answer: Answer) -> bytes:
    """The list as CSV; dates as year, month and day, several words joined by a semicolon."""
    shown = case_list(answer)
    for name in DAYS:
        shown[name] = pd.to_datetime(shown[name]).dt.strftime("%Y-%m-%d")
    shown = shown.convert_dtypes()  # a whole number that some lines lack would be written with a point
    for flag in shown.select_dtypes("boolean"):
        shown[flag] = shown[flag].map({True: "yes", False: "no"}, na_action="ignore").astype("string")
    for name in ("missing", "contradictions", "flags"):
        shown[name] = [("; ".join(told) if isinstance(told, tuple) else "") for told in shown[name]]
    for name in TYPED:
        shown[name] = shown[name].astype("string").map(never_a_formula, na_action="ignore")
    out = io.StringIO()
    shown.to_csv(out, index=False, lineterminator="\n")
    return out.getvalue().encode("utf-8")


def _with_measured(frame: pd.DataFrame, answer: Answer) -> tuple[pd.DataFrame, list[str]]:
    """The units with what was measured or graded beside them where that was asked for, and the columns' names."""
    if not {"infection", "kidney", "in-operation"} & set(answer.request.show):
        return frame, []
    from analysis.reports.complications.measured_cases import measured_cases

    found = measured_cases(answer)
    names = [name for name in found.columns if name != "operation_id"]
    return frame.merge(found, on="operation_id", how="left", validate="many_to_one"), names


def _columns(days: int) -> list[str]:
    words = ("due", "reviewed", "worst", "index", "in", "readmission", "attendance", "died")
    return [f"{word}_{days}" for word in words]


def _events(answer: Answer) -> pd.DataFrame:
    return _graded(answer.units.events, answer).assign(order=1)


def _outside(answer: Answer) -> pd.DataFrame:
    """Complications of the cohort's patients that stand in no counted unit."""
    gathered, units = answer.gathered, answer.units
    own = gathered.events["patient_id"].isin(gathered.operations["patient_id"])
    left = gathered.events[own & ~gathered.events["complication_id"].isin(units.events["complication_id"])]
    operations = gathered.frames["operations"].set_index("operation_id")
    people = gathered.operations.drop_duplicates("patient_id").set_index("patient_id")
    made = _graded(left, answer).assign(order=1, order_last=1, group="")
    main = operations.reindex(made["operation_id"])
    made["operated_on"] = made["main_on"] = main["operated_on"].array
    made["day_number"] = main["day_number"].array
    for name in ("study_number", "site"):
        made[name] = people[name].reindex(made["patient_id"]).astype("object").array
    made["not_counted"] = np.where(made["high"] == 0, made["rule"], "its operation is not counted here")
    return made


def _graded(events: pd.DataFrame, answer: Answer) -> pd.DataFrame:
    """Events with their therapies in words, as lines of the list."""
    therapies = answer.gathered.frames["therapies"].sort_values(["complication_id", "therapy_number"])
    words: dict[int, list[str]] = {}
    for row in therapies.to_dict("records"):
        words.setdefault(row["complication_id"], []).append(_therapy(row))
    return events.assign(
        line="complication",
        order_last=0,
        rule_version=proposal.RULE,
        therapies=["; ".join(words.get(one, ["not recorded"])) for one in events["complication_id"]],
    )


def _therapy(row: Mapping[Any, Any]) -> str:
    on = "" if pd.isna(row["given_on"]) else f" {row['given_on']:%Y-%m-%d}"
    under = "" if pd.isna(row["anaesthesia"]) else f" ({row['anaesthesia']})"
    planned = "" if pd.isna(row["planned"]) else f" [{row['planned']}]"
    return f"{row['what']}{on}{under}{planned}"


def _range(low: int, high: int) -> str:
    names = ("none", *GRADES)
    return names[low] if low == high else f"{names[low]} to {names[high]}"


def _yes_no(marked: Any) -> Any:
    return np.where(marked, "yes", "no")


def _answer(sure: Any, maybe: Any) -> Any:
    return np.where(sure, "yes", np.where(maybe, "not known", "no"))
