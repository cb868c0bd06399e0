"""Laws of reading: what was written is what is read."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from registry.intake.log_cells import Reading
from registry.intake.log_raw import filled
from registry.intake.log_reader import read_log_file
from registry.intake.log_shown import shown
from registry.validation.findings import FindingList
from tests.intake.logs.reading.files import texts

HEADINGS = ["Head A", "Head B", "Head C"]
# Every letter that UTF-8 can write; with the signs that quoting is about far commoner than by chance.
LETTERS = st.characters(exclude_categories=["Cs"]) | st.sampled_from("\",;\t|\r\n'= 0")
TABLES = st.lists(st.lists(st.text(LETTERS, max_size=8), min_size=3, max_size=3), max_size=6)
QUOTING = st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL, csv.QUOTE_NONNUMERIC])
DELIMITERS = st.sampled_from(",;\t|")
ENDS = st.sampled_from(["\n", "\r\n", "\r"])


def written(rows: list[list[str]], delimiter: str, quoting: int, end: str) -> str:
    out = io.StringIO(newline="")
    if any(sign in text for row in rows for text in row for sign in "\r\n"):
        quoting = csv.QUOTE_ALL  # the library's writer leaves line ends without quotes that are not its own
    csv.writer(out, delimiter=delimiter, quoting=quoting, lineterminator=end).writerows(rows)
    return out.getvalue()


def cases(rows: list[list[str]]) -> list[list[str]]:
    """The rows that are neither blank nor the headings again."""
    folded = [heading.casefold() for heading in HEADINGS]
    return [row for row in rows if any(t.strip() for t in row) and [t.strip().casefold() for t in row] != folded]


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rows=TABLES, delimiter=DELIMITERS, quoting=QUOTING, end=ENDS, bom=st.booleans(), told=st.booleans())
def test_any_table_written_as_csv_is_read_as_it_was(
    rows: list[list[str]], delimiter: str, quoting: int, end: str, bom: bool, told: bool, tmp_path: Path
) -> None:
    path = tmp_path / "log.csv"
    text = written([HEADINGS, *rows], delimiter, quoting, end)
    path.write_bytes(text.encode("utf-8-sig" if bom else "utf-8"))
    reading = Reading(delimiter=delimiter if told else "", headings_in_rows=(1,))
    findings = FindingList("log.csv")
    [sheet] = read_log_file(path, reading, findings).sheets
    assert sheet.headings == HEADINGS
    assert texts(sheet) == cases(rows)
    assert findings.errors == 0
    lines = re.split("\r\n|\r|\n", text)
    for number, row in zip(sheet.numbers, texts(sheet), strict=True):
        start = re.split("[\r\n]", row[0].replace('"', '""'))[0]
        assert lines[number - 1].lstrip('"').startswith(start.lstrip('"'))


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    rows=st.lists(
        st.lists(
            st.text(st.characters(min_codepoint=32, exclude_categories=["Cs", "Cc", "Cn", "Co"]), max_size=8),
            min_size=3,
            max_size=3,
        ),
        max_size=6,
    )
)
def test_any_table_of_texts_written_as_a_workbook_is_read_as_it_was(rows: list[list[str]], tmp_path: Path) -> None:
    workbook = openpyxl.Workbook()
    for number, row in enumerate([HEADINGS, *rows], start=1):
        for at, text in enumerate(row, start=1):
            cell = workbook.worksheets[0].cell(number, at)
            cell.value = "x"
            cell._value, cell.data_type = text.replace("_x", "x"), "s"
    workbook.save(tmp_path / "log.xlsx")
    [sheet] = read_log_file(tmp_path / "log.xlsx", Reading(headings_in_rows=(1,)), FindingList("log.xlsx")).sheets
    # The library writes a text of blanks alone without the mark that keeps it, so that the file itself says nothing.
    typed = [[text.replace("_x", "x") if text.strip() else "" for text in row] for row in rows]
    assert [[text if text.strip() else "" for text in row] for row in texts(sheet)] == cases(typed)
    assert all(filled(cell) == bool(cell.text.strip()) for row in sheet.rows for cell in row)


@given(st.floats(-1e300, 1e300))
def test_a_number_is_shown_with_15_significant_digits_and_no_more(number: float) -> None:
    assert float(shown(number)) == pytest.approx(number, rel=1e-14)
    digits = shown(number).partition("e")[0].replace(".", "").replace("-", "").strip("0")
    assert len(digits) <= 15


@given(st.integers(-(10**14), 10**14), st.integers(0, 6))
def test_a_decimal_number_as_typed_is_shown_as_typed(units: int, places: int) -> None:
    typed = f"{units / 10**places:.{places}f}"
    if len(typed.strip("-").replace(".", "").lstrip("0")) <= 15:
        plain = typed.rstrip("0").rstrip(".") if "." in typed else typed
        assert shown(float(typed)) == ("0" if float(typed) == 0 else plain)
