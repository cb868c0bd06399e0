"""The rules of a unit's own fields: what a declaration must say, and which table its values belong in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from registry.schema.base import model_of
from registry.schema.lists_outcome import LocalKind
from registry.schema.local_fields import LINK, choices_of, subject_of
from registry.schema.tables import metadata
from registry.validation.findings import Problem, Severity

_COUNTED = (LocalKind.WHOLE, LocalKind.NUMBER)
_LISTED = "the codes, separated by semicolons, as all; most; some"


def declaration_problems(row: Mapping[str, Any]) -> list[tuple[str, Problem]]:
    """What is wrong with the declaration of a local field, each with the column it stands in.

    Args:
        row: the row of ``local_field`` by column name; what is missing or was not read is None.
    """
    kind, low, high, choices = (row.get(name) for name in ("kind", "low", "high", "choices"))
    if kind is None:
        return []
    found = []
    listed = choices_of(choices)
    if kind == LocalKind.CODE and not listed:
        found.append(("choices", _error("choices.given", "A field that takes one of a list has no list.", _LISTED)))
    elif kind != LocalKind.CODE and choices is not None:
        why = f"Only a field of kind {LocalKind.CODE} has a list of codes; this one is of kind {kind}."
        found.append(("choices", _error("choices.unused", why, f"a blank cell, or the kind {LocalKind.CODE}")))
    elif len({choice.casefold() for choice in listed}) < len(listed):
        found.append(("choices", _error("choices.once", "A code stands in the list twice.", "each code once")))
    for name in ("low", "high"):
        if row.get(name) is not None and kind not in _COUNTED:
            why = f"Only numbers have limits; this field is of kind {kind}."
            found.append((name, _error(f"{name}.unused", why, f"a blank cell, or the kind {' or '.join(_COUNTED)}")))
    if low is not None and high is not None and low > high:
        why = f"The highest value, {high:g}, is less than the lowest, {low:g}."
        found.append(("high", _error("low_to_high", why, f"{low:g} or more")))
    return found


def misplaced(table: str, belongs_to: str, field_name: str) -> Problem | None:
    """The problem of a value in the table of another subject's values; None where it is in its own."""
    subject = subject_of(table)
    if belongs_to == subject:
        return None
    here = model_of(metadata.tables[str(subject)]).label.lower()
    there = model_of(metadata.tables[belongs_to]).label.lower()
    home = next(t for t in metadata.tables.values() if LINK in t.columns and subject_of(t.name) == belongs_to)
    why = f"{field_name} is a field of the {there}; this sheet holds values of the {here}."
    right = f"the row in sheet {model_of(home).label}, or a field that belongs to {subject}"
    return Problem(f"{table}.{LINK}.belongs", Severity.ERROR, why, right)


def _error(rule: str, why: str, right: str) -> Problem:
    return Problem(f"local_field.{rule}", Severity.ERROR, why, right)
