"""Numbers as people type them, with or without a unit beside them, kept exact until they are stored.

The decimal mark is a point. A decimal comma is read where it can be nothing else (``12,5``); ``1,234`` could be a
thousand and is refused. Marks for thousands, ranges and bounds (``5-7``, ``>5``) are refused. A whole number that a
spreadsheet's arithmetic left at 7.000000000001 is 7 (within a billionth); measured numbers are kept as the cell
holds them, to the last bit.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction

from registry.intake.dates import NotReadError
from registry.intake.units import belongs, converted, is_own, unit_names
from registry.schema.fields import FieldInfo, Whole
from registry.validation.field_words import shown_unit, within_sentence
from registry.validation.findings import shortened

_NUMBER = r"[+−-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,5})?"
_TYPED = re.compile(rf"({_NUMBER})(?:\s+(\S.*)|([^\d\s.,+\-−].*))?", re.DOTALL)
_COULD_BE_THOUSANDS = re.compile(r"[+−-]?[1-9]\d{0,2},\d{3}")
_BOUND = re.compile(r"\s*[<>≤≥~≈]|\s*(?:ca|about|approx)\b|.*\d\s*(?:-|–|to)\s*\d", re.IGNORECASE)
_MORE = re.compile(r"[\d(±+–-]|h\s*\d|.*\s\d", re.IGNORECASE)  # as in 5±1, 1h30, 5 mm x 7 mm
_NOISE = Fraction(1, 10**9)
# Beyond these a double holds nothing of the number, and working with it exactly would take for ever.
_LONGEST, _SMALLEST_EXPONENT, _LARGEST_EXPONENT = 100, 400, 100


def read_number(info: FieldInfo, raw: float | str) -> tuple[int | float, str | None]:
    """The stored value of a number field and, when it was typed in another unit, the wording as typed.

    Args:
        info: the declaration of a ``Whole`` or ``Number`` field.
        raw: the cell: a number in the unit people type, or text that may name a unit.

    Raises:
        NotReadError: it is no number, could be two, has a unit that does not belong, or is not exact enough.
    """
    if isinstance(raw, str):
        number, unit, step = _parts(info, raw)
    else:
        number, unit, step = _cell_number(raw), "", None
    other = bool(unit) and not is_own(info, unit)
    if unit:
        value = converted(info, number, unit)
        if value is None:
            accepted = unit_names(info)
            raise NotReadError(
                f"'{shortened(unit)}' is not a unit of {within_sentence(info.label)}.",
                f"a number in {', '.join(accepted)}" if accepted else "a number without a unit",
                "unit",
            )
        number, step = value, _step_converted(info, step, unit)
    typed = " ".join(str(raw).split()) if other else None
    if not isinstance(info.kind, Whole):
        return float(number), typed
    return _whole(info, info.kind, number, step if other else None), typed


def _cell_number(raw: float) -> Fraction:
    if not math.isfinite(raw):
        raise NotReadError(f"{raw} is not a number that can be kept.", "a number, or a blank cell")
    # repr gives the shortest decimal that the cell's double stands for: 9.5, not its binary neighbour.
    return Fraction(repr(raw))


def _parts(info: FieldInfo, text: str) -> tuple[Fraction, str, Fraction | None]:
    """The number, the unit beside it, and half a step of its last digit."""
    typed = text.replace("\u00a0", " ").strip()
    said = shortened(typed)
    unit = shown_unit(info)
    right = f"a number in {unit}, as a number cell" if unit else "a number, as a number cell"
    found = _TYPED.fullmatch(typed)
    if found is None:
        if _BOUND.match(typed):
            raise NotReadError(f"'{said}' is a range or a bound, not one number.", right)
        if typed.casefold() in ("nan", "inf", "-inf", "infinity", "-infinity"):
            raise NotReadError(f"'{said}' is not a number that can be kept.", "a number, or a blank cell")
        raise NotReadError(f"'{said}' is not a number.", right)
    digits, beside = found.group(1).replace("−", "-"), (found.group(2) or found.group(3) or "").strip()
    if not belongs(info, beside) and (_BOUND.match(beside) or _MORE.match(beside)):
        raise NotReadError(f"'{said}' is more than one number.", right)
    if _COULD_BE_THOUSANDS.fullmatch(digits):
        raise NotReadError(
            f"'{said}' can be two numbers: the comma may mark decimals or thousands.",
            f"{digits.replace(',', '.')} or {digits.replace(',', '')}, as a number cell",
        )
    plain = digits.replace(",", ".")
    mantissa, _, exponent = plain.lower().partition("e")
    if len(mantissa) > _LONGEST or not -_SMALLEST_EXPONENT <= int(exponent or 0) <= _LARGEST_EXPONENT:
        raise NotReadError(f"'{said}' is not a number that can be kept.", right)
    places = len(mantissa.partition(".")[2])
    return Fraction(plain), beside, Fraction(1, 2) * Fraction(10) ** (int(exponent or 0) - places)


def _step_converted(info: FieldInfo, step: Fraction | None, unit: str) -> Fraction | None:
    if step is None:
        return None
    low, high = converted(info, Fraction(0), unit), converted(info, step, unit)
    return None if low is None or high is None else abs(high - low)


def _whole(info: FieldInfo, kind: Whole, number: Fraction, step: Fraction | None) -> int:
    """The stored whole number. ``step``: half the last digit typed, for a value converted from another unit."""
    scaled = number * kind.scale
    nearest = round(scaled)
    away = abs(scaled - nearest)
    if away <= _NOISE * max(Fraction(1), abs(scaled)):
        return nearest
    if step is not None and (kind.scale == 1 or away <= step * kind.scale):
        # A length in millimetres names the tenth of French within its last digit; other whole numbers are rounded.
        return nearest
    low = math.floor(scaled)
    unit = f" {shown_unit(info)}" if shown_unit(info) else ""
    if kind.scale == 1:
        raise NotReadError(f"{float(number):.10g} is not a whole number.", f"{low} or {low + 1}{unit}", "exact")
    raise NotReadError(
        f"{float(number):.10g}{unit} is not a multiple of {1 / kind.scale:g}, in which it is kept exactly.",
        f"{low / kind.scale:g} or {(low + 1) / kind.scale:g}{unit}",
        "exact",
    )
