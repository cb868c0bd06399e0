"""What stands between the cells of a CSV file, told from its rows."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from itertools import islice

from registry.intake.log_remarks import Remarks
from registry.schema.errors import GravelbookError

NAMES = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright strokes"}
_ROWS = 300
_LETTERS = 2_000_000
_FAR_MORE = 2  # twice as many columns decide between two delimiters that both fit
_DECLARED_ABOVE = re.compile(r"sep=(.)\r?\n?", re.IGNORECASE)  # a line that spreadsheets put first and do not show


def delimiter_of(text: str, declared: str, remarks: Remarks) -> str:
    """The delimiter of a file.

    The right one cuts (nearly) all rows into equally many cells. Where several do, the one that makes far more cells
    is right; else it is a question.

    Args:
        text: what the file says.
        declared: as the mapping says; blank to tell it from the file.
        remarks: takes the question.

    Raises:
        GravelbookError: what was declared is not one character.
    """
    if declared:
        if len(declared) != 1 or declared in '"\r\n':
            raise GravelbookError(
                f"The mapping gives '{declared}' as the delimiter of {remarks.file}. It is one character, such as "
                '"," or ";" or "\\t" (a tab).'
            )
        return declared
    above = _DECLARED_ABOVE.fullmatch(text[:8].splitlines(keepends=True)[0]) if text else None
    if above:
        return above[1]
    fits = sorted(((*_fit(text, mark), mark) for mark in NAMES if mark in text[:_LETTERS]), reverse=True)
    fits = [fit for fit in fits if fit[1] > 1]
    if not fits:
        remarks.question(
            "delimiter",
            "The file was read as one column: none of comma, semicolon, tab and upright stroke cuts its rows.",
            "delimiter under [reading], if another sign stands between the cells",
        )
        return ","
    share, cells, best = fits[0]
    for other_share, other_cells, other in fits[1:]:
        if other_share >= share and cells < _FAR_MORE * other_cells:
            remarks.question(
                "delimiter",
                f"Both {NAMES[best]} ({cells} cells a row) and {NAMES[other]} ({other_cells} cells a row) could stand "
                f"between the cells; the file was read with {NAMES[best]}.",
                "delimiter under [reading]",
            )
    return best


def without_declaration(text: str) -> tuple[str, int]:
    """The text without a first line that only names the delimiter, and how many lines were taken off."""
    first = text.split("\n", 1)[0] + "\n"
    if len(first) <= len("sep=,\r\n") and _DECLARED_ABOVE.fullmatch(first):
        return text[len(first) :], 1
    return text, 0


def _fit(text: str, mark: str) -> tuple[float, int]:
    """How large a share of the rows is cut into the commonest number of cells, and that number."""
    counts: Counter[int] = Counter()
    try:
        for record in islice(csv.reader(io.StringIO(text[:_LETTERS], newline=""), delimiter=mark), _ROWS):
            if any(record):
                counts[len(record)] += 1
    except csv.Error:
        return 0.0, 0
    # Titles and one-cell rows are left out where there are rows of several cells to speak of.
    several = {cells: times for cells, times in counts.items() if cells > 1}
    if not several:
        return 0.0, 1
    cells = max(several, key=lambda n: (several[n], n))
    return several[cells] / sum(counts.values()), cells
