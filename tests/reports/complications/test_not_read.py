"""What is dated after the as-of date is not read, and how much of it there was is said."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from analysis.reports.complications.answering import Answer, answer_asked
from analysis.reports.request.source import ask_snapshot_cohort
from tests.cohort.rows import Rows, day

from .asked import answer
from .ward import admission, complication, grading, operated, patient_of, reviewed, ward

NOTHING = dict.fromkeys(
    ("complications", "therapies", "gradings", "contacts", "admissions", "attendances", "deaths"), 0
)


def graded_late() -> Rows:
    """One patient, last seen on day 40; on day 50 somebody graded the stent under anaesthesia IIIa."""
    rows = Rows()
    operation = operated(rows)
    reviewed(rows, operation, 40)
    grading(rows, complication(rows, operation, "obstruction", 3, ["stent_placed:general"]), "first", "IIIa",
            graded_on=day(50))  # fmt: skip
    return rows


def not_read(made: Answer) -> dict[str, int]:
    found: dict[str, int] = made.report.definition["not_read_after_as_of"]
    return found


def notes(made: Answer, word: str = "Not read") -> list[str]:
    return [note for section in made.report.sections for note in section.notes if note.startswith(word)]


def test_a_persons_grading_after_the_last_contact_is_not_read_and_said(tmp_path: Path):
    made = answer(graded_late(), tmp_path)
    assert made.gathered.events["used"].tolist() == ["IIIb"]
    assert not_read(made) == {**NOTHING, "gradings": 1}
    assert notes(made) == [
        "Not read, because dated after 2024-02-10, the as-of date: 1 grading. To read them, give a later --as-of."
    ]
    assert made.report.sections[1].notes[0] == notes(made)[0]


def test_with_a_later_as_of_it_is_read_and_nothing_is_said(tmp_path: Path):
    asked = ask_snapshot_cohort(graded_late().snapshot_of(tmp_path), as_of=day(50))
    made = answer_asked(asked, {})
    assert made.gathered.events["used"].tolist() == ["IIIa"]
    assert not_read(made) == NOTHING
    assert notes(made) == []


def test_without_the_section_on_grades_the_head_says_it(tmp_path: Path):
    said = dict(answer(graded_late(), tmp_path / "a", show="events").report.in_words)
    assert "1 grading" in said["not read"]
    assert "not read" not in dict(answer(graded_late(), tmp_path / "b").report.in_words)


def test_nothing_later_is_nothing_said(tmp_path: Path):
    made = answer(ward(), tmp_path)
    assert not_read(made) == NOTHING
    assert notes(made) == []


def everything_late() -> Rows:
    """A counted operation and a drainage, both on day 0, each with one of everything after day 100."""
    rows = Rows()
    for intent in ("stone_removal", "drainage"):
        operation = operated(rows, intent=intent)
        patient = patient_of(rows, operation)
        early = complication(rows, operation, "fever", 1, ["antibiotic", "antibiotic"])
        rows.tables["therapy"][-1]["given_on"] = day(110)
        late = complication(rows, operation, "bleeding", 120, ["transfusion"])
        rows.tables["therapy"][-1]["given_on"] = day(120)
        for of in (early, late):
            grading(rows, of, "first", "II", graded_on=day(130))
        reviewed(rows, operation, 101)
        reviewed(rows, operation, 140)
        admission(rows, patient, 150, 151, "yes")
        rows.add("later_entry", patient_id=patient, occurred_on=day(160), entry_number=1, what="unplanned_attendance")
        rows.tables["patient"][patient - 1]["died_on"] = day(170)
    return rows


@pytest.mark.parametrize("unit", ["operation", "patient"])
def test_each_kind_is_counted_of_the_counted_operations_alone(tmp_path: Path, unit: str):
    asked = ask_snapshot_cohort(everything_late().snapshot_of(tmp_path), as_of=day(100))
    expected: dict[str, Any] = {**dict.fromkeys(NOTHING, 1), "therapies": 2, "gradings": 2, "contacts": 2}
    made = answer_asked(asked, {"unit": unit})
    assert not_read(made) == expected
    assert "1 complication, 2 therapies, 2 gradings, 2 contacts, 1 admission, 1 unplanned" in notes(made)[0]
    both = answer_asked(asked, {"unit": unit, "denominator": "all"})
    assert not_read(both) == {name: 2 * many for name, many in expected.items()}


def test_a_complication_that_came_after_a_counted_operation_as_well_is_its_own_too(tmp_path: Path):
    rows = Rows()
    unit = rows.unit()
    counted, drained = operated(rows, unit=unit), operated(rows, unit=unit, on=10, intent="drainage")
    shared = complication(rows, drained, "fever", 12, ["antibiotic"])
    grading(rows, shared, "first", "I", graded_on=day(200))
    rows.add("complication_also_after", complication_id=shared, operation_id=counted)
    reviewed(rows, counted, 60)
    assert not_read(answer(rows, tmp_path))["gradings"] == 1
