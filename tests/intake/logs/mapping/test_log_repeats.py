"""What several rows of a log say of one thing: a sample repeated, a row typed twice, a model that many rows used."""

from __future__ import annotations

from pathlib import Path

import pytest

from registry.intake.load_plan import make_plan
from registry.store.registry import Registry
from registry.validation.findings import Severity
from tests.intake.logs.mapping.logs import HEAD, HEADINGS, found, log, only, plan_of

BLOOD = """
[[column]]
heading = "Taken"
to = "observation_set.observed_on"
[[column]]
heading = "Creatinine"
to = "observation_set.creatinine_umol_l"
[[column]]
heading = "Hb"
to = "observation_set.haemoglobin_g_l"
"""
FEVER = """
[[column]]
heading = "Event"
to = "complication.what"
[[column]]
heading = "Began"
to = "complication.onset_on"
"""
STONE = """
[[column]]
heading = "mm"
to = "stone.length_mm"
[[column]]
heading = "HU"
to = "stone.attenuation_hu"
[[constant]]
to = "stone.location"
value = "pelvis"
"""
SHEATH = """
[[column]]
heading = "In"
to = "equipment_model.inner_tenths_fr"
[[column]]
heading = "Out"
to = "equipment_model.outer_tenths_fr"
[[constant]]
to = "equipment_model.kind"
value = "access_sheath"
[[constant]]
to = "equipment_use.result"
value = "passed"
"""
LEFT, RIGHT = ["H-1", "03.05.2024", "L"], ["H-1", "03.05.2024", "R"]
DAY = "01.05.2024"


@pytest.mark.parametrize(
    ("left", "right"),
    [(["80", "140"], ["80", ""]), (["80", ""], ["80", "140"]), (["80", ""], ["", "140"]), (["80", "140"], ["", ""])],
)
def test_a_blank_beside_a_value_makes_no_second_sample(
    unit: Registry, tmp_path: Path, left: list[str], right: list[str]
) -> None:
    rows = [[*HEADINGS, "Taken", "Creatinine", "Hb"], [*LEFT, DAY, *left], [*RIGHT, DAY, *right]]
    sample = only(plan_of(unit, log(tmp_path, rows, HEAD + BLOOD)), "observation_set")
    assert (sample["creatinine_umol_l"], sample["haemoglobin_g_l"]) == (80, 140)


def test_two_samples_that_differ_stay_two(unit: Registry, tmp_path: Path) -> None:
    rows = [[*HEADINGS, "Taken", "Creatinine", "Hb"], [*LEFT, DAY, "80", "140"], [*RIGHT, DAY, "95", ""]]
    plan = plan_of(unit, log(tmp_path, rows, HEAD + BLOOD))
    assert [(row["set_number"], row["creatinine_umol_l"]) for row in plan.new["observation_set"]] == [(1, 80), (2, 95)]
    asked = found(plan, "log.row.other")
    assert (asked.severity, asked.row, asked.column) == (Severity.QUESTION, 3, "E")


def test_a_complication_told_in_the_rows_of_both_sides_is_one(unit: Registry, tmp_path: Path) -> None:
    rows = [[*HEADINGS, "Event", "Began"], [*LEFT, "sepsis", ""], [*RIGHT, "sepsis", "04.05.2024"]]
    plan = plan_of(unit, log(tmp_path, rows, HEAD + FEVER))
    assert only(plan, "complication")["what"] == "sepsis"


def test_a_second_stone_of_one_size_is_no_copy_of_the_first(unit: Registry, tmp_path: Path) -> None:
    """In the sheet of stones each row is a stone, though one is told less of."""
    (tmp_path / "operations.csv").write_text("MRN;Date;Side;min\nH-1;03.05.2024;L;50\n", encoding="utf-8")
    (tmp_path / "stones.csv").write_text("MRN;Date;Side;mm;HU\nH-1;03.05.2024;L;5;900\nH-1;03.05.2024;L;5;\n")
    more = STONE + '[[column]]\nheading = "min"\nto = "operation.operating_min"\nfile = "operations.csv"\n'
    more = more.replace('to = "stone', 'file = "stones.csv"\nto = "stone', 2)
    source = log(tmp_path, [["MRN"]], HEAD + more)
    source = type(source)((tmp_path / "operations.csv", tmp_path / "stones.csv"), source.mapping)
    assert len(plan_of(unit, source).new["stone"]) == 2


def test_a_row_typed_twice_in_other_letters_is_one(unit: Registry, tmp_path: Path) -> None:
    rows = [[*HEADINGS, "mm", "HU"], [*LEFT, "7,5", "900"], [*LEFT, "7,5 mm", "900"]]
    plan = plan_of(unit, log(tmp_path, rows, HEAD + STONE))
    assert len(plan.new["operation"]) == 1
    said = found(plan, "log.row.once")
    assert (said.severity, said.row) == (Severity.NOTE, 3)


def test_a_model_that_cannot_be_is_cited_at_every_row_that_used_it(unit: Registry, tmp_path: Path) -> None:
    rows = [[*HEADINGS, "In", "Out"]]
    rows += [[f"H-{n}", f"0{n}.05.2024", "L", *sizes] for n, sizes in enumerate((["14", "12"], ["12", "14"]) * 2, 1)]
    plan = make_plan(unit, log(tmp_path, rows, HEAD + SHEATH))
    wrong = [one for one in plan.findings.listed() if "outer" in one.rule or "inner" in one.rule]
    assert {one.row for one in wrong} == {2, 4}
    assert {column for one in wrong for column in one.column.split(", ")} <= {"D", "E"}
