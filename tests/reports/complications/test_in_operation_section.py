"""The section on the three scales, over real snapshots."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from analysis.reports.complications.in_operation_section import in_operation_contradictions, in_operation_section
from analysis.reports.request.splits import Split
from analysis.reports.sections.rendered import rendered
from analysis.reports.sections.report import Report, Section
from registry.schema.errors import GravelbookError
from tests.cohort.rows import Rows

from .observed_ward import asked, operated


def section(rows: Rows, tmp_path: Path, *by: Split) -> Section:
    return in_operation_section(asked(rows, tmp_path), by, 0.95, "wilson", (30,), {})


def share(made: Section, scale: str, grade: str) -> dict[str, Any]:
    return dict(next(one for one in made.rows if one["scale"].startswith(scale) and one["grade"] == grade))


def graded(column: str, counts: dict[str | None, int]) -> Rows:
    rows = Rows()
    for grade, many in counts.items():
        for _ in range(many):
            operated(rows, reviewed=None, **({} if grade is None else {column: grade}))
    return rows


def test_the_modified_satava_of_1208_ureteroscopies(tmp_path: Path):
    """Tepeler et al., World J Urol 2014;32:131-136: 4.5, 4.4, 3.2 and 0.57 % of 1208, any 12.6 %.

    The printed shares stand for 54, 53, 39 and 7 sides, 153 together; 12.6 % stands for 152: rounding.
    """
    counts: dict[str | None, int] = {"0": 1055, "1": 54, "2a": 53, "2b": 39, "3": 7}
    made = section(graded("satava", counts), tmp_path)
    told = [share(made, "satava", grade) for grade in ("1", "2a", "2b", "3")]
    assert [one["n"] for one in told] == [1208] * 4
    assert [one["estimate"] for one in told] == pytest.approx([0.045, 0.044, 0.032, 0.0057], abs=0.0005)
    assert share(made, "satava", "any")["events"] == 153
    assert share(made, "satava", "any")["estimate"] == pytest.approx(0.126, abs=0.001)


def test_the_lesion_scale_of_435_ureteroscopies(tmp_path: Path):
    """Schoenthaler et al., J Endourol 2012;26:1425-1430: 46.2, 30.8, 19.1 and 3.9 % of 435, none 4 or 5."""
    made = section(graded("ureteric_lesion", {"0": 201, "1": 134, "2": 83, "3": 17}), tmp_path)
    told = [share(made, "post-ureteroscopic", grade)["estimate"] for grade in "012345"]
    assert told == pytest.approx([0.462, 0.308, 0.191, 0.039, 0, 0], abs=0.0005)
    assert share(made, "post-ureteroscopic", "uncomplicated")["events"] == 418
    assert share(made, "post-ureteroscopic", "complicated")["events"] == 17


def test_the_wall_injuries_of_109_sheaths_of_13_fr(tmp_path: Path):
    """Grade 2 in 11 of 109 (10.1 %) and grade 3 in 10 (9.2 %), as a published series with a 13 Fr sheath counted."""
    rows = graded("wall_injury", {"0": 88, "2": 11, "3": 10})
    sheath = rows.sheath(110, 130)
    for row in rows.tables["treated_side"]:
        rows.used(row["id"], sheath)
    made = section(rows, tmp_path)
    assert share(made, "access-sheath", "2")["estimate"] == pytest.approx(0.101, abs=0.0005)
    assert share(made, "access-sheath", "3")["estimate"] == pytest.approx(0.092, abs=0.0005)
    assert share(made, "access-sheath", "high")["events"] == 21


def test_missing_and_not_applicable_are_counted_apart(tmp_path: Path):
    rows = graded("satava", {"0": 3, None: 2})
    operated(rows, techniques=("shock_wave",))
    operated(rows, missing_reasons="satava=not_applicable;")
    made = share(section(rows, tmp_path), "satava", "0")
    assert (made["n"], made["unknown"], made["not_applicable"], made["estimate"]) == (3, 2, 2, 1.0)


def test_the_scales_never_share_a_row_or_a_name(tmp_path: Path):
    made = section(graded("satava", {"0": 1}), tmp_path)
    assert len({one["what"] for one in made.rows}) == len(made.rows) == 5 + 1 + 6 + 2 + 5 + 2
    assert {one["scale"] for one in made.rows} == set(made.definition["definitions"])


def test_contradictions_are_named_and_left_as_recorded(tmp_path: Path):
    rows = graded("satava", {"0": 1})
    side = rows.tables["treated_side"][0]
    side["ureteric_lesion"] = "0"
    rows.add("side_event", treated_side_id=1, event_number=1, event="avulsion", location="proximal_ureter")
    operated(rows, techniques=("percutaneous",), satava="1")
    whole = asked(rows, tmp_path)
    told = in_operation_contradictions(whole)
    assert told["side_id"].tolist() == [1, 1, 2]
    assert "avulsion recorded, but lesion scale 0, not 5" in told["what"].tolist()
    made = in_operation_section(whole, (), 0.95, "wilson", (30,), {})
    assert share(made, "satava", "0")["events"] == 1
    assert (share(made, "satava", "1")["events"], share(made, "satava", "1")["outside"]) == (0, 1)
    assert "S0001 left 2024-01-01" in " ".join(made.notes)
    told_in_full = json.loads(rendered(Report(title="Scales", sections=[made]), "json"))["definition"]
    assert [one["side_id"] for one in told_in_full["sections"]["in_operation"]["contradictions"]] == [1, 1, 2]


def test_groups_and_rendering(tmp_path: Path):
    rows = graded("satava", {"0": 6, "1": 2})
    operated(rows, techniques=("semirigid",), satava="1")
    made = section(rows, tmp_path, Split("technique"))
    by = {one["group"]["technique"]: one["events"] for one in made.rows if one["what"].startswith("Satava 1: ")}
    assert by == {"flexible": 2, "semirigid": 1}
    text = rendered(Report(title="Scales", sections=[made]), "text")
    assert "Wall injury 0" in text and "Satava 0" in text and "Lesion scale 0" in text


def test_a_column_that_is_not_there_is_refused(tmp_path: Path):
    with pytest.raises(GravelbookError, match="'colour' is no column of the cohort"):
        section(graded("satava", {"0": 1}), tmp_path, Split("colour"))
