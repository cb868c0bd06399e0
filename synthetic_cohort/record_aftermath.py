"""Rows about what came after: reviews and later events; complications have a file of their own."""

from __future__ import annotations

import random
from datetime import date, timedelta
from typing import Any

from synthetic_cohort.story import Story, UnitStory


def review(story: Story, chance: random.Random, of: dict[str, Any]) -> None:
    """The contact that settles the course of an operation."""
    if not of["reviewed"]:
        return
    story.contact(
        of["review_on"],
        method=chance.choice(("record_review", "clinic", "telephone")),
        stent_symptoms=chance.randint(0, 9) if chance.random() < 0.3 else None,
        quality_of_life=chance.randint(45, 100) if chance.random() < 0.25 else "not_done",
    )


def later_events(
    story: Story, chance: random.Random, of: dict[str, Any], unit: UnitStory, left_mm: float, until: date
) -> None:
    """Episodes after discharge. Fragments of the model's sides stay as they are: none of these changes a size."""
    on: date = of["on"]
    if left_mm > 0 and chance.random() < 0.1:
        when = on + timedelta(days=chance.randint(40, 200))
        if when < until:
            story.later(when, "stone_episode", unit, place="here", source="record")
    if chance.random() < 0.02:
        when = on + timedelta(days=chance.randint(2, 25))
        if when < until:
            story.later(when, "unplanned_attendance", unit, place="elsewhere", source="family_doctor")
    if chance.random() < 0.003:
        when = on + timedelta(days=chance.randint(90, 250))
        if when < until:
            story.later(f"{when:%Y-%m}", "stricture", unit, place="here", source="record")
