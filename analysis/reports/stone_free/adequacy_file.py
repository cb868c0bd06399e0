"""A unit's own adequacy table, from a small TOML file.

    name = "thin slices only"

    [[row]]
    modality = "ct"
    slice_to_mm = 1.5
    from_mm = 0

Each row says from which threshold on a study of that modality can clear a side; `slice_over_mm` and `slice_to_mm`
bound the slices of a CT it holds for (above the first, up to the second).
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from analysis.outcomes.adequacy import TABLES, AdequacyTable, table_from_data
from analysis.outcomes.thresholds import DefinitionError
from analysis.reports.request.faults import MalformedOptionError
from registry.schema.errors import GravelbookError


def adequacy_table(named: str) -> AdequacyTable:
    """The table of this name, or the one in the file of this name.

    Raises MalformedOptionError when there is neither; GravelbookError when the file cannot be used.
    """
    if named in TABLES:
        return TABLES[named]
    path = Path(named)
    if path.is_file():
        return _read(path)
    raise MalformedOptionError(
        f"--adequacy {named!r} is neither a table nor a file. Choose one of {', '.join(TABLES)}, or give the path of a "
        "TOML file with a unit's own table."
    )


def _read(path: Path) -> AdequacyTable:
    try:
        held = tomllib.loads(path.read_text(encoding="utf-8"))
    except UnicodeDecodeError:
        raise GravelbookError(f"The adequacy table in {path} cannot be read: it is no text in UTF-8.") from None
    except OSError as error:
        why = (error.strerror or "unknown reason").lower()
        raise GravelbookError(f"The adequacy table in {path} cannot be read: {why}.") from None
    except tomllib.TOMLDecodeError as error:
        raise GravelbookError(f"The adequacy table in {path} is not TOML: {error}.") from None
    strange = sorted(set(held) - {"name", "row"})
    if strange:
        raise GravelbookError(
            f"{path}: {strange[0]!r} means nothing in an adequacy table. Allowed are name and any number of [[row]]."
        )
    name, rows = held.get("name", path.stem), held.get("row", [])
    if not isinstance(name, str) or not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise GravelbookError(f"{path}: name has to be text, and each row a table of its own, headed [[row]].")
    for number, row in enumerate(rows, start=1):
        _check(row, f"{path}, row {number}")
    try:
        return table_from_data(name, rows)
    except DefinitionError as error:
        raise GravelbookError(f"{path}: {error}") from None


def _check(row: dict[str, Any], where: str) -> None:
    for key, value in row.items():
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        if key == "modality" and not isinstance(value, str):
            raise GravelbookError(f"{where}: modality has to be text in quotation marks, not {value!r}.")
        if key.endswith("_mm") and not is_number:
            raise GravelbookError(f"{where}: {key} has to be a number of millimetres, not {value!r}.")
