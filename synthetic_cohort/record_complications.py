"""Rows about complications: what happened, what was done, who graded it, and the readmissions and attendances."""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from synthetic_cohort.complication_kinds import FATAL, GRADES, II, INFECTION, INTERVENTIONS, KINDS, NONE
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.record_operation import stay_of
from synthetic_cohort.story import ComplicationStory, OperationStory, Row, UnitStory

LINKED_WITHIN_D = 30
GRADERS = ("G1", "G2")
RELATED = frozenset({"stent_symptoms", "stent_migration"})


@dataclass(frozen=True)
class Around:
    """What a complication's rows need to know of the rest of the story.

    unit: the renal unit it is about.
    earlier: the patient's operation before, if any.
    alive_until: the day of death, or one far ahead.
    """

    unit: UnitStory
    earlier: OperationStory | None
    alive_until: date


def complication(
    parameters: Parameters, made: OperationStory, chance: random.Random, of: dict[str, Any], around: Around
) -> None:
    """One complication that the cohort drew, as the unit came to know it; nothing when it never did.

    Args:
        parameters: shares of what is written down.
        made: its main operation.
        chance: the source of detail.
        of: the complication's values in the cohort.
        around: the rest of the story.
    """
    if not of["known"]:
        return
    on: date = made.key["operated_on"]
    onset = on + timedelta(days=of["day"])
    infected, kind = of["kind"] == INFECTION, KINDS[min(of["kind"], len(KINDS) - 1)]
    stay = stay_of(made)
    inside = onset <= stay["discharged_on"]
    intensive = of["organs"] > 0 or (not infected and "intensive_care" in kind.therapies)
    links = _came_back(parameters, made, of, around, onset, inside, intensive)
    if intensive and inside:
        stay["intensive_care_days"] = 2
    fatal = of["kind"] == FATAL
    what = _infection_kind(of) if infected else kind.what
    exact = inside or intensive or links or fatal or not of["to_the_month"]
    event = made.complication(
        what,
        onset if exact else f"{onset:%Y-%m}",
        around.unit,
        organs_failing=of["organs"],
        equipment_related="yes" if what in RELATED else "no",
        present_at_discharge="yes" if of["lingers"] and inside and of["grade"] >= II and not fatal else "no",
        died_of_it="yes" if fatal else "no",
        place="elsewhere" if not inside and not links and chance.random() < 0.15 else "here",
        readmission=links,
    )
    if infected:
        _treated_infection(made, event, chance, of, onset)
    else:
        _treated(event, kind.therapies, kind.anaesthesia, onset if exact else None)
    if parameters.share_contradictory and chance.random() < parameters.share_contradictory:
        event.therapy("none", onset - timedelta(days=1) if of["day"] and exact else None)
    _graded(event, of, onset)
    near = around.earlier is not None and (onset - around.earlier.key["operated_on"]).days <= LINKED_WITHIN_D
    if near and around.earlier is not None and chance.random() < parameters.share_also_after:
        event.also_after(around.earlier)


def planned_stage_written(before: OperationStory, stage: OperationStory, unit: UnitStory) -> None:
    """A planned stage that somebody wrote down as a complication of the operation before: it is none."""
    on: date = stage.key["operated_on"]
    event = before.complication("other", on - timedelta(days=1), unit, organs_failing=0)
    event.therapy("ureteroscopy", on, "general", operation=stage)


def _infection_kind(of: dict[str, Any]) -> str:
    return "septic_shock" if of["organs"] else "sepsis" if of["sepsis"] else "febrile_urinary_infection"


def _came_back(
    parameters: Parameters, made: OperationStory, of: dict[str, Any], around: Around, onset: date, inside: bool,
    intensive: bool,
) -> Row:  # fmt: skip
    """The unplanned attendance and the readmission of what began after discharge; the readmission's key."""
    if inside or of["grade"] == NONE:
        return {}
    infected = of["kind"] == INFECTION
    story, draw = made.story, of["came_back"]
    readmitted = infected or intensive or (of["grade"] >= II and draw < parameters.share_readmitted)
    if readmitted or draw > 1 - parameters.share_attended:
        away = not readmitted and draw > 1 - parameters.share_attended / 4
        place, source = ("elsewhere", "family_doctor") if away else ("here", "record")
        story.later(onset, "unplanned_attendance", around.unit, place=place, source=source)
    if not readmitted:
        return {}
    leave = onset + timedelta(days=7 if of["sepsis"] or intensive else 2)
    return story.admission(
        onset,
        kind="inpatient",
        unplanned="yes",
        place="here",
        discharged_on=min(leave, around.alive_until),
        intensive_care_days=2 if intensive else 0,
    )


def _treated(event: ComplicationStory, therapies: tuple[str, ...], anaesthesia: str, onset: date | None) -> None:
    for therapy in therapies:
        event.therapy(therapy, onset, anaesthesia if therapy in INTERVENTIONS else "none")


def _treated_infection(
    made: OperationStory, event: ComplicationStory, chance: random.Random, of: dict[str, Any], onset: date
) -> None:
    therapies: tuple[str, ...] = ("antibiotic",)
    if of["sepsis"]:
        therapies += ("fluids",)
        grown = chance.random() < 0.4
        made.story.culture(
            onset,
            "blood",
            made,
            timing="after",
            result="positive" if grown else "negative",
            treated_with="carbapenem",
            treated_since=onset,
            organisms={"escherichia_coli": 4} if grown else {},
        )
    if of["organs"]:
        therapies += ("intensive_care", "vasopressor")
    if of["organs"] > 1:
        therapies += ("ventilation",)
    if not of["sepsis"] or chance.random() < 0.6:
        grown = chance.random() < 0.7
        organism = chance.choice(("escherichia_coli", "escherichia_coli", "klebsiella", "enterococcus", "proteus"))
        made.story.culture(
            onset,
            "urine",
            made,
            timing="after",
            result="positive" if grown else "negative",
            treated_with="penicillin",
            treated_since=onset,
            organisms={organism: chance.choice((4, 5, 5, 6, 7))} if grown else {},
        )
    _treated(event, therapies, "none", onset)


def _graded(event: ComplicationStory, of: dict[str, Any], onset: date) -> None:
    """The first grader, the second of some, and the grade they agreed on where they differed."""
    first, second, lingers = of["first_grade"], of["second_grade"], _still_there(event)
    if not first:
        return
    event.graded(GRADES[first], onset + timedelta(days=14), suffix_d=lingers)
    if not second:
        return
    event.graded(GRADES[second], onset + timedelta(days=28), grader="second", grader_code=GRADERS[1], suffix_d=lingers)
    if first != second:
        reason = f"Settled by the therapies given: grade {GRADES[of['grade']]}."
        event.graded(
            GRADES[of["grade"]], onset + timedelta(days=40), grader="agreed", grader_code="G1+G2", suffix_d=lingers,
            reason=reason,
        )  # fmt: skip


def _still_there(event: ComplicationStory) -> str:
    return str(event.story.rows["complication"][-1]["present_at_discharge"])
