"""What a field is, in words: the same sentence in the dictionary, the template's notes and the pages."""

from __future__ import annotations

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


def number_words(value: float) -> str:
    """A limit without needless decimals."""
    return f"{value:.12g}"


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
    if low is None and high is None:
        return ""
    if isinstance(info.kind, Day):
        return f"from {low} to {high}; may lie after today" if info.kind.ahead else f"from {low} to today"
    unit = f" {shown_unit(info.typed_unit)}" if info.typed_unit else ""
    shown_low = "" if low is None else number_words(info.typed(low))  # type: ignore[arg-type]
    shown_high = "" if high is None else number_words(info.typed(high))  # type: ignore[arg-type]
    if high is None:
        return f"at least {shown_low}{unit}"
    if low is None:
        return f"at most {shown_high}{unit}"
    return f"from {shown_low} to {shown_high}{unit}"


def plausible_words(info: FieldInfo) -> str:
    """The plausible range in the unit that people type, or an empty string."""
    plausible = getattr(info.kind, "plausible", None)
    if plausible is None:
        return ""
    low, high = (number_words(info.typed(bound)) for bound in plausible)
    unit = f" {shown_unit(info.typed_unit)}" if info.typed_unit else ""
    return f"usually {low} to {high}{unit}"
