"""The note that hangs on a heading: all that is declared of the field, in plain words."""

from __future__ import annotations

from registry.intake.units import unit_names
from registry.schema.fields import Code, Day, FieldInfo, Number, Whole
from registry.schema.lists_common import MissingReason
from registry.schema.sentences import range_words
from registry.schema.sheets import SheetColumn
from registry.validation.field_words import NEEDED_WORDS, kind_words, shown_unit, type_hint

_SIZES = (75, 95, 35)
"""Examples of a size as it is kept: 7.5 and 9.5 Fr, 3.5 Fr or 0.035 in; with decimals, so that the unit shows."""


def heading_note(column: SheetColumn, info: FieldInfo) -> str:
    """The note of one column.

    Args:
        column: the column of the sheet.
        info: its declaration as it counts in this sheet.
    """
    lines = [info.label, *_help(info), *_value(column, info), *_limits(info), *_list(info), *_needed(column, info)]
    return "\n".join(lines)


def _help(info: FieldInfo) -> list[str]:
    return [info.help[0].upper() + info.help[1:] + "."] if info.help else []


def _value(column: SheetColumn, info: FieldInfo) -> list[str]:
    words = kind_words(info)
    if column.folded:
        words = "codes of the list, separated by semicolons"
    lines = [f"Type: {words}."]
    if shown_unit(info):
        lines.append(f"Unit: {shown_unit(info)}.")
        if isinstance(info.kind, Whole) and info.kind.scale != 1:
            lines.append(f"For example, {type_hint(info, _usual_size(info.kind))}.")
        others = [name for name in unit_names(info) if name != shown_unit(info)]
        if others:
            lines.append(f"A value in {', '.join(others)} is converted when its unit stands beside it.")
    return lines


def _usual_size(kind: Whole) -> int:
    """A usual value as it is kept; of the common sizes the first that is usual here."""
    low, high = kind.plausible or (kind.low or 0, kind.high or 0)
    return next((size for size in _SIZES if low <= size <= high), int(low))


def _limits(info: FieldInfo) -> list[str]:
    if isinstance(info.kind, Day):
        return ["It may lie after today." if info.kind.ahead else "It cannot lie after today."]
    if not isinstance(info.kind, Whole | Number):
        return []
    low, high = info.limits
    lines = [f"Limits: {range_words(info, low, high)}."] if low is not None or high is not None else []
    if info.kind.plausible is not None:
        lines.append(f"Usual: {range_words(info, *info.kind.plausible)}; anything else is asked about.")
    return lines


def _list(info: FieldInfo) -> list[str]:
    if not isinstance(info.kind, Code):
        return []
    codes = info.kind.list
    listed = "; ".join(m.value if m.label.casefold() == m.value else f"{m.value} = {m.label}" for m in codes)
    return [f"List: {listed}.", f"Source of the list: {codes.source()}."]


def _needed(column: SheetColumn, info: FieldInfo) -> list[str]:
    if column.optional_site:
        return ["May be left blank where there is one site."]
    if info.default is not None:
        return [f"{info.default} when left blank."]
    if info.needed is not None and info.required:
        return [f"Needed: {NEEDED_WORDS[info.needed]}."]
    when = [f"Needed: {NEEDED_WORDS[info.needed]}."] if info.needed is not None else ["May be left blank."]
    if column.folded:
        return when
    return [*when, f"If it is missing for a reason, type the reason: {', '.join(MissingReason.codes())}."]
