"""A person's grade counts before the rule's; both are kept, and a person against the record is named."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from analysis.outcomes.complications.grade_used import Grades, grades_used


def graded(*gradings: tuple[str, str], by: Grades = "person", **event: Any) -> dict[str, Any]:
    """One complication that the rule grades II, with the gradings in their order."""
    row = {
        "complication_id": 1,
        "died_of_it": False,
        "proposal": "II",
        "proposal_low": 2,
        "proposal_high": 2,
        "proposal_suffix_d": True,
        "contradictions": (),
        **event,
    }
    people = pd.DataFrame(
        [
            {"complication_id": 1, "grading_number": at, "grader": who, "grade": grade, "suffix_d": False}
            for at, (who, grade) in enumerate(gradings, start=1)
        ],
        columns=["complication_id", "grading_number", "grader", "grade", "suffix_d"],
    )
    return dict(grades_used(pd.DataFrame([row]), people, by).iloc[0])


@pytest.mark.parametrize(
    ("gradings", "grade", "who"),
    [
        ((), "II", "rule"),
        ((("first", "I"),), "I", "first"),
        ((("second", "IIIa"),), "IIIa", "second"),
        ((("second", "IIIa"), ("first", "I")), "I", "first"),
        ((("first", "I"), ("second", "IIIa"), ("agreed", "IIIb")), "IIIb", "agreed"),
        ((("first", "I"), ("first", "II")), "II", "first"),  # the later of two by the same grader
    ],
)
def test_agreed_then_first_then_second_then_the_rule(gradings: tuple[tuple[str, str], ...], grade: str, who: str):
    made = graded(*gradings)
    assert (made["used"], made["used_by"]) == (grade, who)
    assert made["low"] == made["high"]
    assert made["proposal"] == "II"


def test_by_the_rule_alone_people_are_kept_beside():
    made = graded(("agreed", "IIIb"), by="rule")
    assert (made["used"], made["used_by"], made["agreed"]) == ("II", "rule", "IIIb")


def test_the_suffix_is_that_of_whose_grade_counts():
    assert graded()["used_suffix_d"]
    assert not graded(("first", "II"))["used_suffix_d"]


def test_where_the_rule_has_no_grade_its_range_counts_until_a_person_grades():
    open_ = {"proposal": None, "proposal_low": 3, "proposal_high": 4}
    made = graded(**open_)
    assert (made["used"], made["low"], made["high"]) == (None, 3, 4)
    made = graded(("first", "IIIb"), **open_)
    assert (made["used"], made["low"], made["high"]) == ("IIIb", 4, 4)


def test_a_person_against_the_record_of_a_death_is_named():
    assert graded(("first", "V"))["contradictions"] == ("first grader: V, and died of it: no",)
    assert graded(("agreed", "IVb"), died_of_it=True)["contradictions"] == ("agreed grade: IVb, and died of it: yes",)
    assert graded(("first", "V"), died_of_it=pd.NA)["contradictions"] == ()
