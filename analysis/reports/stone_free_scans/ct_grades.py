"""CT grades: their distribution over the kidneys that had a CT, and why the others have none."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.outcomes.ct_grades import COARSE, NOT_READ, GradeTable, graded, of_several
from analysis.outcomes.ladder import RUNGS
from analysis.outcomes.seen import seen
from analysis.outcomes.thresholds import Threshold
from analysis.reports.sections.proportion_rows import proportion_rows
from analysis.reports.sections.report import Column, Section
from analysis.reports.stone_free_scans.question import Judged, Question, modalities_of, seen_by_words

GRADED = (
    Column("grade", "grade"),
    Column("", "label"),
    Column("of them", "events", "count"),
    Column("n", "n", "count"),
    Column("share", "estimate", "percent"),
    Column("interval", "low high", "percent_range"),
    Column("by patient", "low_clustered high_clustered", "percent_range"),
    Column("not gradable", "unknown", "count"),
)
UNGRADED = (Column("why", "reason"), Column("not gradable", "events", "count"), Column("eligible", "n", "count"))


@dataclass(frozen=True)
class Grades:
    """One row a unit in the order of `judged.units`: unit_id, eligible, grade (None without one), reason.

    A grade on a CT that is too coarse is the worst one, with COARSE for its reason: it is known, but it is not counted
    in the shares, for its better fellows could not be told.
    """

    judged: Judged
    table: GradeTable
    units: pd.DataFrame


def ct_grades(question: Question, table: GradeTable) -> Grades:
    """Grade every unit on its picked CT.

    The CT is picked as the request says, among CTs alone; it has to be adequate at 0 mm for any grade but the worst.
    """
    definition = replace(question.request.definition, imaging="ct", thresholds=(Threshold(0),))
    judged = question.judged(definition)
    status = judged.at("0")
    eligible = status["status"].isin(["free", "failed", "unknown"]).to_numpy(dtype=bool)
    on_study = eligible & status["rung"].isin(["study_free", "study_failed", "study_unknown"]).to_numpy(dtype=bool)
    made = pd.DataFrame(
        {
            "unit_id": status["unit_id"],
            "eligible": eligible,
            "grade": None,
            "reason": np.where(eligible, status["rung"].map(_without_ct).astype(object), ""),
        }
    )
    of_study = _grade_studies(question, status[on_study], table)
    if len(of_study):
        made.loc[on_study, ["grade", "reason"]] = of_study[["grade", "reason"]].to_numpy(dtype=object)
    return Grades(judged, table, made)


def _without_ct(rung: str) -> str:
    return RUNGS[rung].replace("studies", "CTs").replace("study", "CT")


def _grade_studies(question: Question, status: pd.DataFrame, table: GradeTable) -> pd.DataFrame:
    """Grade and reason of each row's picked CT, in their order."""
    key = ["examination_id", "renal_unit_id"]
    wanted = status[key].astype("int64").assign(at=np.arange(len(status)), adequate=status["adequate"].to_numpy())
    frames = question.frames
    readings = frames["readings"].merge(wanted, on=key).reset_index(drop=True)
    looked = seen(readings, frames["fragments"])
    grades = graded(looked, readings["adequate"].to_numpy(dtype=bool), table)
    found = of_several(grades, readings["at"], table) if len(readings) else pd.DataFrame(columns=["grade", "reason"])
    made = found.reindex(range(len(status)))
    coarse = ~wanted["adequate"].to_numpy(dtype=bool) & made["grade"].notna().to_numpy(dtype=bool)
    grade = made["grade"].where(made["grade"].notna(), None)
    return made.assign(reason=made["reason"].fillna(NOT_READ).mask(coarse, COARSE), grade=grade)


def grade_sections(question: Question, table: GradeTable) -> list[Section]:
    """The grades by group, then why the others have none."""
    grades = ct_grades(question, table)
    judged, units = grades.judged, grades.units
    request = question.request
    eligible, has = units["eligible"].to_numpy(dtype=bool), counted(units)
    coarse = int((units["grade"].notna() & (units["reason"] == COARSE)).sum())
    rows: list[dict[str, Any]] = []
    for place, label in enumerate(judged.grouping.as_dicts()):
        inside = judged.grouping.codes == place
        unknown = int((inside & eligible & ~has).sum())
        for one in table.grades:
            event = (units["grade"] == one.code).to_numpy(dtype=bool)
            made = proportion_rows(
                event=event,
                counted=has,
                cluster=judged.units.patient,
                grouping=judged.grouping,
                interval=request.interval,
                level=request.level,
            )[place]
            modalities = {"ct": made["n"]} if made["n"] else {}
            rows.append({"group": label, "grade": one.code, "label": one.label, "unknown": unknown} | made)
            rows[-1]["modalities"] = modalities
    others = _other_studies(question, grades)
    words = [
        ("grades", f"{'; '.join(f'{one.code} {one.label}' for one in table.grades)} [{table.name}]"),
        ("source", table.source),
        ("CT", "picked as said above among CTs alone, whatever --imaging says; several readings: the worst grade"),
        ("needs", "a CT adequate at 0 mm, for on another the better grades could not be told"),
    ]
    section = Section(
        name="ct_grades",
        title="Grades of what is left, on CT",
        rows=rows,
        columns=GRADED,
        definition=_definition(judged, table),
        in_words=words,
        notes=[
            f"Of those without a grade, seen by something else in the window: {seen_by_words(others)}.",
            f"On CTs too coarse to be graded {coarse:,} kidneys are {table.codes[-1]} all the same; they are left out "
            "of the shares, which would lean to the worse with them.",
            "Any stone of the kidney counts, whatever --stones says.",
        ],
    )
    return [section, _why_not(judged, units, table)]


def counted(units: pd.DataFrame) -> npt.NDArray[np.bool_]:
    """Units whose grade counts in the shares."""
    has: npt.NDArray[np.bool_] = (units["grade"].notna() & (units["reason"] == "")).to_numpy(dtype=bool)
    return has


def _other_studies(question: Question, grades: Grades) -> dict[str, int]:
    """Modalities of the studies picked under the request's own imaging, of those eligible without a grade."""
    units = grades.units
    without = units.loc[units["eligible"].to_numpy(dtype=bool) & ~counted(units), "unit_id"]
    own = question.own.statuses.drop_duplicates("unit_id").set_index("unit_id")["modality"].reindex(without)
    return modalities_of(own[own.notna() & (own != "ct").fillna(False)])


def _why_not(judged: Judged, units: pd.DataFrame, table: GradeTable) -> Section:
    rows = []
    eligible = units["eligible"].to_numpy(dtype=bool)
    for place, label in enumerate(judged.grouping.as_dicts()):
        own = units[(judged.grouping.codes == place) & eligible]
        for reason, count in own.loc[own["reason"] != "", "reason"].value_counts().sort_index().items():
            events = int(count)
            share = events / len(own)
            rows.append(
                {
                    "group": label,
                    "reason": str(reason),
                    "n": len(own),
                    "unknown": 0,
                    "events": events,
                    "estimate": share,
                    "low": None,
                    "high": None,
                }
            )
    return Section(
        name="not_graded",
        title="Why there is no grade",
        rows=rows,
        columns=UNGRADED,
        definition=_definition(judged, table),
    )


def _definition(judged: Judged, table: GradeTable) -> dict[str, Any]:
    return {"status": judged.definition.as_dict(), "grade_table": table.as_dict()}


def grade_cases(question: Question, table: GradeTable) -> pd.DataFrame:
    """The units behind the grades, one row each: unit_id, group, grade, not_graded_because, examination, study day."""
    grades = ct_grades(question, table)
    judged, status = grades.judged, grades.judged.at("0")
    names = np.array([*judged.grouping.named(), ""], dtype=object)
    made = pd.DataFrame(
        {
            "unit_id": status["unit_id"],
            "side_id": status["side_id"],
            "group": names[judged.grouping.codes],
            "status": status["status"],
            "grade": grades.units["grade"],
            "not_graded_because": grades.units["reason"],
            "picked_study": status["examination_id"],
            "examined_on": status["studied_on"],
            "slice_mm": status["slice_mm"],
        }
    )
    return made[grades.units["eligible"].to_numpy(dtype=bool)].reset_index(drop=True)
