"""The workbook holds the records, cell for cell, as two independent readers see it."""

from __future__ import annotations

from datetime import date, datetime

import openpyxl
import pytest
from python_calamine import CalamineWorkbook

from registry.schema.errors import GravelbookError
from registry.schema.sheets import identity_sheets, sheets
from synthetic_cohort.frames import cohort
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.records import records
from synthetic_cohort.workbook import write_workbook


@pytest.fixture(scope="module")
def rows():
    return records(cohort(Parameters(), 40, 2), awkward=True)


@pytest.fixture(scope="module")
def path(rows, tmp_path_factory):
    path = tmp_path_factory.mktemp("book") / "cohort.xlsx"
    assert write_workbook(rows, path) == sum(map(len, rows.values()))
    return path


def test_read_by_calamine_it_is_what_was_written(rows, path):
    book = CalamineWorkbook.from_path(path)
    assert book.sheet_names == [sheet.table for sheet in (*sheets(), *identity_sheets())]
    for sheet in (*sheets(), *identity_sheets()):
        cells = book.get_sheet_by_name(sheet.table).to_python()
        assert cells[0] == sheet.headings
        assert len(cells) - 1 == len(rows[sheet.table])
        for read, row in zip(cells[1:], rows[sheet.table], strict=True):
            assert [None if cell == "" else cell for cell in read] == [row.get(heading) for heading in sheet.headings]


def test_read_by_openpyxl_days_are_date_cells(rows, path):
    page = openpyxl.load_workbook(path, read_only=True)["operation"]
    cells = list(page.iter_rows(values_only=True))
    on = cells[0].index("operated_on")
    assert [cell[on] for cell in cells[1:]] == [
        datetime.combine(row["operated_on"], datetime.min.time()) for row in rows["operation"]
    ]


def test_names_can_be_left_out(rows, tmp_path):
    write_workbook(rows, tmp_path / "bare.xlsx", identity=False)
    names = CalamineWorkbook.from_path(tmp_path / "bare.xlsx").sheet_names
    assert "patient_identity" not in names
    assert "hospital_number" not in names


def test_words_with_marks_survive(tmp_path):
    note = 'a < b & "c" > d'
    write_workbook({"patient": [{"site": "LB", "study_number": "S1", "note": note}]}, tmp_path / "x.xlsx")
    cells = CalamineWorkbook.from_path(tmp_path / "x.xlsx").get_sheet_by_name("patient").to_python()
    assert note in cells[1]


def test_a_heading_that_the_sheet_has_not_stops_it(tmp_path):
    with pytest.raises(LookupError, match="sheet patient has no column 'shoe_size'"):
        write_workbook({"patient": [{"shoe_size": 41}]}, tmp_path / "x.xlsx")


def test_a_place_that_cannot_be_written_is_refused_in_words(tmp_path):
    with pytest.raises(GravelbookError, match="cannot be written"):
        write_workbook({"site": [{"site": "LB", "name": str(date(2020, 1, 1))}]}, tmp_path / "absent" / "x.xlsx")
