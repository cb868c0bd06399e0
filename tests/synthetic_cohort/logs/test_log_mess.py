"""Each kind of mess can be switched on by itself and shows in the files; without any they are tidy."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import fields

import pytest

from synthetic_cohort.logs.grid import Cell, ErrorCell, Formula, LineKind
from synthetic_cohort.logs.make_log import STYLES, Log
from synthetic_cohort.logs.mess import Mess
from tests.synthetic_cohort.logs.conftest import Maker
from tests.synthetic_cohort.logs.reading_back import CellsOfLog


def _cells(log: Log) -> Iterator[Cell]:
    return (cell for page in log.pages for line in page.lines for cell in line.cells)


def _lines(log: Log) -> Iterator[list[object]]:
    return ([cell.value for cell in line.cells] for page in log.pages for line in page.lines)


def _kinds(log: Log) -> list[LineKind]:
    return [line.kind for page in log.pages for line in page.lines]


def _headings_again(log: Log) -> bool:
    page = log.pages[0]
    headings = next([c.value for c in line.cells] for line in page.lines if line.kind is LineKind.HEADING)
    noise = [[c.value for c in line.cells] for page in log.pages for line in page.lines if line.kind is LineKind.NOISE]
    return headings in noise


def _some(log: Log, seen: Callable[[Cell], bool]) -> bool:
    return any(map(seen, _cells(log)))


def _decimal_text(cell: Cell) -> bool:
    return isinstance(cell.value, str) and re.fullmatch(r"\d+\.\d+", cell.value) is not None


def _day_number(cell: Cell) -> bool:
    return bool(cell.carries) and type(cell.value) is int and cell.value > 30_000


SHOWS: dict[str, tuple[str, Callable[[Log], bool]]] = {
    "bom": ("semicolon", lambda log: log.contents()["theatre-log.csv"].startswith(b"\xef\xbb\xbf")),
    "blank_lines": ("tabs", lambda log: any(not any(line) for line in _lines(log))),
    "repeated_headings": ("yearly", _headings_again),
    "totals": ("yearly", lambda log: sum(line[0] == "Year total" for line in _lines(log)) == len(log.pages)),
    "hidden_lines": ("grouped", lambda log: any(line.hidden for page in log.pages for line in page.data)),
    "hidden_sheet": ("yearly", lambda log: [page.title for page in log.pages if page.hidden] == ["old"]),
    "merged_cells": ("yearly", lambda log: any(page.merged for page in log.pages)),
    "copies": ("semicolon", lambda log: LineKind.COPY in _kinds(log)),
    "numbers_as_text": ("grouped", lambda log: _some(log, _decimal_text)),
    "units_in_cells": ("semicolon", lambda log: any(str(c.value).endswith(" cm") for c in _cells(log))),
    "missing_marks": ("tabs", lambda log: any(c.value == "n/a" and not c.lost for c in _cells(log))),
    "wiped_out": ("tabs", lambda log: any(c.lost for c in _cells(log))),
    "serial_days": ("grouped", lambda log: _some(log, _day_number)),
    "formulas": ("yearly", lambda log: any(isinstance(c.value, Formula) for c in _cells(log))),
    "error_cells": ("yearly", lambda log: any(isinstance(c.value, ErrorCell) for c in _cells(log))),
    "stray_blanks": ("tabs", lambda log: any(str(c.value) != str(c.value).strip() for c in _cells(log))),
}  # fmt: skip


def test_mess_every_kind_is_tried() -> None:
    assert set(SHOWS) == {field.name for field in fields(Mess)}


@pytest.mark.parametrize("kind", SHOWS)
def test_mess_kind_shows_and_only_when_asked_for(kind: str, log: Maker) -> None:
    style, shows = SHOWS[kind]
    assert shows(log(style, Mess.heavy().only(kind)))
    assert not shows(log(style))


@pytest.mark.parametrize("style", STYLES)
def test_mess_none_is_tidy(style: str, log: Maker) -> None:
    made = log(style)
    assert LineKind.COPY not in _kinds(made)
    assert not [page for page in made.pages if page.hidden]
    assert {of.state.value for of in made.truth.values} == {"recoverable"}


def test_mess_formulas_keep_their_results(log: Maker) -> None:
    """A reader that does not calculate sees the number."""
    made = log("yearly", Mess.heavy().only("formulas"))
    cells = CellsOfLog(made)
    ages = [of for of in made.truth.values if of.heading == "age_years"]
    assert [cells.at(of.places[0]) for of in ages] == [of.value for of in ages]


def test_mess_windows_1252_is_no_utf_8(log: Maker) -> None:
    content = log("tabs").contents()["ops.txt"]
    assert "Sheath Ø (Fr)" in content.decode("windows-1252")
    with pytest.raises(UnicodeDecodeError):
        content.decode("utf-8")
