"""Rows about what came after: complications, therapies and grades, reviews, later events."""

from __future__ import annotations

import random
from datetime import date, timedelta
from typing import Any

from synthetic_cohort.outcome import MINI, PERCUTANEOUS
from synthetic_cohort.story import OperationStory, Story, UnitStory

# What else goes wrong: event, share after ureteroscopy, share after percutaneous surgery, therapy, anaesthesia, grade.
OTHERS = (
    ("stent_symptoms", 0.03, 0.0, "alpha_blocker", "none", "II"),
    ("colic", 0.02, 0.01, "analgesic", "none", "I"),
    ("urinary_retention", 0.012, 0.01, "urethral_catheter", "none", "I"),
    ("bleeding", 0.004, 0.05, "transfusion", "none", "II"),
    ("stent_migration", 0.006, 0.0, "stent_placed", "local", "IIIa"),
    ("steinstrasse", 0.008, 0.0, "ureteroscopy", "general", "IIIb"),
    ("haematoma", 0.003, 0.01, "none", "none", "I"),
    ("urinoma", 0.001, 0.01, "drainage", "local", "IIIa"),
    ("thrombosis", 0.002, 0.004, "anticoagulant", "none", "II"),
)


def infection(made: OperationStory, chance: random.Random, of: dict[str, Any], unit: UnitStory) -> None:
    """The infection that the model drew, as the unit came to know it."""
    if not of["infection_known"]:
        return
    on, story = of["on"], made.story
    stay = next(row for row in story.rows["admission"][::-1] if row["admitted_on"] == made.row["admitted_on"])
    onset = on + timedelta(days=chance.choice((0, 1, 1, 1, 2, 2, 3, 5)))
    outside = onset > stay["discharged_on"]
    readmission = {}
    shock = of["sepsis"] and chance.random() < 0.15
    if outside:
        leave = onset + timedelta(days=7 if of["sepsis"] else 2)
        readmission = story.admission(
            onset,
            kind="inpatient",
            unplanned="yes",
            place="here",
            discharged_on=leave,
            intensive_care_days=2 if shock else 0,
        )
        story.later(onset, "unplanned_attendance", unit, place="here", source="record")
    elif shock:
        stay["intensive_care_days"] = 2
    what = "septic_shock" if shock else "sepsis" if of["sepsis"] else "febrile_urinary_infection"
    event = made.complication(
        what, onset, unit, organs_failing=1 if shock else 0, readmission=readmission, present_at_discharge="no"
    )
    event.therapy("antibiotic", onset)
    if of["sepsis"]:
        event.therapy("fluids", onset)
        story.culture(
            onset,
            "blood",
            made,
            timing="after",
            result="positive" if chance.random() < 0.4 else "negative",
            treated_with="carbapenem",
            treated_since=onset,
        )
    if shock:
        event.therapy("intensive_care", onset).therapy("vasopressor", onset)
    event.graded("IVa" if shock else "II", onset + timedelta(days=14))


def others(
    made: OperationStory, chance: random.Random, of: dict[str, Any], unit: UnitStory, techniques: set[int]
) -> None:
    """Complications that the model has no equation for."""
    through_skin = bool(techniques & {PERCUTANEOUS, MINI})
    for what, after_scope, after_puncture, therapy, anaesthesia, grade in OTHERS:
        if chance.random() >= (after_puncture if through_skin else after_scope):
            continue
        onset = of["on"] + timedelta(days=chance.randint(0, 2) if what == "bleeding" else chance.randint(1, 16))
        exact = chance.random() < 0.97
        related = "yes" if what in ("stent_migration", "stent_symptoms") else "no"
        shown: Any = onset if exact else f"{onset:%Y-%m}"
        event = made.complication(what, shown, unit, equipment_related=related, organs_failing=0)
        event.therapy(therapy, onset if exact else None, anaesthesia)
        disagreed = grade == "I" and chance.random() < 0.1
        event.graded("II" if disagreed else grade, onset + timedelta(days=21))
        if disagreed:
            reason = "Antiemetics and analgesics only."
            event.graded("I", onset + timedelta(days=40), grader="agreed", grader_code="G2", reason=reason)


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
