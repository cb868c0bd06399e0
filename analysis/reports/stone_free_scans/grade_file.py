"""A unit's own grades of what is left on CT, from a small TOML file, the best grade first.

    name = "several small ones allowed"
    source = "our protocol of 2024"

    [[grade]]
    code = "A"
    label = "no fragment"
    count_to = 0

    [[grade]]
    code = "B"
    label = "any number of 2 mm or less"
    size_to_mm = 2

    [[grade]]
    code = "C"
    label = "anything larger"

A kidney has the first grade whose limits it keeps; the last grade has none.
"""

from __future__ import annotations

import math
from pathlib import Path

from analysis.outcomes.ct_grades import SERIES, GradeTable, grade_table_from_data
from analysis.outcomes.thresholds import DefinitionError
from analysis.reports.stone_free_scans.definition_file import number_or_none, read_toml, rows_of, texts, whole_or_none
from registry.schema.errors import GravelbookError


def grade_table(path: Path | None) -> GradeTable:
    """The grades in a file, or those of the series when none is named.

    Raises GravelbookError, with file and grade, for a file that cannot be used.
    """
    if path is None:
        return SERIES
    name, source, rows = rows_of(read_toml(path, "grade table"), path, "grade table", "grade")
    for number, row in enumerate(rows, start=1):
        where = f"{path}, grade {number}"
        texts(row, ("code", "label"), where)
        whole_or_none(row, "count_to", where, 0)
        number_or_none(row, "size_to_mm", where, 0, math.inf)
    try:
        return grade_table_from_data(name, rows, source)
    except DefinitionError as error:
        raise GravelbookError(f"{path}: {error}") from None
