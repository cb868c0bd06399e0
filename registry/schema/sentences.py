"""What a field is, in words: the same sentence in the dictionary, the template's notes and the pages."""

from __future__ import annotations

from datetime import date
from typing import Any

from registry.schema.fields import (
    Code,
    Day,
    FieldInfo,
    Keeping,
    Moment,
    Note,
    Number,
    Reference,
    RowKey,
    Secret,
    Text,
    Whole,
)
from registry.schema.sheets import as_typed

# The declarations name units in UCUM; these are the ones that people write otherwise.
SHOWN_UNITS = {
    "[in_i]": "in",
    "0.001 [in_i]": "thousandths of an inch",
    "0.1 Fr": "tenths of Fr",
    "Cel": "°C",
    "[hnsf'U]": "HU",
    "cm[H2O]": "cmH2O",
    "mm[Hg]": "mmHg",
    "10*9/L": "10^9/L",
    "um": "µm",
    "umol/L": "µmol/L",
    "ug/kg/min": "µg/kg/min",
    "mL/min/{1.73_m2}": "mL/min/1.73 m2",
    "{log10 CFU/mL}": "log10 CFU/mL",
    "deg": "degrees",
}


def shown_unit(unit: str) -> str:
    """A unit as people write it: ``umol/L`` as µmol/L."""
    return SHOWN_UNITS.get(unit, unit)


def shown(info: FieldInfo, stored: Any, *, unit: bool = True) -> str:
    """A stored value as a person would write it, with its unit: 95 tenths as ``9.5 Fr``."""
    if stored is None:
        return "blank"
    if isinstance(info.kind, Whole | Number):
        text = f"{info.typed(stored):.10g}"
        written = shown_unit(info.typed_unit)
        # The number of a year says what it is.
        return f"{text} {written}" if unit and written not in ("", "year") else text
    return str(as_typed(info, stored))


def range_words(info: FieldInfo, low: float | date | None, high: float | date | None) -> str:
    """A range in words, in the unit that people type: ``0.5 to 200 mm``; an empty string without limits."""
    if low is not None and high is not None:
        return f"{shown(info, low, unit=False)} to {shown(info, high)}"
    if low is not None:
        return f"{shown(info, low)} or more"
    return f"{shown(info, high)} or less" if high is not None else ""


# Kinds whose words do not depend on how they were declared.
_PLAIN_WORDS: dict[type, str] = {
    Number: "number",
    Note: "free wording, stored encrypted, never in a snapshot",
    Secret: "identifying text, stored encrypted",
    Moment: "time stamp in UTC",
    RowKey: "key of the row",
    Keeping: "kept by the store",
}


def type_words(info: FieldInfo) -> str:
    """What sort of value a field takes, in words."""
    match info.kind:
        case Whole(scale=1):
            return "whole number"
        case Whole():
            return "number, kept as an exact whole number of the stored unit"
        case Code(list=codes):
            return "one of: " + ", ".join(codes.codes())
        case Text(longest=longest):
            return f"short text, at most {longest} characters"
        case Day(imprecise=True):
            return "date; may be known to the month (2024-05) or the year (2024) only"
        case Day():
            return "date"
        case Reference(table=table):
            return f"link to {table}"
        case other:
            return _PLAIN_WORDS[type(other)]


def limits_words(info: FieldInfo) -> str:
    """The hard limits in the unit that people type, or an empty string."""
    low, high = info.limits
    if isinstance(info.kind, Day):
        return f"{low} to {high}; may lie after today" if info.kind.ahead else f"{low} to today"
    return range_words(info, low, high)


def plausible_words(info: FieldInfo) -> str:
    """The plausible range in the unit that people type, or an empty string."""
    plausible = getattr(info.kind, "plausible", None)
    return f"usually {range_words(info, *plausible)}" if plausible else ""
