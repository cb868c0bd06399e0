"""One cell of a log for one target: marks of missing values, translations, decimal commas, units, forms of dates.

What comes out is a cell as it would be typed in the intake workbook: the field's own reader does the rest, converts
units, looks codes up and keeps the wording of what was typed in another unit.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from registry.intake.dates import NotReadError
from registry.intake.log_cells import LogCell
from registry.intake.log_mapping import ValueForm, folded
from registry.intake.log_mapping_targets import Target
from registry.intake.log_values_dates import read_in_forms, without_midnight
from registry.intake.log_values_numbers import CLOCK_UNITS, FEET_AND_INCHES, clock_cell, feet_cell, number_cell
from registry.intake.values import Cell, spellings
from registry.intake.wordings import reason_in
from registry.schema.fields import Code, Day, Moment, Number, Secret, Whole
from registry.validation.field_rules import rule_id
from registry.validation.findings import Problem, Severity, shortened

NONE_SEEN = "none_seen"
"""The word of a translation that turns a size of a fragment into a reading without any."""
BOTH = "both"
_SIZES = ("fragment.diameter_low_mm", "fragment.diameter_high_mm")


@dataclass(frozen=True, slots=True)
class Translated:
    """What a cell says of one target: a cell for the field's own reader, or None; and what is wrong with it."""

    cell: Cell = None
    problem: Problem | None = None


NOTHING = Translated()


def translate(cell: LogCell, target: Target, form: ValueForm, *, unit: str = "") -> Translated:
    """Read one cell for one target.

    Args:
        cell: the cell, or a part of one that a pattern has taken apart.
        target: where the value goes.
        form: how values are typed in the column.
        unit: what a bare number is in; the column's own by default.
    """
    text = cell.text.strip()
    word = folded(text)
    known = form.translation(target)
    if known is not None and word in known:
        return _meant(known[word])
    if not word:
        return _meant(form.blank)
    if word in form.missing or _plain(cell.value) in form.missing:
        return NOTHING
    try:
        return Translated(_by_kind(cell, text, target, form, unit or form.unit, known))
    except NotReadError as failed:
        problem = Problem(rule_id(target.info, failed.rule), Severity.ERROR, failed.why, failed.right)
        return Translated(None, problem)


def special_words(target: Target) -> tuple[str, ...]:
    """Words that a translation may hold for a target beside what its field takes."""
    if target.text == "renal_unit.unit":
        return (BOTH,)
    return (NONE_SEEN,) if target.text in _SIZES else ()


def _meant(meaning: str) -> Translated:
    return NOTHING if not meaning.strip() else Translated(meaning)


def _plain(value: Cell) -> str:
    """A number as a mark of a missing value is declared: 999, not 999.0."""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return folded(str(value)) if isinstance(value, int | float) else "\0"


def _by_kind(
    cell: LogCell, text: str, target: Target, form: ValueForm, unit: str, known: dict[str, str] | None
) -> Cell:
    kind = target.info.kind
    if reason_in(text, marked_only=isinstance(kind, Code)) is not None:
        return text
    if isinstance(kind, Whole | Number):
        if unit in CLOCK_UNITS:
            return clock_cell(cell, unit)
        if unit == FEET_AND_INCHES:
            return feet_cell(cell)
        return number_cell(cell, text, form.decimal, unit)
    if isinstance(kind, Day | Moment) or (isinstance(kind, Secret) and target.heading.endswith("_date")):
        return _point(cell, text, target, form)
    if isinstance(kind, Code):
        return _code(cell, text, target, known)
    return text if isinstance(cell.value, str) or _shows_all(cell, text) else cell.value


def _shows_all(cell: LogCell, text: str) -> bool:
    """A number that is shown with all of its digits, and perhaps with zeros before them."""
    return text.isdigit() and isinstance(cell.value, int | float) and float(text) == float(cell.value)


def _code(cell: LogCell, text: str, target: Target, known: dict[str, str] | None) -> Cell:
    """A code; under a translation only what it lists, and the field's own codes."""
    if isinstance(cell.value, bool):
        text = "yes" if cell.value else "no"
    if target.column.folded or folded(text) in spellings(target.info.kind.list):  # type: ignore[union-attr]
        return text
    if target.text == "renal_unit.unit" and folded(text) == BOTH:
        return BOTH
    if known is None:
        return text  # the field's own reader says what is on its list
    near = difflib.get_close_matches(folded(text), known, n=3, cutoff=0.6)
    meant = f"perhaps {' or '.join(near)}; " if near else ""
    raise NotReadError(
        f"'{shortened(text)}' is not in the translation of {target.text}.",
        f"{meant}a word of the translation, or this word added to it in the mapping",
        "translated",
    )


def _point(cell: LogCell, text: str, target: Target, form: ValueForm) -> Cell:
    value, day = cell.value, not isinstance(target.info.kind, Moment)
    if isinstance(value, datetime):
        clock = any("mi" in one for one in form.dates)
        return value.date() if day and (clock or value.time() == time()) else value
    if isinstance(value, date | time):
        return value
    if isinstance(value, timedelta):
        return (datetime.min + value).time() if timedelta() <= value < timedelta(days=1) else value
    if isinstance(value, int | float):
        return value
    found = read_in_forms(text, form.dates, form.century_from)
    if isinstance(found, str) and day:
        return without_midnight(found)
    if isinstance(found, datetime) and day:
        return found.date()
    if isinstance(found, time) and day:
        raise NotReadError(f"'{shortened(text)}' is a time of day.", "a date", "form")
    return found
