"""Files, sheets, headings and rows that are wrong as a whole."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.chart import BarChart, Reference

from registry.intake.load_plan import make_plan
from registry.intake.template import write_template
from registry.schema.errors import GravelbookError
from registry.store.registry import Registry
from registry.validation.findings import Finding, Severity
from tests.intake.books import CASE, IDENTITY, OPERATED, case, change_book, put, write_book

COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def cut_off(path: Path) -> None:
    write_book(path, CASE)
    path.write_bytes(path.read_bytes()[:3000])


def damaged_inside(path: Path) -> None:
    write_book(path.with_name("whole.xlsx"), CASE)
    with zipfile.ZipFile(path.with_name("whole.xlsx")) as whole, zipfile.ZipFile(path, "w") as broken:
        for part in whole.namelist():
            content = whole.read(part)
            broken.writestr(part, content[: len(content) // 2] if "sheet1" in part else content)


def other_archive(path: Path) -> None:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")


FILES: dict[str, tuple[Callable[[Path], Any], str]] = {
    "not there": (lambda path: None, "There is no file"),
    "folder": (lambda path: path.mkdir(), "is a folder"),
    "no bytes": (lambda path: path.write_bytes(b""), "is empty"),
    "comma-separated": (lambda path: path.write_text("study_number,sex\n1,male\n"), "is not a workbook"),
    "other archive": (other_archive, "is not a workbook"),
    "cut off": (cut_off, "is cut off or damaged"),
    "damaged inside": (damaged_inside, "is damaged"),
    "protected": (lambda path: path.write_bytes(COMPOUND + "EncryptedPackage".encode("utf-16-le")), "by a password"),
    "old format": (lambda path: path.write_bytes(COMPOUND + b"Workbook"), "old .xls format"),
}


@pytest.mark.parametrize("name", FILES)
def test_a_file_that_cannot_be_read_is_one_paragraph(name: str, registry: Registry, tmp_path: Path) -> None:
    make, words = FILES[name]
    path = tmp_path / "book.xlsx"
    make(path)
    with pytest.raises(GravelbookError, match=words) as raised:
        make_plan(registry, path)
    assert "book.xlsx" in str(raised.value)
    assert "\n" not in str(raised.value)


def errors(registry: Registry, path: Path) -> list[Finding]:
    found = make_plan(registry, path, today=date(2026, 1, 1)).findings.listed()
    return [f for f in found if f.severity is Severity.ERROR]


def only_error(registry: Registry, path: Path) -> Finding:
    found = errors(registry, path)
    assert len(found) == 1, [(f.rule, f.place, f.why) for f in found]
    return found[0]


def test_an_unknown_sheet(registry: Registry, tmp_path: Path) -> None:
    path = write_book(tmp_path / "b.xlsx", case(contact=[{"study_number": "1001"}]), titles={"contact": "Contacts"})
    found = only_error(registry, path)
    assert (found.rule, found.sheet) == ("sheet.known", "Contacts")
    assert "perhaps Contact" in found.right


def test_a_sheet_twice(registry: Registry, tmp_path: Path) -> None:
    path = write_book(tmp_path / "b.xlsx", case(stone_aim=None))
    book = openpyxl.load_workbook(path)
    book.copy_worksheet(book["Stone"]).title = "stone_"  # a title may stand once, so the second is the table's name
    book["Stone"].title = "Stone "
    book["stone_"].title = "stone"
    book.save(path)
    found = only_error(registry, path)
    assert (found.rule, found.sheet) == ("sheet.once", "stone")


def test_an_unknown_heading(registry: Registry, tmp_path: Path) -> None:
    path = write_book(tmp_path / "b.xlsx", case())
    change_book(path, "stone", lambda ws: put(ws.cell(1, 5), "lenght_mm"))
    found = only_error(registry, path)
    assert (found.rule, found.place) == ("heading.known", "Stone!E1")
    assert "perhaps length_mm" in found.right


def test_a_heading_twice(registry: Registry, tmp_path: Path) -> None:
    path = write_book(tmp_path / "b.xlsx", case())
    change_book(path, "stone", lambda ws: put(ws.cell(1, 6), "length_mm"))
    found = only_error(registry, path)
    assert (found.rule, found.place) == ("heading.once", "Stone!F1")
    assert "column E already" in found.why


def test_a_column_without_heading(registry: Registry, tmp_path: Path) -> None:
    path = write_book(tmp_path / "b.xlsx", case())
    change_book(path, "stone", lambda ws: put(ws.cell(2, 9), "stray"))
    found = only_error(registry, path)
    assert (found.rule, found.place) == ("heading.known", "Stone!I1")


@pytest.mark.parametrize(("table", "heading"), [("contact", "study_number"), ("operation", "purpose")])
def test_a_needed_heading_that_is_missing(table: str, heading: str, registry: Registry, tmp_path: Path) -> None:
    rows = case()
    for row in rows[table]:
        del row[heading]
    found = [f for f in errors(registry, write_book(tmp_path / "b.xlsx", rows)) if f.rule == "heading.needed"]
    assert [f.heading for f in found] == [heading]
    assert len(errors(registry, tmp_path / "b.xlsx")) == 1


def test_headings_in_any_case_and_order_are_read(registry: Registry, tmp_path: Path) -> None:
    rows = case(contact=[{"Contacted on": date(2024, 8, 1), "STUDY_NUMBER": 1001}])
    assert errors(registry, write_book(tmp_path / "b.xlsx", rows)) == []


def test_a_row_twice(registry: Registry, tmp_path: Path) -> None:
    rows = case(contact=[*CASE["contact"], *CASE["contact"]])
    found = only_error(registry, write_book(tmp_path / "b.xlsx", rows))
    assert (found.rule, found.row) == ("contact.once", 3)
    assert "Row 2 is the same contact" in found.why
    assert "next contact_number" in found.right


def test_a_hospital_number_twice_in_another_spelling(registry: Registry, tmp_path: Path) -> None:
    numbers = [{"study_number": "1001", "number": "H-77 12"}, {"study_number": "0042", "number": "h7712"}]
    found = only_error(registry, write_book(tmp_path / "b.xlsx", {**CASE, "hospital_number": numbers}))
    assert (found.rule, found.row) == ("hospital_number.once", 3)
    assert "7712" not in found.why + found.value


@pytest.mark.parametrize("error", ["#N/A", "#DIV/0!", "#REF!"])
def test_an_error_cell_is_not_a_blank_one(error: str, registry: Registry, tmp_path: Path) -> None:
    path = write_book(tmp_path / "b.xlsx", case())

    def spoil(ws: Any) -> None:
        ws.cell(2, 6).value = error
        assert ws.cell(2, 6).data_type == "e"

    change_book(path, "stone", spoil)
    found = only_error(registry, path)
    assert (found.rule, found.place) == ("cell.value", "Stone!F2")
    assert error in found.why


def test_a_formula_that_was_never_worked_out(registry: Registry, tmp_path: Path) -> None:
    path = write_book(tmp_path / "b.xlsx", case())
    change_book(path, "stone", lambda ws: setattr(ws.cell(2, 6), "value", "=E2/2"))
    found = only_error(registry, path)
    assert (found.rule, found.place) == ("cell.value", "Stone!F2")
    assert "formula" in found.why


def test_two_sites_and_none_named(registry: Registry, tmp_path: Path) -> None:
    rows = case(site=[*CASE["site"], {"site": "HM", "name": "Heron Mill"}], contact=None)
    found = errors(registry, write_book(tmp_path / "b.xlsx", rows))
    assert {f.rule for f in found} == {"site.named"}
    assert "one of: HM, LB" in found[0].right


def test_no_site_at_all(registry: Registry, tmp_path: Path) -> None:
    rows = {"operator": CASE["operator"]}
    found = errors(registry, write_book(tmp_path / "b.xlsx", rows))
    assert {f.rule for f in found} == {"site.named"}


def test_half_an_optional_link(registry: Registry, tmp_path: Path) -> None:
    rows = case()
    rows["fragment"][0].update(course_number=1, stone_number=None)
    found = only_error(registry, write_book(tmp_path / "b.xlsx", rows))
    assert found.rule == "fragment.stone_id.whole"
    assert "stone_number is blank" in found.why


def test_a_site_without_time_zone_cannot_place_a_time(registry: Registry, tmp_path: Path) -> None:
    rows = case(site=[{"site": "LB", "name": "Larkspur Bay"}])
    found = only_error(registry, write_book(tmp_path / "b.xlsx", rows))
    assert found.rule == "operation.started_at.type"
    assert "no time zone" in found.why
    assert found.right.endswith("the site's time zone in sheet Site")
    with registry.writing(by="test") as door:
        door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
    assert only_error(registry, tmp_path / "b.xlsx").right.endswith("08:30+02:00")  # the sheet could not help now


def test_merged_and_hidden_cells_are_read_like_others(registry: Registry, tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        ws.row_dimensions[2].hidden = True
        ws.column_dimensions["E"].hidden = True
        ws.merge_cells("F2:G2")

    path = change_book(write_book(tmp_path / "b.xlsx", case()), "stone", change)
    plan = make_plan(registry, path, today=date(2026, 1, 1))
    assert plan.findings.errors == 0
    assert plan.new["stone"][0]["length_mm"] == 14.25


def test_a_sheet_that_is_a_chart_is_passed_over(registry: Registry, tmp_path: Path) -> None:
    path = write_book(tmp_path / "b.xlsx", case())
    book = openpyxl.load_workbook(path)
    chart = BarChart()
    chart.add_data(Reference(book["Stone"], min_col=4, min_row=1, max_row=2))
    book.create_chartsheet("My chart").add_chart(chart)
    book.save(path)
    assert errors(registry, path) == []


def test_empty_rows_between_others_are_passed_over(registry: Registry, tmp_path: Path) -> None:
    path = change_book(write_book(tmp_path / "b.xlsx", case()), "operator", lambda ws: ws.insert_rows(3, 5))
    plan = make_plan(registry, path, today=date(2026, 1, 1))
    assert plan.findings.errors == 0
    assert len(plan.new["operator"]) == 2


def test_an_example_that_was_typed_over_is_not_lost(registry: Registry, tmp_path: Path) -> None:
    path = tmp_path / "b.xlsx"
    write_template(path)
    change_book(path, "site", lambda ws: put(ws.cell(2, 1), "LB"))
    found = only_error(registry, path)
    assert (found.rule, found.place) == ("row.example", "Site!2")
    assert "row_note" in found.right


def test_identity_rows_are_checked_like_others(registry: Registry, tmp_path: Path) -> None:
    identity = {"patient_identity": [{"study_number": "9999", "family_name": "Doe"}]}
    found = only_error(registry, write_book(tmp_path / "b.xlsx", {**CASE, **IDENTITY, **identity}))
    assert found.rule == "patient_identity.patient_id.exists"


def test_numbers_for_study_numbers_and_codes(registry: Registry, tmp_path: Path) -> None:
    rows = case(contact=[{"study_number": 1001.0, "contacted_on": OPERATED, "stent_symptoms": 7.000000000001}])
    plan = make_plan(registry, write_book(tmp_path / "b.xlsx", rows), today=date(2026, 1, 1))
    assert plan.findings.errors == 0
    assert plan.new["contact"][0]["stent_symptoms"] == 7
