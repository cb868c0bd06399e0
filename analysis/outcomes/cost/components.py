"""The parts of what a course costs, and the rules by which they are counted."""

from __future__ import annotations

from typing import Any

COMPONENTS = {
    "theatre": "theatre minutes",
    "consumables": "single-use equipment",
    "reusables": "reusable equipment",
    "beds": "bed days",
    "intensive_care": "intensive-care days",
    "clinic": "clinic visits",
    "emergency": "emergency visits",
    "scans": "scans",
    "stent_removal": "stent removal",
    "drugs": "drugs",
    "elsewhere": "retreatment elsewhere",
    "other": "other",
}
"""Code to words, in the order shown."""

COSTED, MISSING, NOT_COSTED = "costed", "missing", "not_costed"
"""A thing used was costed; or should have been and cannot be; or is costed only where the unit has a rate for it."""

ELSEWHERE = "elsewhere"
"""Detail of a rate for what was done in another hospital."""

COST: dict[str, Any] = {
    "id": "cost-of-course",
    "version": "1",
    "source": (
        "rules of this house; what is counted, and that perspective, currency, price year and horizon are named with "
        "it, follows usual guidance on economic evaluation (from memory)"
    ),
    "rule": (
        "Everything recorded from the index operation of a course (day 0) to the last day of the horizon, stages, "
        "retreatments and failures included, at the unit's own prices and rates. It belongs to the course that it "
        "follows on its renal unit; what names no renal unit, to the patient's latest course, or in equal parts to "
        "those begun in one operation. An operation is charged in equal parts to the sides it treated, a stay to the "
        "renal units operated on in it. On the day of the index itself visits and scans count as before it, unless "
        "recorded as after."
    ),
}
PER_STONE_FREE: dict[str, Any] = {
    "id": "cost-per-stone-free-case",
    "version": "1",
    "source": (
        "total cost of all treated, failures included, over those stone-free; usual in economic evaluation (from "
        "memory)"
    ),
    "rule": "Cost of all courses in n over the stone-free among them; never the mean cost of successes.",
}
