"""Merged cells below the headings."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from registry.intake.log_cells import LogCell
from tests.intake.logs.reading.files import HEADINGS, book, cell, only, read, texts


def test_merged_cells_are_filled_down_and_right_with_a_note(tmp_path: Path) -> None:
    def merge(sheet: Any) -> None:
        sheet.merge_cells("A2:A3")
        sheet.merge_cells("C4:D5")

    rows = [
        HEADINGS,
        ["007", "x", "left", 12],
        [None, "y", "right", 5],
        ["008", "z", "both", None],
        ["009", "w", None, None],
    ]
    sheet, found = read(book(tmp_path, rows, merge))
    assert texts(sheet) == [
        ["007", "x", "left", "12"],
        ["007", "y", "right", "5"],
        ["008", "z", "both", "both"],
        ["009", "w", "both", "both"],
    ]
    assert cell(sheet, "C4") == LogCell("both", "both")
    assert cell(sheet, "D5") == cell(sheet, "C5") == LogCell("both", "both", "merged")
    assert only(found, "log.merged").why.endswith("the first of them: A2 to A3, C4 to D5.")


def test_merged_cells_reach_below_the_last_filled_row(tmp_path: Path) -> None:
    rows = [HEADINGS, ["007", "x", "left", 12], ["008", "y", "right", 5]]
    sheet, _ = read(book(tmp_path, rows, lambda sheet: sheet.merge_cells("D3:F9")))
    assert texts(sheet) == [["007", "x", "left", "12"], ["008", "y", "right", "5"]]
