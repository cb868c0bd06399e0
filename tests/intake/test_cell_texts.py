"""Text goes into a workbook and comes out letter by letter."""

from __future__ import annotations

import tempfile
from pathlib import Path

import openpyxl
import python_calamine
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.intake.cell_texts import cell_text, is_formula
from registry.intake.wordings import read_text, typed_text
from registry.intake.workbook_file import save_workbook
from tests.intake.books import put

CHARACTERS = st.characters(exclude_categories=["Cs"], exclude_characters="\x00")
TEXTS = st.lists(
    st.one_of(st.text(CHARACTERS, max_size=20), st.from_regex(r"_x[0-9A-F]{4}_.?", fullmatch=True)), max_size=30
)


@settings(max_examples=40, deadline=None)
@given(TEXTS)
def test_every_text_survives_a_workbook(texts: list[str]) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    for row, text in enumerate(texts, start=1):
        put(sheet.cell(row, 1), cell_text(typed_text(text)))
        put(sheet.cell(row, 2), "end")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "b.xlsx"
        save_workbook(book, path)
        read = python_calamine.CalamineWorkbook.from_path(path).get_sheet_by_index(0).to_python(skip_empty_area=False)
    assert [read_text(str(row[0])) for row in read[: len(texts)]] == texts


def test_what_a_spreadsheet_takes_for_a_formula() -> None:
    assert [text for text in ("=1", "#N/A", "@x", "+1", "-1", "a") if is_formula(text)] == ["=1", "#N/A"]
