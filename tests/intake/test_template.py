"""The empty workbook: everything that is declared is in it, and its example is valid and passed over."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.utils import range_boundaries

from registry.intake.example_row import ROW_NOTE, example_row
from registry.intake.load_plan import make_plan
from registry.intake.template import write_template
from registry.intake.workbook_reader import LISTS, READ_ME, all_sheets
from registry.schema.fields import Code, Number, Stage, Whole
from registry.schema.sentences import range_words
from registry.store.registry import Registry
from registry.validation.field_words import shown_unit
from registry.validation.findings import Severity
from tests.intake.books import case, put, with_cell, write_book


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("template") / "t.xlsx"
    write_template(path)
    return path


@pytest.fixture(scope="module")
def book(template: Path) -> Any:
    return openpyxl.load_workbook(template)


def test_the_same_template_is_the_same_bytes(template: Path, tmp_path: Path) -> None:
    write_template(tmp_path / "again.xlsx")
    assert (tmp_path / "again.xlsx").read_bytes() == template.read_bytes()


def test_one_sheet_a_table_between_the_words_and_the_hidden_lists(book: Any) -> None:
    assert book.sheetnames == [READ_ME, *(s.title for s in all_sheets()), LISTS]
    assert book[LISTS].sheet_state == "hidden"
    words = " ".join(str(row[0].value) for row in book[READ_ME].iter_rows())
    assert "Keep it inside the hospital" in words
    for layout in all_sheets():
        sheet = book[layout.title]
        assert [cell.value for cell in sheet[1]] == [*layout.headings, ROW_NOTE]
        assert sheet.freeze_panes == "A2"


def test_every_heading_has_a_note_with_what_is_declared(book: Any) -> None:
    for layout in all_sheets():
        for cell, column in zip(book[layout.title][1], layout.columns, strict=False):
            note = cell.comment.text
            assert column.info.label in note
            if column.info.help:
                assert column.info.help[1:] in note
            if shown_unit(column.info):
                assert f"Unit: {shown_unit(column.info)}." in note
            if isinstance(column.info.kind, Whole | Number):
                low, high = column.info.limits
                if low is not None:
                    assert f"Limits: {range_words(column.info, low, high)}." in note
                if column.info.kind.plausible:
                    assert f"Usual: {range_words(column.info, *column.info.kind.plausible)};" in note
            if isinstance(column.info.kind, Code):
                assert column.info.kind.list.source() in note
            if column.info.needed not in (None, Stage.ENTRY):
                assert "Needed: needed" in note


def test_every_code_list_is_a_drop_down_of_all_its_codes(book: Any) -> None:
    for layout in all_sheets():
        sheet = book[layout.title]
        for at, column in enumerate(layout.columns, start=1):
            if not isinstance(column.info.kind, Code):
                continue
            cell = sheet.cell(2, at).coordinate
            places = [rule.formula1 for rule in sheet.data_validations.dataValidation if cell in rule.sqref]
            assert len(places) == 1
            left, top, right, bottom = range_boundaries(places[0].split("!")[1].replace("$", ""))
            assert left == right
            assert top is not None and bottom is not None
            listed = [book[LISTS].cell(row, left).value for row in range(top, bottom + 1)]
            assert listed == column.info.kind.list.codes()


def test_cells_that_a_spreadsheet_would_spoil_are_text(book: Any) -> None:
    patient = book["Patient"]
    formats = {h.value: c.number_format for h, c in zip(patient[1], patient[2], strict=True)}
    assert formats["study_number"] == "@"
    assert formats["died_on"] == "@"
    assert formats["research_use_since"] == "yyyy-mm-dd"


def test_the_example_is_passed_over_and_valid(registry: Registry, template: Path, tmp_path: Path) -> None:
    plan = make_plan(registry, template)
    assert plan.findings.listed() == []
    assert plan.new_rows == 0
    assert plan.file.ignored_examples == len(all_sheets())
    book = openpyxl.load_workbook(template)
    for layout in all_sheets():
        for cell in book[layout.title][2]:
            if cell.value == "EXAMPLE":
                put(cell, "MINE")
        put(book[layout.title].cell(2, len(layout.columns) + 1), None)
    fields = book["Local field"]
    belongs_to = [cell.value for cell in fields[1]].index("belongs_to") + 1
    for number, subject in enumerate(("operation", "treated_side"), start=3):  # the example is a patient's field
        for at, cell in enumerate(fields[2], start=1):
            put(fields.cell(number, at), subject if at == belongs_to else cell.value)
    book.save(tmp_path / "mine.xlsx")
    plan = make_plan(registry, tmp_path / "mine.xlsx")
    assert plan.findings.listed() == []
    assert {table for table, rows in plan.new.items() if rows} >= {s.table for s in all_sheets()}


def test_the_example_is_passed_over_without_its_mark_too(registry: Registry, template: Path, tmp_path: Path) -> None:
    book = openpyxl.load_workbook(template)
    for layout in all_sheets():
        book[layout.title].delete_cols(len(layout.columns) + 1)
    book.save(tmp_path / "t.xlsx")
    plan = make_plan(registry, tmp_path / "t.xlsx")
    assert (plan.findings.listed(), plan.new_rows) == ([], 0)


def test_without_the_example_row_nothing_is_missed(registry: Registry, template: Path, tmp_path: Path) -> None:
    book = openpyxl.load_workbook(template)
    site = next(s for s in all_sheets() if s.table == "site")
    book["Site"].delete_rows(2)
    for at, value in enumerate({**example_row(site), "site": "LB", "name": "Larkspur Bay"}.values(), start=1):
        put(book["Site"].cell(2, at), value)
    book.save(tmp_path / "t.xlsx")
    plan = make_plan(registry, tmp_path / "t.xlsx", today=date(2026, 1, 1))
    assert plan.findings.listed() == []
    assert plan.new["site"][0]["code"] == "LB"


def test_the_example_of_a_treated_side_begins_its_course(book: Any) -> None:
    side = next(s for s in all_sheets() if s.table == "treated_side")
    example = example_row(side)
    assert (example["course_number"], example["stage_number"]) == (1, 0)
    sheet = book[side.title]
    assert sheet.cell(2, side.headings.index("stage_number") + 1).value == 0


def test_the_example_of_a_template_handed_out_before_is_passed_over(
    registry: Registry, template: Path, tmp_path: Path
) -> None:
    """Its stage was blank."""
    book = openpyxl.load_workbook(template)
    side = next(s for s in all_sheets() if s.table == "treated_side")
    book[side.title].cell(2, side.headings.index("stage_number") + 1).value = None
    book.save(tmp_path / "t.xlsx")
    plan = make_plan(registry, tmp_path / "t.xlsx")
    assert (plan.findings.listed(), plan.new_rows) == ([], 0)


def test_a_copied_example_of_a_side_with_a_blank_stage_is_asked_about(registry: Registry, tmp_path: Path) -> None:
    rule = "treated_side.stage_number.has_index"
    blank = make_plan(registry, write_book(tmp_path / "t.xlsx", with_cell("treated_side", "stage_number", None)))
    (asked,) = (found for found in blank.findings.listed() if found.rule == rule)
    assert (asked.severity, asked.heading, asked.row) == (Severity.QUESTION, "stage_number", 2)
    assert "no index operation" in asked.why
    told = with_cell("renal_unit", "prior_stone_surgery", "yes", rows=with_cell("treated_side", "stage_number", None))
    reason = with_cell("treated_side", "stage_number", "not_recorded")
    for name, rows in {"sound": case(), "told": told, "reason": reason}.items():
        plan = make_plan(registry, write_book(tmp_path / f"{name}.xlsx", rows))
        assert [found for found in plan.findings.listed() if found.rule == rule] == [], name


def test_a_size_kept_in_parts_of_its_unit_says_what_to_type(book: Any) -> None:
    notes = {
        (layout.table, column.heading): cell.comment.text
        for layout in all_sheets()
        for cell, column in zip(book[layout.title][1], layout.columns, strict=False)
        if isinstance(column.info.kind, Whole) and column.info.kind.scale != 1
    }
    assert len(notes) >= 8
    assert all("For example, type " in note for note in notes.values())
    assert "For example, type 7.5 (Fr), not 75." in notes["equipment_model", "shaft_tenths_fr"]
    assert "For example, type 9.5 (Fr), not 95." in notes["equipment_model", "inner_tenths_fr"]
    assert "For example, type 0.035 (in), not 35." in notes["equipment_model", "wire_thousandths_inch"]
