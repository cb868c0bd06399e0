"""The marked copy: the person's own file with every finding at its cell, and a sheet that lists them all."""

from __future__ import annotations

import copy
import shutil
import stat
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill

from registry.intake.load_plan import make_plan
from registry.intake.marked_copy import write_marked_copies
from registry.intake.source import Source
from registry.intake.template import write_template
from registry.schema.errors import GravelbookError
from registry.store.registry import Registry
from registry.validation.findings import HEADINGS, Finding, Severity
from tests.intake.books import CASE, IDENTITY, change_book, put, with_cell, write_book

TODAY = date(2026, 1, 1)


def marked(registry: Registry, path: Path, target: Path, **more: Any) -> tuple[Any, list[Finding]]:
    """Check a file, write its copy and open it."""
    found = make_plan(registry, path, today=TODAY).findings.listed()
    write_marked_copies(Source((path,)), found, target, **more)
    return openpyxl.load_workbook(target), found


def wrong(path: Path) -> Path:
    """An error, a question and a note at one cell each, and two findings that are not at a cell."""
    rows = with_cell("stone", "length_mm", "=12+x")
    rows["stone"][0]["width_mm"] = 90
    rows["renal_unit"][0]["solitary"] = "perhaps"
    return write_book(path, rows, titles={"contact": "Contacts"})


def test_each_severity_has_a_colour_a_frame_and_a_word(registry: Registry, tmp_path: Path) -> None:
    book, found = marked(registry, wrong(tmp_path / "b.xlsx"), tmp_path / "copy.xlsx")
    assert {f.severity for f in found} == set(Severity)
    fills, frames = set(), set()
    for severity in Severity:
        finding = next(f for f in found if f.severity is severity and f.column)
        cell = book[finding.sheet][f"{finding.column}{finding.row}"]
        assert cell.comment.text.startswith(f"{severity}: {finding.why}")
        assert finding.right in cell.comment.text
        fills.add(cell.fill.start_color.rgb)
        frames.add(cell.border.left.style)
    assert len(fills) == len(frames) == 3


def test_every_finding_at_a_cell_is_at_its_cell_and_no_other_cell_is_touched(
    registry: Registry, tmp_path: Path
) -> None:
    path = wrong(tmp_path / "b.xlsx")
    book, found = marked(registry, path, tmp_path / "copy.xlsx")
    places = {(f.sheet, f"{f.column}{f.row}") for f in found if f.column and f.row}
    commented = {
        (sheet.title, cell.coordinate)
        for sheet in book.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.comment is not None
    }
    assert commented == places
    for sheet in openpyxl.load_workbook(path).worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                same = book[sheet.title][cell.coordinate]
                assert (same.value, same.data_type, same.number_format) == (
                    cell.value,
                    cell.data_type,
                    cell.number_format,
                )


def test_all_findings_stand_in_the_sheet_of_problems(registry: Registry, tmp_path: Path) -> None:
    book, found = marked(registry, wrong(tmp_path / "b.xlsx"), tmp_path / "copy.xlsx")
    assert book.sheetnames[-1] == "problems"
    sheet = book["problems"]
    headings, *rows = sheet.iter_rows(max_row=len(found) + 1, values_only=True)
    assert headings == ("go to", *HEADINGS)
    expected = [tuple(None if (v := getattr(f, name)) in (None, "") else str(v) for name in HEADINGS) for f in found]
    assert [tuple(None if v is None else str(v) for v in row[1:]) for row in rows] == expected
    assert sheet.cell(len(found) + 3, 1).value.startswith("3 errors, 1 question")
    links = {sheet.cell(n, 1).hyperlink.location for n, f in enumerate(found, start=2) if f.sheet and f.row}
    assert "'Stone'!E2" in links
    whole = next(n for n, f in enumerate(found, start=2) if f.rule == "sheet.known")
    assert sheet.cell(whole, 1).hyperlink.location == "'Contacts'!A1"
    assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row)  # '=12+x' is a text


def test_formats_formulas_and_other_sheets_are_kept(registry: Registry, tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        ws["E2"].font, ws["F2"].fill = Font(bold=True, color="FF0000"), PatternFill("solid", start_color="00FF00")
        ws["D2"].comment = Comment("ask Ines", "somebody")
        put(ws["D2"], "first")
        ws.column_dimensions["E"].width = 33
        ws.row_dimensions[2].hidden = True
        ws["Z9"] = "=SUM(E2:E9)"
        ws.merge_cells("F2:G2")

    path = change_book(write_book(tmp_path / "b.xlsx", with_cell("stone", "length_mm", "twelve")), "stone", change)
    book = openpyxl.load_workbook(path)
    book.create_sheet("lists")["A1"] = "mine"
    book["lists"].sheet_state = "hidden"
    book.save(path)
    before = path.read_bytes()
    copied, _ = marked(registry, path, tmp_path / "copy.xlsx")
    sheet = copied["Stone"]
    assert path.read_bytes() == before
    assert (sheet["E2"].font.bold, sheet["E2"].font.color.rgb) == (True, "00FF0000")
    assert sheet["F2"].fill.start_color.rgb == "0000FF00"
    assert sheet.column_dimensions["E"].width == 33
    assert sheet.row_dimensions[2].hidden
    assert sheet["Z9"].value == "=SUM(E2:E9)"
    assert "F2:G2" in [str(area) for area in sheet.merged_cells.ranges]
    assert copied["lists"].sheet_state == "hidden"
    assert sheet["D2"].comment.text.startswith("error:")
    assert "The cell's own comment:\nask Ines" in sheet["D2"].comment.text


def test_a_finding_in_merged_cells_goes_to_the_first_of_them(registry: Registry, tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        ws.merge_cells("D1:E1")  # what was in E1 is gone, so that column E has values and no heading

    path = change_book(write_book(tmp_path / "b.xlsx", CASE), "stone", change)
    book, found = marked(registry, path, tmp_path / "copy.xlsx")
    assert "Stone!E1" in {f.place for f in found}
    assert book["Stone"]["D1"].comment.text.startswith("error: The column holds values but has no heading")


def test_no_name_is_repeated(registry: Registry, tmp_path: Path) -> None:
    rows = {**CASE, **with_cell("patient_identity", "birth_date", "03/04/1960", rows=copy.deepcopy(IDENTITY))}
    rows = with_cell("hospital_number", "number", "77-secret" * 8, rows=rows)
    book, found = marked(registry, write_book(tmp_path / "b.xlsx", rows), tmp_path / "copy.xlsx")
    assert {f.sheet for f in found if f.severity is Severity.ERROR} == {"Identity", "Hospital number"}
    said = [str(v) for row in book["problems"].iter_rows(values_only=True) for v in row if v is not None]
    said += [cell.comment.text for ws in book for row in ws.iter_rows() for cell in row if cell.comment]
    assert "secret" not in " ".join(said)
    assert "/1960" not in " ".join(said)
    assert "1960-" not in " ".join(said)


def test_mended_in_the_copy_it_can_be_checked_and_marked_again(registry: Registry, tmp_path: Path) -> None:
    path = write_book(tmp_path / "b.xlsx", with_cell("stone", "length_mm", "twelve"))
    marked(registry, path, tmp_path / "copy.xlsx")
    change_book(tmp_path / "copy.xlsx", "stone", lambda ws: put(ws["E2"], "thirteen"))
    book, found = marked(registry, tmp_path / "copy.xlsx", tmp_path / "copy 2.xlsx")
    assert [f.rule for f in found if f.severity is Severity.ERROR] == ["stone.length_mm.type"]
    assert book.sheetnames.count("problems") == 1
    assert "twelve" not in book["Stone"]["E2"].comment.text
    change_book(tmp_path / "copy 2.xlsx", "stone", lambda ws: put(ws["E2"], 12))
    _, found = marked(registry, tmp_path / "copy 2.xlsx", tmp_path / "copy 3.xlsx")
    assert [f for f in found if f.severity is Severity.ERROR] == []


def test_the_template_keeps_its_notes_and_lists(registry: Registry, tmp_path: Path) -> None:
    write_template(tmp_path / "t.xlsx")
    change_book(tmp_path / "t.xlsx", "patient", lambda ws: (put(ws["B3"], "1"), put(ws["C3"], "femal")))
    book, found = marked(registry, tmp_path / "t.xlsx", tmp_path / "copy.xlsx")
    assert found
    assert book["Patient"]["C1"].comment is not None
    assert book["Patient"].data_validations.dataValidation


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("b.xlsx", "is the file that is read itself"),
        ("there.xlsx", "is there already"),
        ("copy.csv", "does not end in .xlsx"),
        ("no/copy.xlsx", "There is no folder"),
    ],
)
def test_nothing_is_overwritten(name: str, words: str, registry: Registry, tmp_path: Path) -> None:
    path = write_book(tmp_path / "b.xlsx", CASE)
    shutil.copy(path, tmp_path / "there.xlsx")
    before = path.read_bytes()
    with pytest.raises(GravelbookError, match=words):
        marked(registry, path, tmp_path / name)
    with pytest.raises(GravelbookError, match="is the file that is read itself"):
        marked(registry, path, path, overwrite=True)
    assert path.read_bytes() == (tmp_path / "there.xlsx").read_bytes() == before


def test_the_copy_is_its_owners_alone(registry: Registry, tmp_path: Path) -> None:
    marked(registry, write_book(tmp_path / "b.xlsx", CASE), tmp_path / "copy.xlsx")
    assert stat.S_IMODE((tmp_path / "copy.xlsx").stat().st_mode) == 0o600
