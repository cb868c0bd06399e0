"""The columns that a workbook of rejected rows has beside the file's own; reading passes over them by name."""

from __future__ import annotations

import re
from pathlib import Path

from registry.intake.log_cells import LogSheet

WHY_NOT_LOADED = "why not loaded"
ROW_IN_FILE = "row in the file"
_JOINED_BY = " / "  # under a heading row that stands over several columns, a log's headings are joined
_NO_TITLE = re.compile(r"[\[\]:*?/\\']")
_LONGEST_TITLE = 31
ADDED_HEADINGS = frozenset({WHY_NOT_LOADED, ROW_IN_FILE})


def is_added(heading: str) -> bool:
    """Whether a column was added to the file when its rows were rejected: it holds no value of a case.

    Args:
        heading: the heading as it stands in the file.
    """
    return " ".join(heading.rsplit(_JOINED_BY, 1)[-1].casefold().split()) in ADDED_HEADINGS


def sheet_title(file: Path) -> str:
    """A file's name as the title of a sheet, which may not be long nor hold every character."""
    return _NO_TITLE.sub("_", file.stem)[:_LONGEST_TITLE] or "log"


def without_added(sheet: LogSheet) -> LogSheet:
    """A sheet of a log without the columns that were added when its rows were rejected.

    Args:
        sheet: the sheet as it was read; the columns are taken out of it.
    """
    keep = [at for at, heading in enumerate(sheet.headings) if not is_added(heading)]
    if len(keep) < len(sheet.headings):
        sheet.headings = [sheet.headings[at] for at in keep]
        sheet.columns = [sheet.columns[at] for at in keep]
        sheet.rows = [[row[at] for at in keep] for row in sheet.rows]
    return sheet
