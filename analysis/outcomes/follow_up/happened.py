"""What may end or interrupt the time of a course: treatments, entries told later, complications, death, loss."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.outcomes.definition import Definition
from analysis.outcomes.follow_up.known import BY_AS_OF, BY_NOTHING, Later
from analysis.outcomes.follow_up.rules import DEATH, EVENT, LOSS, Choices
from analysis.outcomes.judged import judged
from analysis.outcomes.tidy import Tidy

OWN = ("index", "planned")
"""Kinds of treatment that make up a course."""


def courses(tidy: Tidy) -> pd.DataFrame:
    """Courses of the cohort: key, side_id (index side), operation_id, patient_id, renal_unit_id, course_id, day and
    number (of the index), end_low and end_high (last planned stage done, else the index), out (why outside, or
    empty)."""
    made = judged(tidy, Definition(unit="course", sessions="planned"))
    made = made.rename(columns={"anchor_low": "end_low", "anchor_high": "end_high"})
    return made.drop(columns=["stone_id", "conduct"])


def with_end(base: pd.DataFrame, later: Later, as_of: int, choices: Choices) -> pd.DataFrame:
    """base with `end`, the day up to which stone events of that patient are known (NaN for none), and end_basis."""
    if choices.censoring == "as_of":
        return base.assign(end=float(as_of), end_basis=BY_AS_OF)
    known = later.known.reindex(base["patient_id"])
    return base.assign(
        end=known["day"].to_numpy(dtype=np.float64), end_basis=known["basis"].fillna(BY_NOTHING).to_numpy()
    )


def deaths_and_losses(base: pd.DataFrame, tidy: Tidy) -> pd.DataFrame:
    """Events that compete. One whose date may precede the origin came after it: nobody dead is operated on or scanned,
    and no kidney that is gone."""
    parts = []
    for frame, on, cause, what in (
        (tidy.deaths, "patient_id", DEATH, "death"),
        (tidy.losses, "renal_unit_id", LOSS, "loss of the kidney"),
    ):
        rows = base[["key", on, "origin_low"]].merge(frame[[on, "low", "high"]], on=on)
        rows = rows[rows["high"] >= rows["origin_low"]]
        parts.append(
            pd.DataFrame(
                {
                    "key": rows["key"],
                    "low": np.maximum(rows["low"], rows["origin_low"]).astype("float64"),
                    "high": rows["high"].astype("float64"),
                    "cause": cause,
                    "what": what,
                }
            )
        )
    return pd.concat(parts, ignore_index=True)


def treatments_after(
    base: pd.DataFrame, tidy: Tidy, later: Later, choices: Choices, *, after: tuple[str, str], planned: bool = False
) -> pd.DataFrame:
    """Stone treatments of that kidney after a day, with `what` their kind: unplanned, auxiliary, new course, or (when
    `planned` is set) planned stage; and treatments elsewhere of which the kidney is not told.

    after: columns of base with the first and last day it may be; the middle counts. On that very day one is after the
    index by its number, and after an image always, which counts as made before.
    """
    own = base[["key", "renal_unit_id", "course_id", "side_id", "day", "number", *after]]
    rows = own.merge(tidy.treatments, on="renal_unit_id", suffixes=("", "_next"))
    same_course = (rows["course_id"] == rows["course_id_next"]).fillna(False).astype(bool)
    itself = (rows["side_id"] == rows["side_id_next"]).fillna(False).astype(bool)
    of_course = same_course & rows["kind"].isin(OWN)
    rows = rows[~itself & (~of_course | ((rows["kind"] == "planned") if planned else False))]
    kind = rows["kind"].astype(object).where(rows["kind"] != "index", "new course")
    rows = rows.assign(what=kind.replace({"planned": "planned stage"}))
    if choices.auxiliary == "ignored":
        rows = rows[rows["what"] != "auxiliary"]
    start = _middle(rows[after[0]], rows[after[1]], tidy.as_of)
    middle = _middle(rows["low"], rows["high"], tidy.as_of)
    same = (middle == start) & (rows["low"] == rows["high"])
    earlier_number = same & (rows["low"] == rows["day"]) & (rows["number_next"] < rows["number"])
    rows = rows[(middle >= start) & ~earlier_number]
    made = _events(rows, rows["what"])
    if choices.side_not_said == "counts":
        told = later.entries[(later.entries["what"] == "retreatment") & ~later.entries["of_planned_stage"]]
        made = pd.concat([made, _of_any_side(base, told, after, tidy.as_of, "side not said")], ignore_index=True)
    return made


def entries_after(
    base: pd.DataFrame, told: pd.DataFrame, choices: Choices, as_of: int, *, after: tuple[str, str]
) -> pd.DataFrame:
    """Entries (or complications) after a day, `what` as they say. What is dated on that very day counts as before."""
    sided = told[told["renal_unit_id"].notna()].astype({"renal_unit_id": "int64"})
    rows = base[["key", "renal_unit_id", *after]].merge(sided, on="renal_unit_id")
    rows = rows[_middle(rows["low"], rows["high"], as_of) > _middle(rows[after[0]], rows[after[1]], as_of)]
    made = _events(rows, rows["what"])
    if choices.side_not_said == "counts":
        made = pd.concat([made, _of_any_side(base, told, after, as_of, None)], ignore_index=True)
    return made


def _of_any_side(
    base: pd.DataFrame, told: pd.DataFrame, after: tuple[str, str], as_of: int, what: str | None
) -> pd.DataFrame:
    unsaid = told[told["renal_unit_id"].isna()]
    rows = base[["key", "patient_id", *after]].merge(unsaid, on="patient_id")
    rows = rows[_middle(rows["low"], rows["high"], as_of) > _middle(rows[after[0]], rows[after[1]], as_of)]
    words = rows["what"].astype(object)
    return _events(rows, words + " (side not said)" if what is None else pd.Series(what, index=rows.index))


def _middle(low: pd.Series, high: pd.Series, as_of: int) -> pd.Series[float]:
    return ((low.astype("float64") + high.astype("float64").clip(upper=as_of)) // 2).astype("float64")


def _events(rows: pd.DataFrame, what: pd.Series) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "key": rows["key"].astype("int64"),
            "low": rows["low"].astype("float64"),
            "high": rows["high"].astype("float64"),
            "cause": EVENT,
            "what": what.astype(object),
        }
    )
