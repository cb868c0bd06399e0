"""Units that people type, and the exact factors that lead to the unit a field is kept in.

Sources. French: 1 Fr (Charrière) is a third of a millimetre by definition. Inch, pound, foot: exact since the
international yard and pound agreement of 1959. Millimetre of mercury 133.322387415 Pa and centimetre of water
98.0665 Pa: the conventional values, products of conventional densities and standard gravity 9.80665 m/s2 (NIST
Special Publication 811, appendix B). Fahrenheit: (F - 32) x 5/9. Laboratory factors from mass to amount of substance
are the conventional ones that laboratories print, not molar masses: creatinine 88.4, bilirubin 17.1, lactate 0.111
(from memory; each is within 0.1 % of 10 / molar mass).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from registry.schema.fields import FieldInfo
from registry.schema.sentences import SHOWN_UNITS


@dataclass(frozen=True)
class Unit:
    """A unit of one dimension: a number of it, times ``factor`` plus ``offset``, is a number of the base unit."""

    name: str
    factor: Fraction
    offset: Fraction = Fraction(0)


def spelled(text: str) -> str:
    """A unit's spelling without what people write differently: case, spaces, dots, brackets, raised digits."""
    folded = text.strip().casefold()
    for old, new in (("µ", "u"), ("μ", "u"), ("²", "2"), ("³", "3"), ("₂", "2"), ("⁹", "9"), ("×", "x"), ("″", '"')):
        folded = folded.replace(old, new)
    return "".join(c for c in folded if c not in " ·*.[]{}_^'")


def _dimension(*lines: tuple[str, str, str] | tuple[str, str, str, str]) -> dict[str, Unit]:
    """Units by spelling. A line is: name, other spellings, factor, offset."""
    units: dict[str, Unit] = {}
    for name, others, factor, *offset in lines:
        unit = Unit(name, Fraction(factor), Fraction(offset[0]) if offset else Fraction(0))
        for spelling in (name, *others.split()):
            units[spelled(spelling)] = unit
    return units


MMHG, CMH2O, INCH, POUND = "133.322387415", "98.0665", "25.4", "0.45359237"

DIMENSIONS: tuple[dict[str, Unit], ...] = (
    _dimension(  # length, mm; French only where a calibre is meant, and there it is the typed unit
        ("mm", "millimetre millimetres millimeter millimeters", "1"),
        ("cm", "centimetre centimetres centimeter centimeters", "10"),
        ("m", "metre metres meter meters", "1000"),
        ("um", "micrometre micron microns mcm", "1/1000"),
        ("[in_i]", 'in inch inches "', INCH),
        ("ft", "foot feet", "304.8"),
        ("Fr", "F French Ch Charriere Charrière", "1/3"),
    ),
    _dimension(("mm3", "cubicmm", "1"), ("cm3", "cc ccm ml", "1000")),
    _dimension(("mL", "ml cc cm3 ccm", "1"), ("L", "l litre litres liter liters", "1000"), ("dL", "dl", "100")),
    _dimension(("mL/min", "ml/min", "1"), ("L/min", "l/min", "1000"), ("mL/h", "ml/h", "1/60"), ("mL/s", "ml/s", "60")),
    _dimension(  # pressure, Pa
        ("kPa", "", "1000"),
        ("Pa", "", "1"),
        ("hPa", "mbar", "100"),
        ("bar", "", "100000"),
        ("mmHg", "torr", MMHG),
        ("cmH2O", "cmwater cmwc", CMH2O),
        ("mmH2O", "", "9.80665"),
    ),
    _dimension(  # time, s
        ("s", "sec secs second seconds", "1"),
        ("min", "mins minute minutes", "60"),
        ("h", "hr hrs hour hours", "3600"),
        ("d", "day days", "86400"),
        ("weeks", "week wk wks", "604800"),
    ),
    _dimension(("J", "joule joules", "1"), ("mJ", "", "1/1000"), ("kJ", "", "1000")),
    _dimension(("W", "watt watts", "1"), ("mW", "", "1/1000"), ("kW", "", "1000")),
    _dimension(("Hz", "hertz", "1"), ("kHz", "", "1000"), ("/min", "permin bpm permminute", "1/60")),
    _dimension(("/min", "permin perminute bpm breaths/min beats/min 1/min", "1"), ("Hz", "/s", "60")),
    _dimension(("kg", "kilogram kilograms", "1"), ("g", "gram grams", "1/1000"), ("lb", "lbs pound pounds", POUND)),
    _dimension(  # dose-area product, Gy cm2
        ("Gycm2", "", "1"),
        ("dGycm2", "", "1/10"),
        ("cGycm2", "", "1/100"),
        ("mGycm2", "", "1/1000"),
        ("uGym2", "", "1/100"),
        ("mGym2", "", "10"),
        ("Gym2", "", "10000"),
    ),
    _dimension(  # temperature, degrees Celsius
        ("Cel", "C °C degC celsius", "1"),
        ("F", "°F degF fahrenheit", "5/9", "-160/9"),
        ("K", "kelvin", "1", "-273.15"),
    ),
    _dimension(  # cell counts, 10^9/L
        ("10*9/L", "x10^9/L 10e9/L G/L Gpt/L", "1"),
        ("/uL", "cells/uL /mm3 cells/mm3", "1/1000"),
        ("10*3/uL", "x10^3/uL K/uL 10^3/mm3 x10^3/mm3 thou/uL", "1"),
    ),
    _dimension(("umol/L", "micromol/L", "1"), ("mmol/L", "", "1000"), ("nmol/L", "", "1/1000")),
    _dimension(("g/L", "", "1"), ("g/dL", "g%", "10"), ("mg/dL", "", "1/100"), ("mg/L", "ug/mL", "1/1000")),
    _dimension(("ug/kg/min", "mcg/kg/min ug/kgmin", "1"), ("mg/kg/min", "", "1000"), ("ug/kg/h", "mcg/kg/h", "1/60")),
    _dimension(("[hnsf'U]", "HU hounsfield", "1")),
    _dimension(("deg", "° degree degrees", "1")),
    _dimension(("%", "percent", "1")),
    _dimension(("mL/min/{1.73_m2}", "ml/min/1.73m2 ml/min", "1")),
    _dimension(("{log10 CFU/mL}", "log10 log log10cfu/ml", "1")),
)
# A concentration by mass becomes one by amount only for a known substance.
SUBSTANCES: dict[str, dict[str, Unit]] = {
    "creatinine_umol_l": _dimension(("mg/dL", "mg%", "88.4"), ("mg/L", "", "8.84")),
    "bilirubin_umol_l": _dimension(("mg/dL", "mg%", "17.1"), ("mg/L", "", "1.71")),
    "lactate_mmol_l": _dimension(("mg/dL", "mg%", "0.111")),
}


@cache
def accepted_units(info: FieldInfo) -> dict[str, Unit]:
    """The spellings that a field accepts beside its number, each with the step to the field's typed unit."""
    own = spelled(info.typed_unit)
    if not own:
        return {}
    found = {own: Unit(info.typed_unit, Fraction(1))}
    for units in DIMENSIONS:
        base = units.get(own)
        # "ml" is a volume in one field and cubic centimetres in another: the field's own unit says which.
        if base is not None and spelled(base.name) == own:
            for spelling, unit in units.items():
                step = Unit(unit.name, unit.factor / base.factor, (unit.offset - base.offset) / base.factor)
                found.setdefault(spelling, step)
    for spelling, unit in SUBSTANCES.get(info.name, {}).items():
        found[spelling] = unit
    return found


def converted(info: FieldInfo, number: Fraction, unit: str) -> Fraction | None:
    """A number of some unit in the unit in which the field is typed, exactly; None when the unit does not belong."""
    step = accepted_units(info).get(spelled(unit))
    return None if step is None else number * step.factor + step.offset


def belongs(info: FieldInfo, unit: str) -> bool:
    """A spelling is a unit that the field accepts."""
    return spelled(unit) in accepted_units(info)


def is_own(info: FieldInfo, unit: str) -> bool:
    """A spelling stands for the field's own unit, so that nothing is converted."""
    step = accepted_units(info).get(spelled(unit))
    return step is not None and step.factor == 1 and step.offset == 0


def unit_names(info: FieldInfo) -> list[str]:
    """The units that a field accepts, each once, for a message."""
    names = dict.fromkeys(step.name for step in accepted_units(info).values())
    return [SHOWN_UNITS.get(name, name) for name in names]
