"""Numbers of a column: decimal marks, the unit in the heading, and units suspected by magnitude."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import time, timedelta
from typing import Any

from registry.intake.map_profile import Profile
from registry.intake.units import DIMENSIONS, accepted_units, belongs, is_own, spelled
from registry.intake.values import parse
from registry.schema.fields import FieldInfo
from registry.validation.field_words import shown_unit

# Beside the unit a field is typed in, the units that a log is likely to mean when it names none.
OTHERS: dict[str, tuple[str, ...]] = {
    "mm": ("cm",), "cm": ("m", "mm"), "s": ("min",), "min": ("h", "s"), "h": ("d",), "d": ("h", "weeks"),
    "g/L": ("g/dL",), "umol/L": ("mg/dL",), "kPa": ("mmHg", "cmH2O"), "cmH2O": ("mmHg", "kPa"),
    "mmHg": ("cmH2O", "kPa"), "kJ": ("J",), "J": ("mJ",), "Gycm2": ("cGycm2", "uGym2", "mGycm2"), "Cel": ("F",),
    "kg": ("lb",), "mL": ("L",), "mm3": ("cm3",), "Fr": ("mm",), "mg/L": ("mg/dL",), "um": ("mm",),
}  # fmt: skip
_OTHERS = {spelled(unit): others for unit, others in OTHERS.items()}
_PLAIN = re.compile(r"[+-]?\d+(?:[.,]\d+)?")
_COMMA = re.compile(r"[+-]?\d+,\d+")
_CLOCK = re.compile(r"\d{1,2}:[0-5]\d(?::00)?")
_USUAL, _RARE, _MANY = 0.9, 0.1, 0.5


@dataclass
class NumbersFound:
    """How a column reads as numbers of one field; see ``map_evidence.Evidence``."""

    share: float = 0.0
    reasons: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)
    settings: dict[str, Any] = field(default_factory=dict)
    numbers: dict[int, float] = field(default_factory=dict)


def unit_spellings() -> frozenset[str]:
    """Every spelling of every unit, folded."""
    return frozenset(s for units in DIMENSIONS for s in units) | {"hu", "fr", "yrs", "years", "kgs"}


def read_numbers(info: FieldInfo, made: Profile) -> NumbersFound:
    """Read a column as numbers of a field.

    Args:
        info: the field.
        made: the column.
    """
    found = NumbersFound()
    texts = {at: made.cells[at].text.strip() for at in made.filled}
    if _clock(info, made, texts, found):
        return found
    commas = sum(bool(_COMMA.search(t)) for t in texts.values())
    points = sum("." in t for t in texts.values() if _PLAIN.match(t))
    if commas and not points:
        found.settings["decimal"] = ","
        found.reasons.append(f"{commas} numbers have a decimal comma, none a point")
    elif commas:
        found.doubts.append(f"{commas} numbers have a comma and {points} a point")
    unit = made.heading.unit
    if unit and not belongs(info, unit) and info.typed_unit != "years":
        found.doubts.append(f"the heading's unit {unit} is no unit of {info.label}")
        return found
    outer = "" if not unit or not belongs(info, unit) or is_own(info, unit) else unit
    bare = {at: float(t.replace(",", ".")) for at, t in texts.items() if _PLAIN.fullmatch(t)}
    failed = _read_as(info, texts, outer, found)
    found.share = 1 - len(failed) / len(texts)
    if outer:
        found.settings["unit"] = outer
        found.reasons.append(f"the heading says {outer}")
    elif unit:
        found.reasons.append(f"the heading says {unit}")
    if failed:
        found.reasons.append(f"no number that the field takes: {made.places(failed)}")
    else:
        found.reasons.append(f"all {len(texts)} values are numbers within the limits")
    _magnitude(info, made, bare, outer, stated=bool(unit), found=found)
    return found


def _clock(info: FieldInfo, made: Profile, texts: dict[int, str], found: NumbersFound) -> bool:
    """Lengths of time written as hours and minutes."""
    if spelled(info.typed_unit) not in ("min", "s", "h"):
        return False
    clocks = [
        at for at, t in texts.items() if _CLOCK.fullmatch(t) or isinstance(made.cells[at].value, time | timedelta)
    ]
    if len(clocks) < _USUAL * len(texts):
        return False
    found.share = len(clocks) / len(texts)
    found.settings["unit"] = "h:mm"
    found.reasons.append(f"{len(clocks)} of {len(texts)} values are hours and minutes")
    hours = [int(texts[at].partition(":")[0]) for at in clocks if _CLOCK.fullmatch(texts[at])]
    if not hours or min(hours) >= 5:
        found.doubts.append("they may be times of day")
    return True


def _read_as(info: FieldInfo, texts: dict[int, str], unit: str, found: NumbersFound) -> list[int]:
    """Take each cell's number by the field's own parser, each wording once; the places of cells that give none."""
    values: dict[str, float | None] = {}
    for text in set(texts.values()):
        plain = text.replace(",", ".") if _COMMA.fullmatch(text) else text
        parsed = parse(info, f"{plain} {unit}" if unit and _PLAIN.fullmatch(plain) else plain)
        values[text] = None if parsed.failed or parsed.value is None else float(parsed.value)
    for at, text in texts.items():
        if (value := values[text]) is not None:
            found.numbers[at] = value
    return [at for at in texts if at not in found.numbers]


def _magnitude(
    info: FieldInfo, made: Profile, bare: dict[int, float], unit: str, *, stated: bool, found: NumbersFound
) -> None:
    """Say where the numbers would be usual in another unit. Nothing is set: only a person knows."""
    plausible = getattr(info.kind, "plausible", None)
    if plausible is None or not bare:
        return
    own = unit or info.typed_unit
    usual = _within(info, bare, own, plausible)
    shown = unit or shown_unit(info)
    as_well: list[str] = []
    for other in _OTHERS.get(spelled(own), ()):
        if not belongs(info, other):
            continue
        there = _within(info, bare, other, plausible)
        odd = sorted(there - usual)
        if len(usual) < _MANY * len(bare) and len(there) >= _USUAL * len(bare):
            found.doubts.append(f"the numbers are usual in {other}, not in {shown}")
            found.settings.setdefault("perhaps_unit", other)
        elif not stated and len(there) >= _USUAL * len(bare):
            as_well.append(other)
            found.settings.setdefault("perhaps_unit", other)
        elif odd and len(odd) <= _MANY * len(bare):
            found.reasons.append(f"usual in {other} rather than in {shown}: {made.places(odd)}")
    if as_well:
        found.doubts.append(f"no unit is named, and the numbers are usual in {' and in '.join([shown, *as_well])}")
    if len(usual) < _MANY * len(bare):
        found.doubts.append(f"most numbers are not usual for {info.label} in {shown or 'this field'}")


def _within(info: FieldInfo, bare: dict[int, float], unit: str, plausible: tuple[float, float]) -> set[int]:
    """The places of the numbers that are usual for the field if they are meant in a unit."""
    step = accepted_units(info).get(spelled(unit))
    factor, offset = (float(step.factor), float(step.offset)) if step is not None else (1.0, 0.0)
    scale = getattr(info.kind, "scale", 1)
    return {at for at, number in bare.items() if plausible[0] <= (number * factor + offset) * scale <= plausible[1]}
