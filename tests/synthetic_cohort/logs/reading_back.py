"""Reads a log's files with libraries that know nothing of this project: what stands in a cell."""

from __future__ import annotations

import csv
import io
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils import column_index_from_string

from synthetic_cohort.logs.make_log import Log
from synthetic_cohort.logs.truth_of_log import At


class CellsOfLog:
    """The cells of the files of a log, results of formulas in place of formulas."""

    def __init__(self, log: Log) -> None:
        self._text: dict[str, list[list[str]]] = {}
        self._books: dict[str, Any] = {}
        for name, content in log.contents().items():
            if log.style.workbook:
                self._books[name] = load_workbook(io.BytesIO(content), data_only=True)
            else:
                text = content.decode("utf-8-sig" if log.style.encoding == "utf-8" else log.style.encoding)
                self._text[name] = list(csv.reader(io.StringIO(text), delimiter=log.style.delimiter))

    def at(self, place: At) -> Any:
        """What stands at a place; of merged cells what the first one holds; None for nothing."""
        if place.file in self._text:
            return self._text[place.file][place.row - 1][column_index_from_string(place.column) - 1] or None
        sheet = self._books[place.file][place.sheet]
        cell = sheet[f"{place.column}{place.row}"]
        for block in sheet.merged_cells.ranges:
            if cell.coordinate in block:
                return sheet.cell(block.min_row, block.min_col).value
        return cell.value

    def book(self, name: str) -> Any:
        """A workbook."""
        return self._books[name]
