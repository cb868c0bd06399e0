"""Sides: one a row, both in a row, columns of their own for each, and named within a cell."""

from __future__ import annotations

from pathlib import Path

from registry.intake.load_plan import make_plan
from registry.store.registry import Registry
from registry.validation.findings import Severity
from tests.intake.logs.mapping.logs import HEAD, HEADINGS, errors, found, log, plan_of

OWN = """
[[column]]
heading = "Left size"
to = "stone.length_mm"
side = "left"
[[column]]
heading = "Right size"
to = "stone.length_mm"
side = "right"
[[column]]
heading = "Dur"
to = "operation.operating_min"
unit = "h:mm"
"""
STONE = '[[column]]\nheading = "Size"\nto = "stone.length_mm"\n'
CELL = """
[[column]]
heading = "Stones"
splits = ["[{renal_unit.unit} ]{stone.location}"]
separator = "+"
values."renal_unit.unit" = { L = "left", R = "right" }
values."stone.location" = { lower = "lower_calyx", pelvis = "pelvis" }
"""


def test_both_sides_in_a_row_with_columns_of_their_own(unit: Registry, tmp_path: Path) -> None:
    rows = [[*HEADINGS, "Left size", "Right size", "Dur"], ["H-1", "03.05.2024", "B", "7", "9", "1:05"]]
    plan = plan_of(unit, log(tmp_path, rows, HEAD + OWN))
    assert len(plan.new["operation"]) == 1 and plan.new["operation"][0]["operating_min"] == 65
    assert len(plan.new["treated_side"]) == 2 and len(plan.new["course"]) == 2
    assert sorted(stone["length_mm"] for stone in plan.new["stone"]) == [7, 9]


def test_a_stone_of_a_row_with_both_sides_has_to_say_which(unit: Registry, tmp_path: Path) -> None:
    rows = [[*HEADINGS, "Size"], ["H-1", "03.05.2024", "B", "7"]]
    finding = found(make_plan(unit, log(tmp_path, rows, HEAD + STONE)), "log.side.named")
    assert (finding.row, finding.column, finding.severity) == (2, "D", Severity.ERROR)


def test_a_finding_at_one_cell_that_says_several_things_names_it_once(unit: Registry, tmp_path: Path) -> None:
    split = """
[[column]]
heading = "Stone"
splits = ["{stone.length_mm}x{stone.width_mm} {stone.location}"]
values."stone.location" = { pelvis = "pelvis" }
"""
    rows = [[*HEADINGS, "Stone"], ["H-1", "03.05.2024", "B", "7x5 pelvis"]]
    finding = found(make_plan(unit, log(tmp_path, rows, HEAD + split)), "log.side.named")
    assert (finding.column, finding.value) == ("D", "7x5 pelvis")


def test_one_status_of_both_kidneys_frees_both_and_fails_neither(unit: Registry, tmp_path: Path) -> None:
    status = """
[[column]]
heading = "Scanned"
to = "examination.examined_on"
group = "ct"
[[constant]]
to = "examination.modality"
value = "ct"
[[column]]
heading = "Free"
status = "reading"
at_mm = 2
yes = ["y"]
no = ["n"]
group = "ct"
"""
    rows = [
        [*HEADINGS, "Scanned", "Free"],
        ["H-1", "03.05.2024", "B", "05.06.2024", "y"],
        ["H-2", "03.05.2024", "B", "05.06.2024", "n"],
    ]
    plan = plan_of(unit, log(tmp_path, rows, HEAD + status))
    assert [reading["finding"] for reading in plan.new["reading"]] == ["fragments"] * 2 + ["indeterminate"] * 2
    assert [reading["wording"] for reading in plan.new["reading"]] == ["y", "y", "n", "n"]
    assert [fragment["diameter_high_mm"] for fragment in plan.new["fragment"]] == [2, 2]
    question = found(plan, "log.status.side")
    assert (question.row, question.column, question.severity) == (3, "E", Severity.QUESTION)


def test_sides_named_within_a_cell(unit: Registry, tmp_path: Path) -> None:
    mapping = HEAD.replace('heading = "Side"', 'heading = "Side"\nif_blank = ""') + CELL
    rows = [[*HEADINGS, "Stones"], ["H-1", "03.05.2024", "", "L lower + pelvis + R pelvis"]]
    plan = plan_of(unit, log(tmp_path, rows, mapping))
    # The pelvis after the plus is on the left as well: a side holds until another is named.
    places = sorted((str(stone["location"]), stone["stone_number"]) for stone in plan.new["stone"])
    assert places == [("lower_calyx", 1), ("pelvis", 2), ("pelvis", 3)]
    assert len(plan.new["treated_side"]) == 2


def test_a_side_that_is_not_in_the_translation(unit: Registry, tmp_path: Path) -> None:
    rows = [[*HEADINGS, "Size"], ["H-1", "03.05.2024", "X", "7"]]
    plan = make_plan(unit, log(tmp_path, rows, HEAD + STONE))
    assert [(f.row, f.column, f.rule) for f in errors(plan.findings.listed())] == [
        (2, "C", "renal_unit.unit.translated")
    ]


def test_a_row_without_a_side(unit: Registry, tmp_path: Path) -> None:
    finding = found(make_plan(unit, log(tmp_path, [HEADINGS, ["H-1", "03.05.2024", ""]], HEAD)), "log.side.named")
    assert (finding.row, finding.column, finding.severity) == (2, "C", Severity.ERROR)


def test_a_cell_that_follows_no_pattern(unit: Registry, tmp_path: Path) -> None:
    split = HEAD + '[[column]]\nheading = "Size"\nsplits = ["{stone.length_mm}x{stone.width_mm}"]\n'
    rows = [[*HEADINGS, "Size"], ["H-1", "03.05.2024", "L", "large"], ["H-2", "03.05.2024", "L", "7 × 5"]]
    plan = make_plan(unit, log(tmp_path, rows, split))
    finding = found(plan, "log.split")
    assert (finding.row, finding.column, finding.right) == (2, "D", "{stone.length_mm}x{stone.width_mm}")
    assert [(s["length_mm"], s["width_mm"]) for s in plan.new["stone"]] == [(7, 5)]


def test_stones_of_an_operation_that_removes_none_are_a_question(unit: Registry, tmp_path: Path) -> None:
    mapping = HEAD.replace("stone_removal", "stent") + STONE
    plan = plan_of(unit, log(tmp_path, [[*HEADINGS, "Size"], ["H-1", "03.05.2024", "L", "7"]], mapping))
    assert found(plan, "log.course.none").severity is Severity.QUESTION
    assert plan.new.get("course", []) == []
