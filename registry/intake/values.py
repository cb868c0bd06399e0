"""One cell to one stored value, by the field's declaration."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cache
from typing import Any

from registry.intake.dates import NotReadError, day_of, read_day, read_moment
from registry.intake.numbers_typed import read_number
from registry.intake.wordings import control_character, read_text, reason_in
from registry.schema.codes import CodeList
from registry.schema.fields import Code, Day, FieldInfo, Moment, Note, Number, Secret, Text, Whole
from registry.schema.sentences import shown
from registry.schema.udi import GS
from registry.validation.field_rules import broken, rule_id
from registry.validation.field_words import kind_words, within_sentence
from registry.validation.findings import Problem, Severity, shortened

Cell = str | int | float | bool | date | datetime | time | timedelta | None
# A spreadsheet keeps 15 digits of a number; a longer number has already lost some.
_LONGEST_EXACT = 1e15


@dataclass(frozen=True, slots=True)
class Parsed:
    """What a cell says: a stored value, or the reason why it is missing, or what is wrong with it.

    ``precision`` is ``month`` or ``year`` for a date that is not known to the day; ``typed`` is the wording of a
    value that was typed in another unit. A moment without a zone is still as the clock on the wall showed it.
    """

    value: Any = None
    precision: str | None = None
    reason: str | None = None
    typed: str | None = None
    problems: tuple[Problem, ...] = ()

    @property
    def failed(self) -> bool:
        """The cell is not blank and gave no value."""
        return any(problem.severity is Severity.ERROR for problem in self.problems)


BLANK = Parsed()


def parse(info: FieldInfo, raw: Cell, today: date | None = None) -> Parsed:
    """Read one cell.

    Args:
        info: the declaration of the field that the cell belongs to.
        raw: what the reader found: text, a number, a truth value, a date, a date with a time, or nothing.
        today: the last day that may be recorded as past; today by default.

    Returns:
        The value as it is stored, with every problem that it has.
    """
    if raw is None or (isinstance(raw, str) and not raw.strip()):
        return BLANK
    if isinstance(raw, str):
        reason = reason_in(raw, marked_only=_is_own_code(info, raw))
        if reason is not None:
            return _missing(info, reason)
    try:
        parsed = _READERS[type(info.kind)](info, raw)
    except NotReadError as failed:
        problem = Problem(rule_id(info, failed.rule), Severity.ERROR, failed.why, failed.right)
        return Parsed(problems=(problem,))
    notes = _note_of_conversion(info, raw, parsed)
    found = (*broken(info, parsed.value, today), *notes) if not isinstance(info.kind, Moment) else notes
    if not found:
        return parsed
    return Parsed(parsed.value, parsed.precision, parsed.reason, parsed.typed, found)


def _is_own_code(info: FieldInfo, raw: str) -> bool:
    return isinstance(info.kind, Code) and raw.strip().casefold() in spellings(info.kind.list)


def _missing(info: FieldInfo, reason: str) -> Parsed:
    if not info.required:
        return Parsed(reason=reason)
    problem = Problem(
        rule_id(info, "required"),
        Severity.ERROR,
        f"{info.label} cannot be missing, whatever the reason.",
        f"{kind_words(info)}",
    )
    return Parsed(problems=(problem,))


def _note_of_conversion(info: FieldInfo, raw: Cell, parsed: Parsed) -> tuple[Problem, ...]:
    if parsed.typed is None:
        return ()
    why = f"'{parsed.typed}' was read as {shown(info, parsed.value)}; the wording is kept beside it."
    return (Problem(rule_id(info, "converted"), Severity.NOTE, why),)


def _refuse(info: FieldInfo, raw: Cell) -> NotReadError:
    if isinstance(raw, bool):
        found = "a truth value"
    elif isinstance(raw, datetime | date):
        found = "a date (a spreadsheet may have made it one)"
    elif isinstance(raw, time | timedelta):
        found = "a time of day or a duration"
    else:
        found = "a number"
    return NotReadError(f"The cell holds {found}.", f"{kind_words(info)}")


def _number(info: FieldInfo, raw: Cell) -> Parsed:
    if isinstance(raw, bool) or not isinstance(raw, str | int | float):
        raise _refuse(info, raw)
    value, typed = read_number(info, raw)
    return Parsed(value, typed=typed)


def _code(info: FieldInfo, raw: Cell) -> Parsed:
    codes: type[CodeList] = info.kind.list  # type: ignore[union-attr]
    known = spellings(codes)
    if isinstance(raw, bool):
        raw = "yes" if raw else "no"
    elif isinstance(raw, float) and raw.is_integer():
        raw = str(int(raw))
    typed = " ".join(str(raw).replace("\u00a0", " ").split())
    code = known.get(typed.casefold())
    if code is not None:
        return Parsed(code)
    meant = _meant(typed.casefold(), known)
    listed = ", ".join(codes.codes())
    raise NotReadError(
        f"'{shortened(typed)}' is not on the list of {within_sentence(info.label)}.",
        f"{meant}one of: {listed}",
        "listed",
    )


def _meant(typed: str, known: dict[str, str]) -> str:
    """The one code that begins as typed (``f`` for female), else the one spelled most alike."""
    begun = {code for spelling, code in known.items() if spelling.startswith(typed)}
    near = difflib.get_close_matches(typed, known, n=1, cutoff=0.6)
    code = begun.pop() if len(begun) == 1 else known[near[0]] if near else None
    return f"perhaps {code}; " if code is not None else ""


@cache
def spellings(codes: type[CodeList]) -> dict[str, str]:
    """Every way to type a code of a list, folded: the code itself and its label. Codes go before labels."""
    labels = {member.label.casefold(): member.value for member in codes}
    spaced = {member.value.replace("_", " ").casefold(): member.value for member in codes}
    return labels | spaced | {member.value.casefold(): member.value for member in codes}


def _day(info: FieldInfo, raw: Cell) -> Parsed:
    imprecise = isinstance(info.kind, Day) and info.kind.imprecise
    if isinstance(raw, datetime):
        found, precision = day_of(raw), "day"
    elif isinstance(raw, date):
        found, precision = raw, "day"
    elif isinstance(raw, str):
        found, precision = read_day(raw, imprecise=imprecise)
    elif isinstance(raw, int | float) and not isinstance(raw, bool) and float(raw).is_integer():
        if not 1000 <= raw <= 2999:
            right = "a date cell, or text with the year first, as 2024-05-03"
            raise NotReadError(f"The cell holds the number {raw:g}, not a date; its format may have been lost.", right)
        found, precision = read_day(str(int(raw)), imprecise=imprecise)
    else:
        raise _refuse(info, raw)
    # A precision is kept only where it is less than the day: a plain date says by itself that it is one.
    return Parsed(found, None if precision == "day" else precision)


def _moment(info: FieldInfo, raw: Cell) -> Parsed:
    if isinstance(raw, datetime):
        return Parsed(raw)
    if isinstance(raw, str):
        return Parsed(read_moment(raw))
    if isinstance(raw, date):
        raise NotReadError(f"{raw} has no time of day.", f"{kind_words(info)}")
    raise _refuse(info, raw)


def _text(info: FieldInfo, raw: Cell) -> Parsed:
    if isinstance(raw, str):
        text = read_text(raw)
    elif isinstance(raw, int | float) and not isinstance(raw, bool):
        if abs(raw) >= _LONGEST_EXACT:
            why = "The cell holds a number of more digits than a spreadsheet keeps; the last ones are lost."
            raise NotReadError(why, "the digits typed anew in a cell that is formatted as text")
        text = str(int(raw)) if float(raw).is_integer() else repr(raw)
    else:
        raise _refuse(info, raw)
    if info.name == "udi":  # its separator, which no workbook can hold, is kept as the sign for it
        text = text.replace(GS, "␝")
    odd = control_character(text, one_line=isinstance(info.kind, Text))
    if odd is not None:
        what = "a line break" if odd == "U+000A" else f"the control character {odd}"
        raise NotReadError(f"The text holds {what}.", "the text in one line, without it")
    return Parsed(text)


def _secret(info: FieldInfo, raw: Cell) -> Parsed:
    if not info.name.endswith("_date"):
        return _text(info, raw)
    # A birth date is kept as text, because it is encrypted; it is still a date, and typed as one.
    try:
        parsed = _day(info, raw)
    except NotReadError:  # its sentence repeats the date, which may name a person
        why = "The date cannot be read: the year is not first, the day is not in the calendar or not said, or more is."
        raise NotReadError(why, "a date cell, or text with the year first, as 2024-05-03") from None
    if parsed.value > date.today():
        raise NotReadError("The date lies after today.", "a date as 2024-05-03", "not_ahead")
    return Parsed(parsed.value.isoformat())


_READERS: dict[type, Callable[[FieldInfo, Cell], Parsed]] = {
    Whole: _number,
    Number: _number,
    Code: _code,
    Day: _day,
    Moment: _moment,
    Text: _text,
    Note: _text,
    Secret: _secret,
}
