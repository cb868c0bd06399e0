"""Which grade of a complication counts: a person's, or the rule's proposal. Both are kept."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

import pandas as pd

from analysis.outcomes.complications.therapy_levels import V, number_of
from registry.schema.lists_outcome import GraderKind

Grades = Literal["person", "rule"]
GRADES_BY: dict[Grades, str] = {
    "person": "a person's grade (agreed, else first, else second grader), else the rule's proposal",
    "rule": "the rule's proposal alone; people's grades are shown beside it",
}
PEOPLE = (GraderKind.AGREED, GraderKind.FIRST, GraderKind.SECOND)


def grades_used(events: pd.DataFrame, gradings: pd.DataFrame, by: Grades = "person") -> pd.DataFrame:
    """The proposals with the people's grades beside them and the grade that counts.

    events: complications with the columns of `proposals`, died_of_it among them. gradings: complication_id,
    grading_number, grader, grade, suffix_d; of several by one kind of grader the last number counts.

    Adds agreed, first, second (a grade or missing), each with `_suffix_d`; used (the grade that counts, missing when
    there is none), used_by (agreed, first, second, rule, or missing), used_suffix_d, low and high (lowest and highest
    grade number of what counts; both 0 for no complication), and a contradiction for a person's V that the record
    denies, or a death of it that the person graded lower.
    """
    made = events.copy()
    latest = gradings.sort_values(["complication_id", "grading_number"]).drop_duplicates(
        ["complication_id", "grader"], keep="last"
    )
    for who in PEOPLE:
        own = latest[latest["grader"] == who.value].set_index("complication_id")
        made[who.value] = own["grade"].reindex(made["complication_id"]).to_numpy()
        made[f"{who.value}_suffix_d"] = own["suffix_d"].reindex(made["complication_id"]).astype("boolean").array
    used = [_used(row, by) for row in made.to_dict("records")]
    for at, name in enumerate(("used", "used_by", "used_suffix_d", "low", "high", "contradictions")):
        made[name] = pd.Series([row[at] for row in used], index=made.index, dtype=object)
    return made.astype({"low": "int64", "high": "int64", "used_suffix_d": "boolean"})


def _used(row: Mapping[Any, Any], by: Grades) -> tuple[Any, ...]:
    told: tuple[str, ...] = row["contradictions"]
    for who in PEOPLE:
        grade = row[who.value]
        if isinstance(grade, str) and not pd.isna(row["died_of_it"]) and (grade == "V") != bool(row["died_of_it"]):
            said = "yes" if row["died_of_it"] else "no"
            told = (*told, f"{who.label.lower()}: {grade}, and died of it: {said}")
    if by == "person":
        for who in PEOPLE:
            grade = row[who.value]
            if isinstance(grade, str):
                number = number_of(grade)
                suffix = False if number == V else row[f"{who.value}_suffix_d"]
                return grade, who.value, suffix, number, number, told
    grade = row["proposal"] if isinstance(row["proposal"], str) else None
    return grade, "rule" if grade else None, row["proposal_suffix_d"], row["proposal_low"], row["proposal_high"], told
