"""From a CSV file to addressed cells."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from registry.intake.log_cells import Reading
from registry.intake.log_delimiter import delimiter_of, without_declaration
from registry.intake.log_letters import decoded
from registry.intake.log_raw import RawSheet, Row
from registry.intake.log_remarks import Remarks
from registry.intake.log_shown import Cells, typed_cell
from registry.schema.errors import GravelbookError

_UNCLOSED = "unexpected end of data"
_TOO_LONG = "field larger than field limit"


def read_csv(content: bytes, reading: Reading, remarks: Remarks) -> RawSheet:
    """The rows of a CSV file; each has the number of the line on which it starts.

    Args:
        content: the bytes of the file.
        reading: what the mapping says of delimiter and encoding.
        remarks: takes what was told from the file and faulty quotation marks.

    Raises:
        GravelbookError: the bytes are no text, or a quotation mark is never closed.
    """
    text = decoded(content, reading.encoding, remarks)
    delimiter = delimiter_of(text, reading.delimiter, remarks)
    text, above = without_declaration(text)
    cells = Cells(typed_cell)
    numbers: list[int] = []
    rows: list[Row] = []
    for number, record in _records(text, delimiter, remarks, above):
        numbers.append(number)
        rows.append([cells[value] for value in record])
    return RawSheet("", numbers, rows, awkward=cells.awkward)


class _Lines:
    """The lines of a text, which remembers those of the record that is being read.

    A line ends where a spreadsheet ends it: at CR, LF or both, and at no other character.
    """

    def __init__(self, text: str, above: int) -> None:
        self._lines = io.StringIO(text, newline="")
        self.read = above
        self.record: list[str] = []

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        line = next(self._lines)
        self.read += 1
        self.record.append(line)
        return line


def _records(text: str, delimiter: str, remarks: Remarks, above: int) -> Iterator[tuple[int, list[str]]]:
    lines = _Lines(text, above)
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    while True:
        start = lines.read + 1
        lines.record.clear()
        try:
            record = next(reader)
        except StopIteration:
            return
        except csv.Error as fault:
            record = _faulty(str(fault), start, lines.record, delimiter, remarks)
        yield start, record


def _faulty(fault: str, start: int, lines: list[str], delimiter: str, remarks: Remarks) -> list[str]:
    """A record whose quotation marks are not as they should be, read as well as can be."""
    if _UNCLOSED in fault or _TOO_LONG in fault:
        raise GravelbookError(
            f"{remarks.file}, line {start}: a quotation mark opens a cell and nothing closes it, so the rest of the "
            'file would be one cell. Close it, or write a quotation mark inside a cell twice (""); or the delimiter is '
            "another: delimiter under [reading]."
        )
    remarks.error(
        "quotes",
        "A cell in quotation marks goes on after the mark that closes it, so where it ends cannot be told.",
        'a quotation mark inside a cell written twice ("")',
        row=start,
    )
    lenient = csv.reader(lines, delimiter=delimiter)
    return next(lenient, [])
