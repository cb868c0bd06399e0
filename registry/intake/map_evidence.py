"""What the values of a column say for a field."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from functools import cache, partial
from typing import Any

from registry.intake.map_codes import code_for
from registry.intake.map_dates import DatesFound, read_dates
from registry.intake.map_names import Target
from registry.intake.map_profile import Profile, counts_rows, shapes_in_words
from registry.intake.map_units import read_numbers
from registry.schema.fields import Code, Day, Moment, Number, Secret, Whole

_MOST_CODES = 40


@dataclass
class Evidence:
    """What the values say.

    Attributes:
        share: the share of the filled cells that the field takes.
        reasons: why, in words that repeat no value.
        doubts: what keeps it from being sure.
        settings: what the mapping has to say about reading the column.
        informs: the values tell more than that something is written there.
        days: for dates, the day of each row.
        numbers: for numbers, the value of each row.
    """

    share: float = 0.0
    reasons: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)
    settings: dict[str, Any] = field(default_factory=dict)
    informs: bool = True
    days: dict[int, date] = field(default_factory=dict)
    numbers: dict[int, float] = field(default_factory=dict)


def evidence(target: Target, made: Profile, today: date) -> Evidence:
    """Hold the values of a column against one field.

    Args:
        target: the field.
        made: the column.
        today: the last day on which something can have happened.
    """
    if not made.filled:
        return Evidence(reasons=["no cell is filled"], doubts=["nothing to check it by"], informs=False)
    kind = target.info.kind
    if isinstance(kind, Day | Moment) or (isinstance(kind, Secret) and target.info.name.endswith("_date")):
        return _dates(target, made, read_dates(made, today))
    if isinstance(kind, Whole | Number):
        read = read_numbers(target.info, made)
        return Evidence(read.share, read.reasons, read.doubts, read.settings, numbers=read.numbers)
    if isinstance(kind, Code):
        return _codes(target, made)
    return _texts(target, made)


def _dates(target: Target, made: Profile, found: DatesFound) -> Evidence:
    made_of = Evidence(found.share, days=found.days)
    total = len(made.filled)
    if found.cells:
        made_of.reasons.append(f"{'all ' if found.cells == total else ''}{found.cells} cells are date cells")
    if found.forms:
        made_of.settings["dates"] = sorted(found.forms)
        whole = not (found.odd or found.cells or found.either or found.serials)
        said = f"all {total}" if whole else "other"
        made_of.reasons.append(f"{said} values are dates as {' or '.join(sorted(found.forms))}")
    if found.either:
        made_of.settings["dates"] = sorted([*found.forms, *found.either])
        made_of.doubts.append(f"the dates can be read as {' or as '.join(sorted(found.either))}: both fit every value")
    if found.serials:
        made_of.doubts.append(f"numbers that may be dates without their format: {made.places(found.serials)}")
    if found.odd:
        made_of.reasons.append(f"no date in that form: {made.places(sorted(found.odd))}")
    if found.timed and not isinstance(target.info.kind, Moment):
        made_of.doubts.append("the cells hold a time of day beside the date")
    if isinstance(target.info.kind, Moment) and not found.timed:
        made_of.doubts.append("the cells hold no time of day")
    if found.short_years:
        made_of.reasons.append("the years have two digits: century_from says which century")
        if target.info.name == "birth_date":
            made_of.doubts.append("a birth year of two digits can lie in two centuries")
    return made_of


def _codes(target: Target, made: Profile) -> Evidence:
    codes = target.info.kind.list  # type: ignore[union-attr]
    needed: dict[str, str] = {}
    unknown: list[int] = []
    read_once = cache(partial(code_for, codes))
    texts = {made.cells[at].text.strip() for at in made.filled}
    binary = codes.codes() == ["yes", "no"] and texts <= {"0", "1"}
    for at in made.filled:
        text = made.cells[at].text.strip()
        if isinstance(made.cells[at].value, bool) and codes.codes() == ["yes", "no"]:
            continue
        code, own = ("yes" if text == "1" else "no", False) if binary else read_once(text)
        if code is None:
            unknown.append(at)
        elif not own:
            needed.setdefault(text, code)
    folded: dict[str, str] = {}
    for text in needed:
        folded.setdefault(text.casefold(), text)
    read = Evidence(1 - len(unknown) / len(made.filled))
    if len(texts) > _MOST_CODES:
        read.doubts.append(f"{len(texts)} different values are many for a list")
    if needed:
        read.settings["values"] = {folded[t.casefold()]: c for t, c in needed.items() if folded[t.casefold()] == t}
        read.reasons.append(f"short forms of the list {target.info.label}: {len(read.settings['values'])}")
    if not unknown:
        read.reasons.append(f"all {len(made.filled)} values are on the list {target.info.label}")
    else:
        read.reasons.append(f"on no list: {made.places(unknown)}")
    if binary:
        read.reasons.append("1 is taken as yes and 0 as no")
    if len(texts) == 1 and codes.codes() == ["yes", "no"] and len(made.filled) < len(made.cells):
        read.reasons.append("blank cells say nothing unless the mapping says what they mean")
    return read


def _texts(target: Target, made: Profile) -> Evidence:
    shape = _SHAPES.get(target.name, _anything)
    fits = [shape(text) for text in made.texts]
    read = Evidence(sum(fits) / len(fits), [shapes_in_words(made)], informs=target.name in _SHAPES)
    if counts_rows(made):
        read.doubts.append("the values only count the rows")
    if target.name == "operation_operator.operator" and any(len(t) > 5 or " " in t for t in made.texts):
        read.doubts.append("the values look like names; the registry keeps a code for each person")
    if target.name in ("hospital_number.number", "patient.study_number"):
        ten_times = len(set(made.texts)) * 10 < len(made.texts)
        if ten_times:
            read.doubts.append("the same few values come again and again")
    return read


def _number_like(text: str) -> bool:
    digits = sum(c.isdigit() for c in text)
    return 3 <= digits <= 20 and len(text) <= 24 and sum(c.isalpha() for c in text) <= 6 and " " not in text.strip()


def _name_like(text: str) -> bool:
    return not any(c.isdigit() for c in text) and any(c.isalpha() for c in text) and len(text) <= 60


def _anything(text: str) -> bool:
    return True


_SHAPES: dict[str, Callable[[str], bool]] = {
    "hospital_number.number": _number_like,
    "patient.study_number": _number_like,
    "patient_identity.family_name": _name_like,
    "patient_identity.given_names": _name_like,
    "operation_operator.operator": lambda text: _name_like(text) or len(text) <= 4,
}
