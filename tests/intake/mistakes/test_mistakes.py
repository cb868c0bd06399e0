"""A folder of deliberate mistakes: one file each, and beside it the sentences that it must produce, word by word.

``workbook`` holds workbooks as text, a line ``[Sheet]`` before the rows of each sheet; ``log`` holds logs, read by
``log/log.toml``; ``mapping`` holds mappings for ``mapping/log.csv``.
``NAME.expected`` lists the errors and questions, or, after ``refused:``, why nothing could be read at all.
"""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable, Iterator
from datetime import date, time
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from registry.intake.load import load_file, refuse_empty
from registry.intake.load_plan import make_plan
from registry.intake.source import Source
from registry.schema.errors import GravelbookError
from registry.store.registry import Registry, open_registry
from registry.validation.findings import Severity
from tests.intake.books import CASE, IDENTITY, put, write_book

FOLDER = Path(__file__).parent
TODAY = date(2026, 1, 1)
WORKBOOKS = sorted((FOLDER / "workbook").glob("*.txt"))
LOGS = sorted((FOLDER / "log").glob("*.csv"))
MAPPINGS = sorted((FOLDER / "mapping").glob("*.toml"))


@pytest.fixture(scope="module")
def held(empty_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Registry]:
    """A registry that holds one case; every mistake is checked against it, and none changes it."""
    folder = tmp_path_factory.mktemp("held")
    shutil.copy(empty_file, folder / "registry.db")
    shutil.copy(f"{empty_file}.key", folder / "registry.db.key")
    with open_registry(folder / "registry.db") as registry:
        assert load_file(registry, write_book(folder / "case.xlsx", {**CASE, **IDENTITY}), by="test").errors == 0
        yield registry


def said(registry: Registry, source: Source) -> str:
    """What a person is told to mend or to look at, one line each; or why the file could not be read."""
    try:
        plan = make_plan(registry, source, today=TODAY)
        refuse_empty(plan)
    except GravelbookError as refused:
        return f"refused: {refused}\n".replace(f"{source.files[0].parent}/", "").replace(f"{FOLDER}/", "")
    found = plan.findings.listed()
    lines = [f"{f.severity} {f.place}: {f.why} Right: {f.right}" for f in found if f.severity is not Severity.NOTE]
    return "".join(f"{line}\n" for line in lines)


def book_of(text: Path, target: Path) -> Path:
    """A workbook from its text: every cell is text, as typed into a cell formatted so."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for row in csv.reader(text.read_text(encoding="utf-8").splitlines()):
        if len(row) == 1 and row[0].startswith("["):
            sheet, number = book.create_sheet(row[0].strip("[]")), 0
            continue
        number += 1
        for at, cell in enumerate(row, start=1):
            put(sheet.cell(number, at), cell or None)
    book.save(target)
    return target


def expected(path: Path) -> str:
    return path.with_suffix(".expected").read_text(encoding="utf-8")


@pytest.mark.parametrize("path", WORKBOOKS, ids=lambda path: path.stem)
def test_a_mistake_in_a_workbook(path: Path, held: Registry, tmp_path: Path) -> None:
    book = book_of(path, tmp_path / f"{path.stem}.xlsx")
    assert said(held, Source((book,))) == expected(path)


@pytest.mark.parametrize("path", LOGS, ids=lambda path: path.stem)
def test_a_mistake_in_a_log(path: Path, held: Registry) -> None:
    assert said(held, Source((path,), path.with_name("log.toml"))) == expected(path)


@pytest.mark.parametrize("path", MAPPINGS, ids=lambda path: path.stem)
def test_a_mistake_in_a_mapping(path: Path, held: Registry) -> None:
    assert said(held, Source((FOLDER / "mapping" / "log.csv",), path)) == expected(path)


def formula_without_result(sheet: Any) -> None:
    sheet["D2"] = "=6*7"


def error_in_a_cell(sheet: Any) -> None:
    sheet["D2"] = "#DIV/0!"


def truth_value(sheet: Any) -> None:
    sheet["D2"] = True


def number_made_a_date(sheet: Any) -> None:
    sheet["D2"] = date(2024, 7, 5)


def time_of_day(sheet: Any) -> None:
    sheet["D2"] = time(12, 30)


CELLS: list[tuple[Callable[[Any], None], str]] = [
    (
        formula_without_result,
        "error Stone!D2: The cell holds a formula that was never worked out. Right: the value itself, typed or pasted "
        "as a value\n",
    ),
    (
        error_in_a_cell,
        "error Stone!D2: The cell holds the error #DIV/0!, not a value. Right: the value itself, typed or pasted as a "
        "value\n",
    ),
    (truth_value, "error Stone!D2: The cell holds a truth value. Right: a number\n"),
    (
        number_made_a_date,
        "error Stone!D2: The cell holds a date (a spreadsheet may have made it one). Right: a number\n",
    ),
    (time_of_day, "error Stone!D2: The cell holds a time of day or a duration. Right: a number\n"),
]


@pytest.mark.parametrize("mistake", CELLS, ids=lambda mistake: mistake[0].__name__)
def test_a_mistake_that_text_cannot_say(
    mistake: tuple[Callable[[Any], None], str], held: Registry, tmp_path: Path
) -> None:
    make, sentence = mistake
    path = book_of(FOLDER / "workbook" / "word_for_number.txt", tmp_path / "b.xlsx")
    book = openpyxl.load_workbook(path)
    make(book["Stone"])
    book.save(path)
    assert said(held, Source((path,))) == sentence


def test_there_are_enough_and_each_says_something() -> None:
    everything = [*WORKBOOKS, *LOGS, *MAPPINGS]
    assert len(everything) >= 40
    for path in everything:
        words = expected(path)
        assert words.startswith(("error ", "question ", "refused: ")), path.name
    assert len({expected(path) for path in everything}) == len(everything)  # no mistake stands twice
