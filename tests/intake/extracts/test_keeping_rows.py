"""A row that waits is kept as it stood, whatever is in its cells, and is known again by what is filled in."""

from __future__ import annotations

import random
from datetime import date, datetime, timedelta

import openpyxl
from hypothesis import given
from hypothesis import strategies as st

from registry.intake.extract_finding import SENTENCES, Why
from registry.intake.log_cells import DAY_ZERO_1904, LogCell, LogSheet
from registry.intake.log_mapping_binding import BoundSheet
from registry.intake.log_records import RowValues
from registry.intake.source import Source
from registry.intake.waiting import HeldWaiting, fits, mark_of, pack, sheets_again
from tests.intake.extracts.unit import MAPPINGS, Unit

VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(2**53), 2**53),
    st.floats(allow_nan=False, allow_infinity=False),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=30),
    st.dates(),
    st.datetimes(),
    st.times(),
    st.timedeltas(timedelta(), timedelta(days=3)).map(lambda t: timedelta(seconds=round(t.total_seconds()))),
)
CELLS = st.lists(st.builds(LogCell, st.text(st.characters(exclude_categories=["Cs"]), max_size=20), VALUES), min_size=1)


def row_of(cells: list[LogCell], number: int = 7) -> RowValues:
    letters = [f"C{n}" for n in range(len(cells))]
    sheet = LogSheet("week.xlsx", "May", [f"heading {n}" for n in range(len(cells))], letters, [number], [cells])
    sheet.day_zero = DAY_ZERO_1904
    return RowValues(BoundSheet(sheet, [], {}, frozenset()), 0)


def held(row: int, packed: str) -> HeldWaiting:
    return HeldWaiting(row, 1, "scans", "sheet 1", 7, 1, datetime(2024, 1, 1), None, "", "", packed)


@given(CELLS, st.text(st.characters(exclude_categories=["Cs"])))
def test_a_row_comes_back_as_it_stood(cells: list[LogCell], mapping: str) -> None:
    row = row_of(cells)
    (sheet,) = sheets_again([held(12, pack(row, mapping)), held(15, pack(row, mapping))])
    assert sheet.rows == [cells, cells] and sheet.numbers == [12, 15]
    assert [[type(c.value) for c in line] for line in sheet.rows] == [[type(c.value) for c in cells]] * 2
    assert (sheet.file, sheet.title, sheet.headings, sheet.columns, sheet.day_zero) == (
        row.sheet.file,
        row.sheet.title,
        row.sheet.headings,
        row.sheet.columns,
        DAY_ZERO_1904,
    )


def test_a_row_is_known_by_its_filled_cells_and_its_source(unit: Unit) -> None:
    cells = [LogCell("H-1", "H-1"), LogCell("", None)]
    mark = mark_of(unit.registry, "scans", row_of(cells))
    assert mark == mark_of(unit.registry, "scans", row_of(cells, number=9))
    assert mark == mark_of(unit.registry, "scans", row_of([*cells, LogCell(" ", " ")]))
    assert mark != mark_of(unit.registry, "cultures", row_of(cells))
    assert mark != mark_of(unit.registry, "scans", row_of(cells[::-1]))


def test_only_so_much_is_kept(unit: Unit) -> None:
    noise = "".join(random.Random(1).choices("abcdefghijklmnopqrstuvwxyz0123456789", k=40_000))
    assert fits(pack(row_of([LogCell("word " * 4000, None)]), "name = 'x'"))
    assert not fits(pack(row_of([LogCell(noise, None)]), ""))


def test_every_reason_has_its_sentence() -> None:
    assert set(SENTENCES) == set(Why)


def test_a_workbook_with_real_dates_waits_and_is_placed(unit: Unit) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["MRN", "Died"])
    sheet.append([12345, datetime(2024, 6, 1)])
    file = unit.folder / "deaths.xlsx"
    book.save(file)
    unit.load_source(Source((file,), MAPPINGS / "deaths.toml"))
    assert unit.whys() == ["patient"]
    unit.patient("12345")
    assert unit.again().placed == 1
    assert unit.only("patient")["died_on"] == date(2024, 6, 1)
