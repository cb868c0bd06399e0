"""Workbooks built for tests: a small complete case, and copies of it with one thing changed."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl

from registry.intake.workbook_reader import all_sheets

Rows = dict[str, list[dict[str, Any]]]
OPERATED = date(2024, 5, 3)

_SIDE = {"study_number": "1001", "operated_on": OPERATED, "unit": "left"}
_COURSE = {"study_number": "1001", "unit": "left"}
_SCAN = {"study_number": "1001", "examined_on": date(2024, 6, 2), "modality": "ct"}

CASE: Rows = {
    "site": [{"site": "LB", "name": "Larkspur Bay", "time_zone": "Europe/Lisbon"}],
    "operator": [{"operator": "OP1"}, {"operator": "OP2"}],
    "equipment_model": [
        {"model_code": "scope", "kind": "scope", "shaft_tenths_fr": 7.5},
        {"model_code": "sheath", "kind": "access_sheath", "inner_tenths_fr": "3.33 mm", "outer_tenths_fr": 12},
    ],
    "equipment_item": [{"model_code": "scope", "serial": "0007"}],
    "patient": [
        {
            "study_number": "1001",
            "sex": "female",
            "birth_year": 1960,
            "condition": "cystinuria; hypercalciuria",
            "died_on": "2025-02",
            "note": "first line\nsecond line",
        },
        {"study_number": "0042", "sex": "Male", "birth_year": 1971, "note": "=SUM(A1)"},
    ],
    "renal_unit": [{**_COURSE, "solitary": "no"}, {"study_number": "0042", "unit": "right"}],
    "course": [{**_COURSE}],
    "operation": [
        {
            "study_number": "1001",
            "operated_on": OPERATED,
            "purpose": "stone_removal",
            "asa_class": 2,
            "operating_min": "1.5 h",
            "height_cm": "not_done",
            "started_at": "2024-05-03 08:30",
        }
    ],
    "operation_operator": [{"study_number": "1001", "operated_on": OPERATED, "operator": "OP1", "role": "first"}],
    "treated_side": [
        {
            **_SIDE,
            "intent": "stone_removal",
            "course_number": 1,
            "stage_number": 0,
            "technique": "flexible",
            "pressure_mean_cmh2o": "40 mmHg",
        }
    ],
    "stone": [{**_COURSE, "stone_number": 1, "location": "pelvis", "length_mm": 14.25, "width_mm": 9}],
    "stone_aim": [{**_SIDE, "course_number": 1, "stone_number": 1, "aim": "aimed_at"}],
    "equipment_use": [
        {**_SIDE, "use_number": 1, "model_code": "sheath", "result": "passed"},
        {**_SIDE, "use_number": 2, "model_code": "scope", "serial": "0007", "result": "passed"},
    ],
    "observation_set": [
        {"study_number": "1001", "observed_on": OPERATED, "operated_on": OPERATED, "creatinine_umol_l": "1.4 mg/dL"}
    ],
    "examination": [{**_SCAN, "slice_mm": 1.5}],
    "reading": [{**_SCAN, "unit": "left", "finding": "fragments"}],
    "fragment": [
        {**_SCAN, "unit": "left", "diameter_low_mm": 1.5, "diameter_high_mm": 2, "kind": "single", "stone_number": 1}
    ],
    "complication": [
        {"study_number": "1001", "operated_on": OPERATED, "what": "fever", "onset_on": "2024-05", "unit": "left"}
    ],
    "later_entry": [{"study_number": "1001", "occurred_on": "2024", "what": "unplanned_attendance"}],
    "contact": [{"study_number": "1001", "contacted_on": date(2024, 8, 1)}],
}

IDENTITY: Rows = {
    "patient_identity": [{"study_number": "1001", "family_name": "Doe", "birth_date": "1960-03-01"}],
    "hospital_number": [{"study_number": "1001", "number": "H-77 12"}],
}


def case(**changes: Any) -> Rows:
    """A copy of the case; a keyword replaces the rows of a table, None leaves the sheet out."""
    rows = copy.deepcopy(CASE)
    for table, new in changes.items():
        if new is None:
            rows.pop(table)
        else:
            rows[table] = copy.deepcopy(new)
    return rows


def with_cell(table: str, heading: str, value: Any, row: int = 0, rows: Rows | None = None) -> Rows:
    """The case with one cell changed."""
    changed = copy.deepcopy(rows if rows is not None else CASE)
    changed[table][row][heading] = value
    return changed


def write_book(path: Path, rows: Mapping[str, list[dict[str, Any]]], titles: Mapping[str, str] | None = None) -> Path:
    """Write rows as a workbook; text stays text, whatever it looks like.

    Args:
        path: where to.
        rows: rows by table, each by heading.
        titles: sheet titles that differ from the layout's, by table.
    """
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    names = {s.table: s.title for s in all_sheets()}
    for table, lines in rows.items():
        sheet = book.create_sheet((titles or {}).get(table, names.get(table, table)))
        headings = list(dict.fromkeys(heading for line in lines for heading in line))
        sheet.append(headings)
        for number, line in enumerate(lines, start=2):
            for at, heading in enumerate(headings, start=1):
                put(sheet.cell(number, at), line.get(heading))
    book.save(path)
    return path


def put(cell: Any, value: Any) -> None:
    """Put a value into a cell; a text that looks like a formula stays text."""
    cell.value = value
    if isinstance(value, str):
        cell._value, cell.data_type = value, "s"


def change_book(path: Path, table: str, change: Any) -> Path:
    """Open a workbook, change one sheet by a function, and save it."""
    book = openpyxl.load_workbook(path)
    change(book[next(s.title for s in all_sheets() if s.table == table)])
    book.save(path)
    return path
