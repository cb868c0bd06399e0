"""The headings of a log's columns, and what is odd about them."""

from __future__ import annotations

from registry.intake.log_heading_rows import folded, merged_across
from registry.intake.log_raw import RawSheet, filled, filled_in
from registry.intake.log_remarks import Remarks
from registry.schema.xlsx_parts import letters

JOINED_BY = " / "


def join_headings(raw: RawSheet, rows: list[int]) -> list[str]:
    """One heading a column, up to the last column that has one.

    A heading that stands over several columns, because its cells are merged or because the cells beside it are blank
    while the row below goes on, counts for each of them.

    Args:
        raw: the sheet.
        rows: the positions of its heading rows, downwards.
    """
    lines = [_line(raw, rows, nth) for nth in range(len(rows))]
    width = max(len(line) for line in lines)
    columns = [[line[at] if at < len(line) else "" for line in lines] for at in range(width)]
    joined = [JOINED_BY.join(part for part in parts if part) for parts in columns]
    while joined and not joined[-1]:
        joined.pop()
    return joined


def check_headings(headings: list[str], filled_columns: set[int], number: int, remarks: Remarks) -> None:
    """Say which columns have the same heading, and which have cells but no heading.

    Args:
        headings: one a column.
        filled_columns: the columns that hold cells, from 0.
        number: the row of the headings.
        remarks: takes what is said.
    """
    columns: dict[str, list[int]] = {}
    for at, heading in enumerate(headings):
        if heading:
            columns.setdefault(folded(heading), []).append(at)
    for same in columns.values():
        if len(same) > 1:
            names = ", ".join(map(letters, same))
            why = f"'{headings[same[0]]}' heads {len(same)} columns: {names}."
            remarks.note("heading_twice", why, "each named by its letter in the mapping", row=number, at=same[0])
    for at, heading in enumerate(headings):
        if not heading and at in filled_columns:
            why = f"Column {letters(at)} holds cells but has no heading."
            right = f'letter = "{letters(at)}" in the mapping, or a heading'
            remarks.note("heading_missing", why, right, row=number, at=at)


def _line(raw: RawSheet, rows: list[int], nth: int) -> list[str]:
    """The words of one heading row, spread over the columns that they stand over."""
    row = raw.rows[rows[nth]]
    number = raw.numbers[rows[nth]]
    words = [" ".join(cell.text.split()) for cell in row]
    if merged_across(raw, rows[nth]):
        for merge in raw.merges:
            if merge.top == number:
                words.extend([""] * (merge.right + 1 - len(words)))
                words[merge.left : merge.right + 1] = [words[merge.left]] * (merge.right + 1 - merge.left)
    elif nth + 1 < len(rows):
        _spread(words, set(filled_in(raw.rows[rows[nth + 1]])))
    return words


def _spread(words: list[str], below: set[int]) -> None:
    """Spread words that have headings below over the blanks at their right that have headings below, too."""
    words.extend([""] * (max(below, default=0) + 1 - len(words)))
    for at in range(1, len(words)):
        if not words[at] and at in below and at - 1 in below:
            words[at] = words[at - 1]


def repeats_headings(raw: RawSheet, rows: list[int], at: int) -> bool:
    """Whether a row says again what a heading row says, wherever it is filled."""
    row = raw.rows[at]
    columns = filled_in(row)
    for heading in rows:
        words = raw.rows[heading]
        if all(c < len(words) and folded(words[c].text) == folded(row[c].text) for c in columns):
            return len(columns) > 1 or sum(map(filled, words)) == 1
    return False
