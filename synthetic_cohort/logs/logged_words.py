"""What a flat log has words for: fewer kinds of place and of complication than the registry."""

from __future__ import annotations

from synthetic_cohort.story import Row

COARSER_PLACES = {"diverticulum": "middle_calyx", "complete_staghorn": "partial_staghorn"}
"""Places that a log writes down as others."""

LOGGED_COMPLICATIONS = frozenset(
    {
        "febrile_urinary_infection", "sepsis", "septic_shock", "stent_symptoms", "colic", "urinary_retention",
        "bleeding", "stent_migration", "steinstrasse", "haematoma", "urinoma", "thrombosis",
    }
)  # fmt: skip
"""Complications that every style of log has a word for; of others nothing is written."""


def placed(row: Row) -> Row:
    """A copy of a stone's or fragment's row, its place as a log writes it."""
    where = row.get("location")
    return {**row, "location": COARSER_PLACES[where]} if where in COARSER_PLACES else {**row}
