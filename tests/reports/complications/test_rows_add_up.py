"""The counts that a text table prints make up all operations, or sides, of its group; its headings are lower case."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.reports.complications.in_operation_section import in_operation_section
from analysis.reports.complications.infection_section import infection_section
from analysis.reports.complications.kidney_section import kidney_section
from analysis.reports.request.splits import Split
from analysis.reports.sections.report import Section
from tests.cohort.rows import Rows

from .observed_ward import asked, complained, observed, operated

SECTIONS = {"infection": infection_section, "kidney": kidney_section, "in_operation": in_operation_section}
PARTS = {
    "infection": {"n", "unknown", "known_otherwise_count", "not_due"},
    "kidney": {"n", "unknown", "not_due"},
    "in_operation": {"n", "unknown", "not_applicable", "outside"},
}


def ward() -> Rows:
    """Twelve operations: measured or not, reviewed or not, four not due, graded, ungraded, or graded out of place."""
    rows = Rows()
    for at in range(12):
        on = at if at < 8 else 398
        technique = ("percutaneous",) if at == 3 else ("flexible",)
        operation = operated(
            rows, on, reviewed=60 if at % 2 and at < 8 else None, satava="1" if at in (0, 3) else None,
            techniques=technique,
        )  # fmt: skip
        if at % 3:
            observed(rows, operation, -1, creatinine_umol_l=80.0, timing="before")
            observed(rows, operation, 1, temperature_c=38.4, creatinine_umol_l=90.0)
        if at in (2, 4):
            complained(rows, operation, "fever", 2, "antibiotic")
    return rows


@pytest.mark.parametrize("name", list(SECTIONS))
def test_what_is_printed_adds_up_to_all(tmp_path: Path, name: str):
    whole = asked(ward(), tmp_path)
    made = SECTIONS[name](whole, (), 0.95, "wilson", (30,), {})
    printed = {column.key for column in made.columns if column.show == "count"}
    assert printed - {"events"} == PARTS[name]
    for row in made.rows:
        if row["what"] != "Change, solitary kidney":  # of those with one kidney alone
            assert sum(row[key] for key in PARTS[name]) == 12, row["what"]
    for part in PARTS[name]:
        assert any(row[part] for row in made.rows), f"{part} is nowhere above 0: the test shows nothing"


@pytest.mark.parametrize("name", list(SECTIONS))
def test_in_groups_it_adds_up_to_the_group(tmp_path: Path, name: str):
    whole = asked(ward(), tmp_path)
    made: Section = SECTIONS[name](whole, (Split("technique"),), 0.95, "wilson", (30,), {})
    sizes = {"flexible": 11, "percutaneous": 1}
    for row in made.rows:
        if row["what"] != "Change, solitary kidney":
            assert sum(row[key] for key in PARTS[name]) == sizes[row["group"]["technique"]], row["what"]


@pytest.mark.parametrize("name", list(SECTIONS))
def test_headings_are_lower_case(tmp_path: Path, name: str):
    rows = Rows()
    operated(rows)
    made = SECTIONS[name](asked(rows, tmp_path), (), 0.95, "wilson", (30,), {})
    assert [column.heading for column in made.columns if column.heading != column.heading.lower()] == []
