"""From a mapping file to a :class:`Mapping`. Every mistake in it is said at once."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from registry.intake.log_cells import Reading
from registry.intake.log_mapping import Constant, Extract, Ignored, Mapping, folded
from registry.intake.log_mapping_check import check_mapping
from registry.intake.log_mapping_columns import read_columns
from registry.intake.log_mapping_entry import Entry
from registry.schema.errors import GravelbookError

KINDS = ("log", "extract", "theatre_list")
FINDS = ("operation_before", "operation_after", "operation_on", "patient")
_TOP = ("name", "site", "kind", "reading", "values", "column", "constant", "ignore", "extract", "theatre_list")
_READING = (
    *("sheets", "headings_in_rows", "delimiter", "encoding", "decimal", "dates", "century_from", "missing"),
    *("totals", "stop_at"),
)
_CONSTANT = ("to", "value", "group", "side", "when", "each", "same_as")


def read_mapping(path: Path) -> Mapping:
    """Read a mapping file.

    Args:
        path: the TOML file.

    Raises:
        GravelbookError: it cannot be opened, is no TOML, or says something that cannot be; every mistake is named.
    """
    mistakes: list[str] = []
    mapping = parse_mapping(path.name, _toml(path), mistakes)
    if not mistakes:
        check_mapping(mapping, mistakes)
    if mistakes:
        said = "\n".join(f"- {mistake}" for mistake in dict.fromkeys(mistakes))
        many = f"{len(set(mistakes))} mistakes" if len(set(mistakes)) > 1 else "a mistake"
        raise GravelbookError(f"The mapping {path} has {many}. Mend the file and try again.\n{said}")
    return mapping


def parse_mapping(file: str, table: dict[str, Any], mistakes: list[str]) -> Mapping:
    """Turn the tables of a mapping file into a mapping; what is wrong goes to ``mistakes``."""
    top = Entry("the mapping", table, mistakes)
    top.only(_TOP)
    reading = Entry("[reading]", table.get("reading", {}), mistakes)
    reading.only(_READING)
    extract = Entry("[extract]", table.get("extract", {}), mistakes)
    extract.only(("finds", "within_days", "fills"))
    days = extract.number("within_days")
    columns = read_columns(table, reading, mistakes)
    ignored = tuple(_ignored(entry) for _, entry in _listed(table, "ignore", mistakes))
    return Mapping(
        file=file,
        name=top.text("name", needed=True).strip(),
        kind=top.choice("kind", KINDS, "log"),
        site=top.text("site").strip(),
        reading=Reading(
            sheets=reading.texts("sheets"),
            headings_in_rows=reading.wholes("headings_in_rows"),
            delimiter=reading.text("delimiter"),
            encoding=reading.text("encoding"),
            totals=reading.texts("totals"),
            stop_at=reading.text("stop_at"),
            unread=frozenset(name for one in ignored for name in (one.heading, one.letter) if name),
        ),
        columns=columns,
        constants=tuple(c for number, one in _listed(table, "constant", mistakes) for c in _constants(number, one)),
        ignored=ignored,
        extract=Extract(
            extract.choice("finds", FINDS, "operation_before"),
            None if days is None else int(days),
            extract.flag("fills"),
        ),
        more={key: table[key] for key in ("theatre_list",) if key in table},
    )


def _toml(path: Path) -> dict[str, Any]:
    try:
        content = path.read_bytes()
    except OSError as fault:
        raise GravelbookError(f"The mapping {path} cannot be opened: {fault.strerror}. Check its name.") from None
    try:
        return tomllib.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise GravelbookError(f"The mapping {path} is not in UTF-8. Save it again as UTF-8 text.") from None
    except tomllib.TOMLDecodeError as fault:
        raise GravelbookError(f"The mapping {path} is not TOML: {fault}. Mend that line.") from None


def _listed(table: dict[str, Any], key: str, mistakes: list[str]) -> list[tuple[int, Entry]]:
    entries = table.get(key, [])
    if not isinstance(entries, list):
        mistakes.append(f"{key}: written as [[{key}]], in double brackets, once for each")
        return []
    return [(n, Entry(f"[[{key}]] {n}", one, mistakes)) for n, one in enumerate(entries, start=1)]


def _ignored(entry: Entry) -> Ignored:
    entry.only(("heading", "letter"))
    if ("heading" in entry) == ("letter" in entry):
        entry.mistakes.append(f"{entry.name}: needs a heading or a letter, one of the two")
    return Ignored(entry.name, folded(entry.text("heading")), entry.text("letter").strip().upper())


def _constants(number: int, entry: Entry) -> list[Constant]:
    entry.only(_CONSTANT)
    text = entry.text("to", needed=True)
    entry.name = f"[[constant]] {number} ({text})"
    target = entry.target("to", text) if text else None
    same = entry.text("same_as")
    source = entry.target("same_as", same) if same else None
    value = entry.text("value", needed=not same)
    side = entry.choice("side", ("", "left", "right"), "")
    group = entry.text("group") if "group" in entry else None
    when = entry.text("when")
    each = entry.wholes("each")
    if target is None:
        return []
    found = []
    for n in each or (None,):
        own = group if n is None else (group or "{n}").replace("{n}", str(n))
        filled = when.replace("{n}", own or "")
        found.append(Constant(entry.name, target, value, own, side, folded(filled), source))
    return found
