"""Rules of inclusion and exclusion: a small TOML file, applied in the order of its steps.

    name = "adults, flexible"

    [[include]]
    column = "age_years"
    at_least = 18
    reason = "under 18 years"

    [[exclude]]
    column = "technique"
    among = ["open"]
    reason = "open surgery"

`include` keeps the sides that meet every condition of the step, `exclude` leaves those out. Conditions: at_least,
at_most, above, below (numbers); from, until (dates, inclusive); equals, among, not_among (any column); containing
(columns of joined codes: any of these is one of them). `missing` says what happens to a side without the value:
"exclude" (what include does by itself) or "keep" (what exclude does by itself).
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from analysis.cohort.columns import CohortColumn, column_named, near
from registry.schema.errors import GravelbookError

NUMERIC = ("at_least", "at_most", "above", "below")
DATES = ("from", "until")
LISTS = ("among", "not_among", "containing")
OPERATORS = (*NUMERIC, *DATES, "equals", *LISTS)
KEYS = ("column", "reason", "missing", *OPERATORS)

Verb = Literal["include", "exclude"]


@dataclass(frozen=True)
class Step:
    """One step: its verb, its column, its conditions (operator, value) in the file's order, and the reason."""

    verb: Verb
    column: CohortColumn
    conditions: tuple[tuple[str, Any], ...]
    reason: str
    missing_out: bool

    @property
    def condition(self) -> str:
        """The step in words, for a flow: ``include age_years at_least 18``."""
        said = " and ".join(f"{operator} {_shown(value)}" for operator, value in self.conditions)
        return f"{self.verb} {self.column.name} {said}"


@dataclass(frozen=True)
class Rules:
    """A file of rules, checked against the cohort's columns."""

    name: str
    steps: tuple[Step, ...]
    content_hash: str


_EXAMPLE = (
    'Name a TOML file of steps, such as: [[include]] column = "age_years" at_least = 18 reason = "under 18 years", '
    "each on a line of its own."
)


def read_rules(path: Path | str) -> Rules:
    """Read and check a file of rules.

    Raises:
        GravelbookError: it cannot be read, or a step is wrong; the file, the step, the column and what is allowed
            are named.
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise GravelbookError(f"The rules in {path} cannot be read: it is no text in UTF-8. {_EXAMPLE}") from None
    except OSError as error:
        why = (error.strerror or "unknown reason").lower()
        raise GravelbookError(f"The rules in {path} cannot be read: {why}. {_EXAMPLE}") from None
    return parse_rules(text, where=str(path))


def parse_rules(text: str, *, where: str = "rules") -> Rules:
    """Check the text of a file of rules.

    Args:
        text: TOML.
        where: the file's name, for messages.

    Raises:
        GravelbookError: as `read_rules`.
    """
    try:
        held = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise GravelbookError(f"{where} is not TOML: {error}.") from None
    strange = [key for key in held if key not in ("name", "include", "exclude")]
    if strange:
        raise GravelbookError(
            f"{where}: {strange[0]!r} means nothing in a file of rules. Allowed are name, [[include]] and [[exclude]]."
        )
    name = held.get("name", Path(where).stem)
    if not isinstance(name, str):
        raise GravelbookError(f"{where}: name has to be text, not {name!r}.")
    tables = {verb: _tables(held, verb, where) for verb in ("include", "exclude")}
    taken = {"include": 0, "exclude": 0}
    steps: list[Step] = []
    for verb in _order(text, tables, where):
        steps.append(_step(verb, tables[verb][taken[verb]], f"{where}, step {len(steps) + 1} ({verb})"))
        taken[verb] += 1
    return Rules(name, tuple(steps), hashlib.sha256(text.encode()).hexdigest())


def _tables(held: dict[str, Any], verb: str, where: str) -> list[dict[str, Any]]:
    found = held.get(verb, [])
    if not isinstance(found, list) or not all(isinstance(each, dict) for each in found):
        raise GravelbookError(f"{where}: each {verb} has to be a table of its own, headed [[{verb}]].")
    return found


def _order(text: str, tables: dict[str, list[dict[str, Any]]], where: str) -> list[Verb]:
    """The verbs in the file's order, which a reader of TOML does not tell across two lists."""
    found: list[Any] = re.findall(r"^[ \t]*\[\[[ \t]*(include|exclude)[ \t]*\]\]", text, re.MULTILINE)
    if any(found.count(verb) != len(steps) for verb, steps in tables.items()):
        raise GravelbookError(
            f"{where}: the order of its steps cannot be told. Head each step [[include]] or [[exclude]] on a line of "
            "its own."
        )
    return found


def _step(verb: Verb, table: dict[str, Any], where: str) -> Step:
    strange = [key for key in table if key not in KEYS]
    if strange:
        close = near(strange[0], KEYS)
        hint = f" Did you mean {' or '.join(close)}?" if close else ""
        raise GravelbookError(
            f"{where}: {strange[0]!r} is no condition.{hint} Allowed are column, reason, missing and the conditions "
            f"{', '.join(OPERATORS)}."
        )
    if not isinstance(table.get("column"), str):
        raise GravelbookError(f'{where} has no column. Give the one it looks at, for example column = "age_years".')
    column = column_named(table["column"], where=f"{where}: ")
    reason = table.get("reason")
    if not isinstance(reason, str) or not reason.strip():
        raise GravelbookError(f"{where}, {column.name}: give a reason, the words that the flow shows for those out.")
    conditions = tuple((key, _checked(key, table[key], column, where)) for key in table if key in OPERATORS)
    if not conditions:
        raise GravelbookError(f"{where}, {column.name} has no condition. Allowed are {', '.join(OPERATORS)}.")
    missing = table.get("missing", "exclude" if verb == "include" else "keep")
    if missing not in ("exclude", "keep"):
        raise GravelbookError(f'{where}, {column.name}: missing has to be "exclude" or "keep", not {missing!r}.')
    return Step(verb, column, conditions, reason.strip(), missing == "exclude")


def _checked(operator: str, value: Any, column: CohortColumn, where: str) -> Any:
    place = f"{where}, {column.name}: {operator}"
    holds = f"{column.name} holds {_SPOKEN[column.holds]}. {_fits(column)}"
    if operator in NUMERIC and column.holds not in ("whole", "number", "key"):
        raise GravelbookError(f"{place} compares numbers, and {holds}")
    if operator in DATES and column.holds != "date":
        raise GravelbookError(f"{place} compares dates, and {holds}")
    if operator == "containing" and not column.joined:
        raise GravelbookError(f"{place} is for columns of joined codes, and {column.name} is none. {_fits(column)}")
    if operator in LISTS:
        if not isinstance(value, list) or not value:
            raise GravelbookError(f"{place} needs a list of values in square brackets, not {value!r}.")
        return tuple(_one(each, column, place, part=operator == "containing") for each in value)
    return _one(value, column, place)


def _one(value: Any, column: CohortColumn, place: str, *, part: bool = False) -> Any:
    match column.holds:
        case "whole" | "number" | "key":
            if isinstance(value, bool) or not isinstance(value, int | float):
                raise GravelbookError(f"{place} needs a number{_in_unit(column)}, not {value!r}.")
            return value
        case "date":
            return _date(value, place)
    if not isinstance(value, str):
        raise GravelbookError(f"{place} needs text in quotation marks, not {value!r}.")
    known = value.split("+") if column.joined and not part else [value]
    strange = [code for code in known if column.levels and code not in column.levels]
    if strange:
        raise GravelbookError(f"{place}: {strange[0]!r} is not on its list. Allowed are {', '.join(column.levels)}.")
    ordered = sorted(set(known), key=column.levels.index) if column.levels else known
    return "+".join(ordered)


def _date(value: Any, place: str) -> dt.date:
    if isinstance(value, str):
        try:
            return dt.date.fromisoformat(value)
        except ValueError:
            pass
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return value
    raise GravelbookError(f"{place} needs a date such as 2024-05-31, not {value!r}.")


_SPOKEN = {
    "whole": "whole numbers",
    "number": "numbers",
    "key": "keys",
    "date": "dates",
    "code": "codes",
    "text": "text",
}


def _fits(column: CohortColumn) -> str:
    by_kind = {"date": DATES, "whole": NUMERIC, "number": NUMERIC, "key": NUMERIC}.get(column.holds, ())
    joined = ("containing",) if column.joined else ()
    return f"Use one of {', '.join((*by_kind, 'equals', 'among', 'not_among', *joined))}."


def _in_unit(column: CohortColumn) -> str:
    return f" ({column.unit})" if column.unit else ""


def _shown(value: Any) -> str:
    return ", ".join(str(each) for each in value) if isinstance(value, tuple) else str(value)
