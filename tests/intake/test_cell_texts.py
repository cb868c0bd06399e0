"""Text goes into a workbook and comes out letter by letter."""

from __future__ import annotations

import io

import python_calamine
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.intake.cell_texts import cell_text
from registry.intake.wordings import read_text, typed_text
from registry.schema.xlsx_parts import write_sheets

CHARACTERS = st.characters(exclude_categories=["Cs"], exclude_characters="\x00")
TEXTS = st.lists(
    st.one_of(st.text(CHARACTERS, max_size=20), st.from_regex(r"_x[0-9A-F]{4}_.?", fullmatch=True)), max_size=30
)


@settings(max_examples=40, deadline=None)
@given(TEXTS)
def test_every_text_survives_a_workbook(texts: list[str]) -> None:
    made = io.BytesIO()
    write_sheets(made, [("texts", [[cell_text(typed_text(text)), "end"] for text in texts])])
    made.seek(0)
    read = python_calamine.CalamineWorkbook.from_filelike(made).get_sheet_by_index(0).to_python(skip_empty_area=False)
    assert [read_text(str(row[0])) for row in read[: len(texts)]] == texts
