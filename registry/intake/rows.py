"""Addressed cells: what a file says, column by column, before anything is read into it.

A workbook's sheet and a flat log both become :class:`SheetRows`; what follows asks only for these.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from registry.intake.values import Cell
from registry.schema.sheets import Sheet


@dataclass
class SheetRows:
    """The cells of one sheet.

    Attributes:
        sheet: the layout that the sheet follows.
        title: the sheet's name as it stands in the file.
        numbers: the row numbers that the file shows, one a row, in the file's order.
        cells: by heading, one cell a row. A heading that the file does not have is not there.
        places: by heading, how the file names the column (``F`` in a workbook).
    """

    sheet: Sheet
    title: str
    numbers: list[int]
    cells: dict[str, list[Cell]]
    places: dict[str, str] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.numbers)


@dataclass
class FileRows:
    """A file that was read.

    Attributes:
        name: the file's name, without its folder.
        content_hash: SHA-256 of the file's bytes, in hexadecimal.
        sheets: the sheets that were recognised and hold rows, each read when it is asked for.
        ignored_examples: how many example rows of the template were passed over so far.
        read: how much of the file was read so far, in bytes of its unpacked sheets.
        size: how much there is.
    """

    name: str
    content_hash: str
    sheets: Iterator[SheetRows]
    ignored_examples: int = 0
    read: int = 0
    size: int = 0
