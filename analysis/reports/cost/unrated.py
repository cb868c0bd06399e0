"""What costs nothing here because the unit has no rate for it: which kinds of use, and in how many courses."""

from __future__ import annotations

import numpy as np

from analysis.outcomes.cost.charges import NO_RATE
from analysis.outcomes.cost.components import COMPONENTS, COSTED, NOT_COSTED
from analysis.reports.cost.gathered import BoolArray, Gathered
from registry.schema.plurals import counted

REFUSES = (
    "theatre minutes",
    "single-use equipment",
    "reprocessing and repairs of reusable equipment",
    "bed days and intensive-care days here",
    "clinic visits",
    "emergency visits here",
    "CT, ultrasound and plain films here",
    "stents taken out here",
)
"""Kinds of use that leave a course without a cost where their price, rate or amount is not known."""

COUNTS_AS_NOTHING = (
    "drugs given for complications",
    "other treatment of complications (transfusion, embolisation, open surgery and the like)",
    "cultures",
    "scans of other kinds",
    "stents taken out at home",
    "all that was done elsewhere (stays, emergency visits, scans, stents taken out, retreatment)",
)
"""Kinds of use that are costed where the unit has a rate for them, and else cost nothing and are counted."""

NEVER = "nephrostomies and catheters taken out"
"""There is no rate for these at all."""


def used_without_rate(held: Gathered, component: str | None = None) -> BoolArray:
    """Of each course, whether it used something (of one component, or of any) that costs nothing for want of a rate."""
    charges = held.charges
    mine = (charges["state"] == NOT_COSTED) & (charges["reason"] == NO_RATE)
    if component is not None:
        mine &= charges["component"] == component
    return _in(held, mine.to_numpy(dtype=bool, na_value=False))


def without_any_rate(held: Gathered, component: str, own: BoolArray) -> bool:
    """Whether these courses used something of a component and none of it has a rate, so that its 0 was not measured."""
    charges = held.charges
    paid = (charges["component"] == component) & (charges["state"] == COSTED) & (charges["quantity"] > 0)
    paid_for = _in(held, paid.to_numpy(dtype=bool, na_value=False))
    return bool((used_without_rate(held, component) & own).any() and not (paid_for & own).any())


def unrated_note(held: Gathered) -> str:
    """How many courses of known cost used something that has no rate, and what, by component; empty when none did."""
    n = held.inside & held.costed
    found = int((used_without_rate(held) & n).sum())
    if not found:
        return ""
    each = [
        (words, int((used_without_rate(held, component) & n).sum()))
        for component, words in COMPONENTS.items()
        if component in held.request.rules.components
    ]
    said = ", ".join(f"{words} {many:,}" for words, many in each if many)
    return (
        f"{found:,} of {counted(int(n.sum()), 'course')} of known cost used something that has no rate and is not in "
        f"these figures: {said}. They are too low by that; what it was stands in the last table."
    )


def _in(held: Gathered, mine: BoolArray) -> BoolArray:
    return np.asarray(held.courses["course_id"].isin(held.charges.loc[mine, "course_id"]), dtype=bool)
