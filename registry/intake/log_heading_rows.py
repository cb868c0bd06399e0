"""Which rows of a sheet are its headings: as declared, or the first row that looks like headings.

Where two rows might be headings, or none looks so, nothing is guessed: the mapping has to say.
"""

from __future__ import annotations

import re
from datetime import date, time, timedelta
from itertools import islice

from registry.intake.log_raw import RawSheet, Row, filled_in
from registry.schema.errors import GravelbookError

_SEARCHED = 50
_WORDS_ABOVE = 0.8  # of the filled cells; a row of a few cells is words alone
_DIFFERENT_AT_LEAST = 0.5
_WIDTH_AT_LEAST = 0.5  # of the fullest row; titles and dates of printing above the headings fill less
_WORD = re.compile(r"\s*[^\W\d_].*|\s*[#(*].*[^\W\d_].*", re.DOTALL)
_DATE = re.compile(r"\s*\d{1,4}[-/. ](\d{1,2}|[A-Za-z]{3,9})[-/. ]\d{2,4}\b.*", re.DOTALL)


class HeadingRowsError(GravelbookError):
    """It cannot be told which rows hold the headings.

    Attributes:
        proposed: the numbers of the rows that may be headings together; empty where none looks so.
    """

    def __init__(self, message: str, proposed: tuple[int, ...] = ()) -> None:
        super().__init__(message)
        self.proposed = proposed


def heading_rows(raw: RawSheet, declared: tuple[int, ...], place: str) -> list[int]:
    """The heading rows of a sheet, by position in ``raw.rows``.

    Args:
        raw: the sheet.
        declared: their numbers as the mapping gives them; empty to tell them from the rows.
        place: the sheet in words.

    Raises:
        HeadingRowsError: no row looks like headings, or two do.
        GravelbookError: a declared row is not there or blank.
    """
    if declared:
        return [_declared(raw, number, place) for number in sorted(declared)]
    searched = list(islice((at for at, row in enumerate(raw.rows) if filled_in(row)), _SEARCHED))
    found = _first_likely(raw, searched)
    if found is None or not looks_like_headings(raw.rows[found]):
        tried = "" if found is None else f" (row {raw.numbers[found]} was tried)"
        raise HeadingRowsError(
            f"No row of {place} looks like headings{tried}. Say in the mapping which row holds them: headings_in_rows "
            "= [1] under [reading]; a log without headings needs a row of them put in first."
        )
    _refuse_two(raw, found, place)
    return [found]


def looks_like_headings(row: Row) -> bool:
    """Whether the filled cells of a row are nearly all words, mostly different ones, and none is a date."""
    cells = [row[at] for at in filled_in(row)]
    if not cells or any(isinstance(c.value, date | time | timedelta) or _DATE.fullmatch(c.text) for c in cells):
        return False
    words = [c.text for c in cells if isinstance(c.value, str) and _WORD.fullmatch(c.text)]
    different = {folded(c.text) for c in cells}
    return len(words) > len(cells) * _WORDS_ABOVE and len(different) >= len(cells) * _DIFFERENT_AT_LEAST


def folded(text: str) -> str:
    """A heading without regard to case, blanks and line breaks."""
    return " ".join(text.split()).casefold()


def merged_across(raw: RawSheet, at: int) -> bool:
    """Whether cells of a row are merged with their neighbours to the right."""
    return any(m.top == raw.numbers[at] and m.right > m.left for m in raw.merges)


def _first_likely(raw: RawSheet, searched: list[int]) -> int | None:
    """The first row that is filled for more than half, or for half and by its words."""
    filled = {at: len(filled_in(raw.rows[at])) for at in searched}
    enough = max(filled.values(), default=0) * _WIDTH_AT_LEAST
    return next(
        (at for at in searched if filled[at] > enough or (filled[at] == enough and looks_like_headings(raw.rows[at]))),
        None,
    )


def _declared(raw: RawSheet, number: int, place: str) -> int:
    try:
        at = raw.numbers.index(number)
    except ValueError:
        at = -1
    if at < 0 or not filled_in(raw.rows[at]):
        what = "is blank" if at >= 0 else "does not start in that place" if not raw.workbook else "is not there"
        raise GravelbookError(
            f"The mapping says that row {number} of {place} holds headings, but that row {what}. Mend headings_in_rows "
            "under [reading]; the row numbers are those that the spreadsheet shows, in a CSV file the lines."
        )
    return at


def _refuse_two(raw: RawSheet, found: int, place: str) -> None:
    """Refuse to choose where the row above or below the headings may be headings too."""
    row = raw.rows[found]
    here = filled_in(row)
    below = raw.rows[found + 1] if found + 1 < len(raw.rows) else []
    more = set(filled_in(below)) - set(here)
    between = any(at < here[-1] for at in more)
    if looks_like_headings(below) and (between or merged_across(raw, found) or _over(row, more)):
        _unclear(raw, [found, found + 1], place)
    above = raw.rows[found - 1] if found else []
    repeats = len({folded(row[at].text) for at in here}) < len(here)
    if repeats and len(filled_in(above)) > 1:
        _unclear(raw, [found - 1, found], place)


def _over(row: Row, more: set[int]) -> bool:
    """Whether the row below goes on beyond the last heading, as under a group that stands over its first column."""
    return len(more) > 1 and min(more) >= len(filled_in(row))


def _unclear(raw: RawSheet, rows: list[int], place: str) -> None:
    first, second = (raw.numbers[at] for at in rows)
    raise HeadingRowsError(
        f"Rows {first} and {second} of {place} may both hold headings. Say in the mapping which do, under [reading]: "
        f'headings_in_rows = [{first}, {second}] joins both by " / ", one number takes that row alone.',
        (first, second),
    )
