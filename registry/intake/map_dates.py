"""Which forms of a date fit a column: one form is sure, several are a person's to choose from."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime

from registry.intake.map_profile import Profile

_PARTS = re.compile(
    r"(\d{1,4}|[A-Za-z]{3,9})([./\-] ?|,? )(\d{1,2}|[A-Za-z]{3,9})([./\-] ?|,? )(\d{4}|\d{1,2})"
    r"(?:[ T](\d{1,2}:\d{2})(?::\d{2})?)?"
)
_RUN = re.compile(r"\d{8}")
_MONTHS = (
    *("january", "february", "march", "april", "may", "june", "july"),
    *("august", "september", "october", "november", "december"),
)
_ORDERS = {"dmy": (0, 1, 2), "mdy": (1, 0, 2), "ymd": (2, 1, 0)}  # places of day, month, year
_SERIAL = (20000, 60000)  # 1954 to 2064 in the days that spreadsheets count
_MOST_ODD = 0.1


@dataclass
class DatesFound:
    """How a column reads as dates.

    Attributes:
        share: the share of the filled cells that are dates in some form.
        forms: the forms that are needed, each fitting its cells alone.
        either: forms of which a person has to choose, where several fit.
        days: the day of each row that could be read without doubt, by place.
        cells: how many are real date cells.
        serials: the places of numbers that look like a spreadsheet's count of days.
        odd: the places of cells that fit none of the forms.
        timed: the cells hold a time of day as well.
        short_years: the years have two digits.
    """

    share: float = 0.0
    forms: list[str] = field(default_factory=list)
    either: list[str] = field(default_factory=list)
    days: dict[int, date] = field(default_factory=dict)
    cells: int = 0
    serials: list[int] = field(default_factory=list)
    odd: list[int] = field(default_factory=list)
    timed: bool = False
    short_years: bool = False


def read_dates(made: Profile, today: date) -> DatesFound:
    """Find the forms that a column's dates have.

    Args:
        made: the column.
        today: the last day on which something can have happened, for years of two digits.
    """
    found = DatesFound()
    groups: dict[tuple[str, ...], list[tuple[int, tuple[str, ...]]]] = defaultdict(list)
    for at in made.filled:
        value = made.cells[at].value
        if isinstance(value, date):
            found.cells += 1
            found.days[at] = value.date() if isinstance(value, datetime) else value
            found.timed |= isinstance(value, datetime) and bool(value.hour or value.minute)
        elif isinstance(value, float | int) and not isinstance(value, bool) and _SERIAL[0] < value < _SERIAL[1]:
            found.serials.append(at)
        else:
            parts = _taken_apart(made.cells[at].text.strip())
            if parts is None:
                found.odd.append(at)
            else:
                groups[_kind(parts)].append((at, parts))
    for kind, members in groups.items():
        _settle(kind, members, found, today)
    if made.filled:
        found.share = 1 - len(found.odd) / len(made.filled)
    return found


def _taken_apart(text: str) -> tuple[str, ...] | None:
    if _RUN.fullmatch(text):
        return text[:4], "", text[4:6], "", text[6:], ""
    whole = _PARTS.fullmatch(text)
    return None if whole is None else tuple(part or "" for part in whole.groups())


def _kind(parts: tuple[str, ...]) -> tuple[str, ...]:
    """Cells of one kind have the same marks between the parts and the year in the same place."""
    words = ["a" if p.isalpha() else "4" if len(p) == 4 else "2" for p in (parts[0], parts[2], parts[4])]
    return (*words, parts[1], parts[3], "t" if parts[5] else "")


def _settle(kind: tuple[str, ...], members: list[tuple[int, tuple[str, ...]]], found: DatesFound, today: date) -> None:
    """Find the one order of day, month and year that fits the cells of one kind, or the several that do."""
    read = {o: {parts: _day(parts, o, today) for parts in {parts for _, parts in members}} for o in _ORDERS}
    fits = {o: {at: day for at, parts in members if (day := read[o][parts])} for o in _ORDERS}
    fits = {order: days for order, days in fits.items() if days}
    if not fits:
        found.odd.extend(at for at, _ in members)
        return
    most = max(len(days) for days in fits.values())
    best = [order for order, days in fits.items() if len(days) == most]
    if most < (1 - _MOST_ODD) * len(members):
        found.odd.extend(at for at, _ in members)
        return
    if len(best) > 1 and any(fits[best[0]] != fits[order] for order in best[1:]):
        found.either.extend(_form(kind, members, order) for order in best)
        return
    days = fits[best[0]]
    found.forms.append(_form(kind, members, best[0]))
    found.days.update(days)
    found.odd.extend(at for at, _ in members if at not in days)
    found.timed |= kind[5] == "t"
    found.short_years |= "yyyy" not in found.forms[-1]


def _day(parts: tuple[str, ...], order: str, today: date) -> date | None:
    pieces = (parts[0], parts[2], parts[4])
    day, month, year = (pieces[place] for place in _ORDERS[order])
    if not (day.isdigit() and year.isdigit()) or len(day) > 2 or len(year) not in (2, 4):
        return None
    if order == "ymd" and len(year) != 4:
        return None
    if month.isalpha():
        numbers = [n for n, name in enumerate(_MONTHS, start=1) if month.casefold() in (name, name[:3], name[:4])]
        if not numbers:
            return None
        month = str(numbers[0])
    full = int(year) if len(year) == 4 else 2000 + int(year) if 2000 + int(year) <= today.year else 1900 + int(year)
    try:
        return date(full, int(month), int(day))
    except ValueError:
        return None


def _form(kind: tuple[str, ...], members: list[tuple[int, tuple[str, ...]]], order: str) -> str:
    """An order written as the mapping writes it: dd.mm.yyyy, d/m/yy, dd mmm yyyy."""
    pieces = [[parts[place] for _, parts in members] for place in (0, 2, 4)]
    names = dict(zip(_ORDERS[order], "dmy", strict=True))
    words = []
    for place, listed in enumerate(pieces):
        letter = names[place]
        if letter == "y":
            words.append("y" * len(listed[0]))
        elif listed[0].isalpha():
            words.append("mmm" if all(len(p) <= 4 for p in listed) else "mmmm")
        else:
            words.append(letter * (2 if all(len(p) == 2 for p in listed) else 1))
    clock = " hh:mi" if kind[5] else ""
    return f"{words[0]}{kind[3]}{words[1]}{kind[4]}{words[2]}{clock}"
