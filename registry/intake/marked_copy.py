"""A copy of the file that was checked, with every finding at its cell."""

from __future__ import annotations

import io
import warnings
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from registry.intake.log_open import is_workbook, log_bytes
from registry.intake.marked_copy_looks import give_looks, gravest
from registry.intake.marked_copy_places import places_beside
from registry.intake.problem_table import add_problems
from registry.intake.rejected_file_cells import put_value
from registry.intake.rejected_file_columns import sheet_title
from registry.intake.source import Source
from registry.intake.workbook_file import save_workbook
from registry.schema.errors import GravelbookError
from registry.validation.findings import Finding

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

AUTHOR = "gravelbook check"
_WIDTH = 380


def write_marked_copies(
    source: Source, found: Sequence[Finding], target: Path, *, overwrite: bool = False
) -> list[Path]:
    """Write a copy of each file in which the cells that something was found about are coloured and commented.

    A workbook is copied with its sheets, formats and formulas; a CSV file becomes a workbook with the same rows under
    the same numbers. The last sheet lists all findings of the file.

    Args:
        source: the files that were checked.
        found: what was found.
        target: the copy; one beside it for each where there are several files.
        overwrite: replace a copy that is there.

    Returns:
        The copies, in the order of the files.

    Raises:
        GravelbookError: a copy would replace one of the files or something else, or cannot be written.
    """
    places = places_beside(target, source.files, overwrite=overwrite)
    books: dict[Path, Workbook] = {}
    for file in source.files:
        own = [f for f in found if f.file == file.name or (f.file not in places and file is source.files[0])]
        books[places[file.name]] = _marked(file, source, own)
    for place, book in books.items():
        save_workbook(book, place)
    return list(books)


def _marked(file: Path, source: Source, found: list[Finding]) -> Workbook:
    content = log_bytes(file)
    if is_workbook(content):
        book = _opened(file, content)
        titles = {sheet.title: sheet.title for sheet in book.worksheets}
    else:
        book = _from_csv(file, content, source)
        titles = {"": book.worksheets[0].title}
    at_cells: dict[tuple[str, int, str], list[Finding]] = defaultdict(list)
    for finding in found:
        for column in finding.column.split(","):
            if finding.sheet in titles and finding.row is not None and column.strip():
                at_cells[titles[finding.sheet], finding.row, column.strip()].append(finding)
    for (title, row, column), there in at_cells.items():
        _mark(_cell(book[title], f"{column}{row}"), there)
    add_problems(book, found, titles)
    return book


def _opened(file: Path, content: bytes) -> Workbook:
    from openpyxl import load_workbook

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of parts that the library leaves out, as drop-downs from other workbooks
            return load_workbook(io.BytesIO(content), rich_text=True)
    except Exception as fault:  # the library has no class of its own for what other programs wrote oddly
        raise GravelbookError(
            f"{file} could be read, but not copied with its formats ({fault}). Save it again from the spreadsheet "
            "program, or read the findings with --format csv."
        ) from None


def _from_csv(file: Path, content: bytes, source: Source) -> Workbook:
    from openpyxl import Workbook

    from registry.intake.rejected_file_log import csv_rows

    book = Workbook()
    sheet: Any = book.worksheets[0]
    sheet.title = sheet_title(file)
    for number, row in csv_rows(content, source):
        for at, text in enumerate(row, start=1):
            if text:
                put_value(sheet, number, at, text)
    return book


def _cell(sheet: Worksheet, address: str) -> Any:
    """A cell; the first one of those it is merged with, which alone can hold a comment."""
    merged = next((area for area in sheet.merged_cells.ranges if address in area), None)
    return sheet[address] if merged is None else sheet.cell(merged.min_row, merged.min_col)


def _mark(cell: Any, found: list[Finding]) -> None:
    from openpyxl.comments import Comment

    lines = [f"{f.severity}: {f.why}" + (f"\nRight would be: {f.right}" if f.right else "") for f in found]
    before = cell.comment
    if before is not None and before.author != AUTHOR:
        lines.append(f"The cell's own comment:\n{before.text}")
    text = "\n\n".join(dict.fromkeys(lines))
    height = 18 * min(30, 2 + text.count("\n") + len(text) // 50)
    cell.comment = Comment(text, AUTHOR, height=height, width=_WIDTH)
    give_looks(cell, gravest({f.severity for f in found}))
