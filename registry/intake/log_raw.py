"""The cells of one sheet as they stand in the file, before headings are found and rows passed over."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from registry.intake.log_cells import DAY_ZERO_1900, EMPTY, FAULT, LogCell

Row = list[LogCell]


@dataclass(frozen=True)
class Merge:
    """Cells merged into one: row numbers as the file shows them, columns from 0, all inclusive."""

    top: int
    left: int
    bottom: int
    right: int


@dataclass
class RawSheet:
    """One sheet, with what the values alone do not show.

    Attributes:
        title: the sheet's name; blank for a CSV file.
        numbers: the number of each row, upwards.
        rows: the cells; rows may differ in length.
        workbook: the columns have addresses of their own, so a cell cannot have slipped into another column.
        merges: cells merged into one.
        faults: by row number and column from 0, what is wrong with the cell, as a sentence.
        hidden_rows: the numbers of hidden rows.
        hidden_columns: the hidden columns, from 0.
        awkward: texts that hold characters which nobody types.
        day_zero: the day from which the file counts its days.
    """

    title: str
    numbers: list[int]
    rows: list[Row]
    workbook: bool = False
    merges: list[Merge] = field(default_factory=list)
    faults: dict[tuple[int, int], str] = field(default_factory=dict)
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: list[int] = field(default_factory=list)
    awkward: set[str] = field(default_factory=set)
    day_zero: date = DAY_ZERO_1900


def filled(cell: LogCell) -> bool:
    """Whether there is anything in a cell; a cell that holds an error is not blank."""
    return cell is not EMPTY and (cell.note == FAULT or not (cell.text.isspace() or not cell.text))


def filled_in(row: Row) -> list[int]:
    """The filled columns of a row."""
    return [at for at, cell in enumerate(row) if filled(cell)]
