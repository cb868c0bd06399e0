"""Small TOML files that a unit writes, read with one sentence for whatever is wrong."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from registry.schema.errors import GravelbookError


def read_toml(path: Path, what: str) -> dict[str, Any]:
    """What a TOML file holds. what: its kind in words, `grade table`. Raises GravelbookError when it cannot be read."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except UnicodeDecodeError:
        raise GravelbookError(f"The {what} in {path} cannot be read: it is no text in UTF-8.") from None
    except OSError as error:
        why = (error.strerror or "unknown reason").lower()
        raise GravelbookError(f"The {what} in {path} cannot be read: {why}.") from None
    except tomllib.TOMLDecodeError as error:
        raise GravelbookError(f"The {what} in {path} is not TOML: {error}.") from None


def rows_of(held: dict[str, Any], path: Path, what: str, heading: str) -> tuple[str, str, list[dict[str, Any]]]:
    """Name, source and rows of a file that has these three and nothing else.

    heading: of each row, [[heading]]. Raises GravelbookError for another key, or a value of the wrong kind.
    """
    strange = sorted(set(held) - {"name", "source", heading})
    if strange:
        raise GravelbookError(
            f"{path}: {strange[0]!r} means nothing in a {what}. Allowed are name, source and any number of "
            f"[[{heading}]]."
        )
    name, source, rows = held.get("name", path.stem), held.get("source", "the unit's own"), held.get(heading, [])
    if not isinstance(name, str) or not isinstance(source, str):
        raise GravelbookError(f"{path}: name and source have to be text in quotation marks.")
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise GravelbookError(f"{path}: each {heading} is a table of its own, headed [[{heading}]].")
    if not rows:
        raise GravelbookError(f"{path} has no [[{heading}]], so it says nothing; write one for each {heading}.")
    return name, source, rows


def whole_or_none(row: dict[str, Any], key: str, where: str, least: int) -> None:
    """Raises GravelbookError unless the value, if there is one, is a whole number of at least `least`."""
    value = row.get(key)
    if key in row and (isinstance(value, bool) or not isinstance(value, int) or value < least):
        raise GravelbookError(f"{where}: {key} has to be a whole number of {least} or more, not {value!r}.")


def number_or_none(row: dict[str, Any], key: str, where: str, low: float, high: float) -> None:
    """Raises GravelbookError unless the value, if there is one, is a number from low to high."""
    value = row.get(key)
    fits = isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high
    if key in row and not fits:
        limits = f"from {low:g} to {high:g}" if high < float("inf") else f"of {low:g} or more"
        raise GravelbookError(f"{where}: {key} has to be a number {limits}, not {value!r}.")


def texts(row: dict[str, Any], keys: Iterable[str], where: str) -> None:
    """Raises GravelbookError unless these values, where they are, are text."""
    for key in keys:
        if key in row and not isinstance(row[key], str):
            raise GravelbookError(f"{where}: {key} has to be text in quotation marks, not {row[key]!r}.")
