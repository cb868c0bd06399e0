"""Reading workbooks and flat logs into addressed cells, against calamine and the csv module alone."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.pairs import in_turn, measure, ours, yardstick
from tests.benchmarks.registries import workbook_of
from tests.benchmarks.results import Line

GOAL = 2.0
COLUMNS = 25


def reading(folder: Path, *, operations: int = 10_000, rows: int = 10_000, pairs: int = 5) -> list[Line]:
    """A filled workbook of the registry, and one sheet of a log of so many rows as XLSX and as CSV."""
    workbook, sheet, text = workbook_of(operations, folder), _sheet(rows, folder), _text(rows, folder)
    found = in_turn(
        {
            "workbook": lambda: measure(ours("reading", "workbook", workbook)),
            "its calamine": lambda: measure(yardstick("calamine_cells", workbook)),
            "sheet": lambda: measure(ours("reading", "log", sheet)),
            "calamine": lambda: measure(yardstick("calamine_cells", sheet)),
            "text": lambda: measure(ours("reading", "log", text)),
            "csv": lambda: measure(yardstick("csv_cells", text)),
        },
        pairs,
    )
    named = f"read a log of {rows:,} rows x {COLUMNS}"
    return [
        Line(f"read a workbook of {operations:,} operations", found["workbook"], found["its calamine"], GOAL),
        Line(f"{named}: XLSX", found["sheet"], found["calamine"], GOAL),
        Line(f"{named}: CSV", found["text"], found["csv"]),
    ]


def _sheet(rows: int, folder: Path) -> Path:
    from openpyxl import Workbook

    path = folder / f"log-{rows}x{COLUMNS}.xlsx"
    if not path.is_file():
        book = Workbook(write_only=True)
        sheet = book.create_sheet("log")
        for row in _rows(rows):
            sheet.append(row)
        book.save(path)
    return path


def _text(rows: int, folder: Path) -> Path:
    path = folder / f"log-{rows}x{COLUMNS}.csv"
    if not path.is_file():
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(_rows(rows))
    return path


def _rows(count: int) -> Iterator[list[str | float]]:
    """Half of the columns in words, half in numbers, as logs are."""
    yield [f"column {n}" for n in range(COLUMNS)]
    for row in range(count):
        yield [f"wording {row % 50} of {n}" if n % 2 else row + n / 4 for n in range(COLUMNS)]
