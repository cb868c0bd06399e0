"""What a log says: every cell as text with its address, before a mapping gives it a meaning."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from registry.intake.values import Cell

# Why a cell is not simply what somebody typed there; "" for all others.
MERGED = "merged"
FORMULA = "formula"
NUMBER_AS_TEXT = "number stored as text"
FAULT = "error"
LEADING_ZEROS = "leading zeros by the format"

DAY_ZERO_1900 = date(1899, 12, 30)
DAY_ZERO_1904 = date(1904, 1, 1)


@dataclass(frozen=True, slots=True)
class LogCell:
    """One cell.

    Attributes:
        text: what a person sees there, stripped of nothing; blank for a cell that holds an error.
        value: what the file stores: None, text, number, truth value, date, moment, time or length of time.
        note: how the value came there, where it was not simply typed.
    """

    text: str
    value: Cell
    note: str = ""


EMPTY = LogCell("", None)


@dataclass
class LogSheet:
    """The rows of one sheet, or of a CSV file.

    Attributes:
        file: the file's name.
        title: the sheet's name; blank for a CSV file.
        headings: one a column, several heading rows joined by `` / ``; blank where a column has none.
        columns: the letters of the columns.
        numbers: the row numbers that a spreadsheet shows; in a CSV file the line on which the row starts.
        rows: the cells, as many in each row as there are headings.
        hidden: the numbers of the rows that the spreadsheet hides.
        day_zero: the day from which the file counts its days; a date in a cell formatted as a number is counted so.
    """

    file: str
    title: str
    headings: list[str]
    columns: list[str]
    numbers: list[int] = field(default_factory=list)
    rows: list[list[LogCell]] = field(default_factory=list)
    hidden: set[int] = field(default_factory=set)
    day_zero: date = DAY_ZERO_1900


@dataclass
class LogFile:
    """A log that was read: its name, SHA-256 of its bytes in hexadecimal, and its sheets in the order asked for."""

    name: str
    content_hash: str
    sheets: list[LogSheet]


@dataclass(frozen=True)
class Reading:
    """How a log is to be read, where that is not told from the file.

    Attributes:
        sheets: names of the sheets; ``*`` for all visible ones; else the first visible one that holds cells.
        headings_in_rows: the rows of the headings; else the first row that looks like headings.
        delimiter: what stands between the cells of a CSV file.
        encoding: how a CSV file writes its letters.
        totals: rows whose first filled cell begins so are passed over.
        stop_at: nothing is read from the row on whose first filled cell begins so.
        unread: headings, folded, and letters of columns that nothing is read from; errors in them do no harm.
    """

    sheets: tuple[str, ...] = ()
    headings_in_rows: tuple[int, ...] = ()
    delimiter: str = ""
    encoding: str = ""
    totals: tuple[str, ...] = ()
    stop_at: str = ""
    unread: frozenset[str] = frozenset()
