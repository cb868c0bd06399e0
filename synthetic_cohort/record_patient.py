"""Rows about the patient: the person, both kidneys, the identity that is held apart."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from synthetic_cohort.frames import NEVER
from synthetic_cohort.names import family_name, given_names
from synthetic_cohort.story import SITE, Row, Rows, Story, UnitStory, add

RESEARCH = ("no", "not_asked", "yes")
CONDITIONS = (
    "hypercalciuria",
    "hyperoxaluria",
    "hypocitraturia",
    "hyperuricosuria",
    "family_history",
    "bowel_disease",
    "recurrent_infection",
    "medullary_sponge_kidney",
    "cystinuria",
    "hyperparathyroidism",
    "renal_tubular_acidosis",
    "bariatric_surgery",
    "immobility",
    "stone_forming_drug",
)


def person(story: Story, chance: random.Random, of: dict[str, Any], first_on: date, last_on: date) -> None:
    """The patient's row. ``of``: the patient's values in the cohort; the first and the last operation's dates."""
    conditions = chance.sample(CONDITIONS, 1 if chance.random() < 0.85 else 2) if chance.random() < 0.3 else []
    research = RESEARCH[of["research"]]
    row: Row = {
        "sex": "female" if of["female"] else "male",
        "birth_year": of["birth_year"],
        "stone_history": "recurrent" if of["recurrent"] else "first",
        "research_use": research,
        "research_use_since": None if research == "not_asked" else first_on - timedelta(days=chance.randint(1, 20)),
        "not_to_be_contacted": "yes" if chance.random() < 0.01 else "no",
        "condition": "; ".join(conditions) or None,
    }
    if of["died_on"] < NEVER.item():
        row |= {"died_on": of["died_on"], "death_source": "death_register", "death_place": "elsewhere"}
        row |= {"last_known_alive_on": max(last_on, of["died_on"] - timedelta(days=chance.randint(1, 10)))}
        row |= {"last_known_alive_source": "record"}
    if chance.random() < 0.03:
        row["note"] = chance.choice(("Prefers letters to telephone calls.", "Works at sea for months at a time."))
    story.person(**row)
    if chance.random() < 0.4:
        local = {"belongs_to": "patient", "field_name": "daily_fluid_l", "value": f"{chance.randint(8, 30) / 10:g}"}
        add(story.rows, "local_patient_value", story.key, local)


def units(
    story: Story, chance: random.Random, treated: set[str], recurrent: bool, formed: Callable[[], str]
) -> dict[str, UnitStory]:
    """The kidneys: those that are treated, and the other one of some patients. ``formed``: draws an anatomy."""
    found: dict[str, UnitStory] = {}
    for unit in ("left", "right"):
        if unit not in treated and chance.random() < 0.7:
            continue
        before = "yes" if recurrent and chance.random() < 0.35 else "no"
        solitary = "yes" if len(treated) == 1 and unit in treated and chance.random() < 0.01 else "no"
        found[unit] = story.unit(unit, anatomy=formed(), prior_stone_surgery=before, solitary=solitary)
    return found


def identity(rows: Rows, study_number: str, number: int, birth_year: int, chance: random.Random) -> None:
    """Name, birth date and hospital number of a person who does not exist."""
    key = {"site": SITE, "study_number": study_number}
    born = date(birth_year, chance.randint(1, 12), chance.randint(1, 28))
    add(
        rows,
        "patient_identity",
        key,
        family_name=family_name(chance),
        given_names=given_names(chance),
        birth_date=born.isoformat(),
    )
    add(rows, "hospital_number", key, number=f"LB-{number:06d}")
    if number % 40 == 0:
        add(rows, "hospital_number", key, number=f"LB-{900000 + number:06d}")
