"""Rows about a whole operation: the stay, the operation, who was there, cultures and observations."""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from synthetic_cohort.office_rows import grade, operator_code
from synthetic_cohort.outcome import MINI, PERCUTANEOUS, SHOCK_WAVE
from synthetic_cohort.story import OperationStory, Row, Story, add

AFTER_HOURS = 18


def operation(
    story: Story, chance: random.Random, of: dict[str, Any], person: dict[str, Any], techniques: set[int], later: bool
) -> OperationStory:
    """The operation's row, its stay, its operators.

    Args:
        story: the patient.
        chance: the source of detail.
        of: the operation's values in the cohort.
        person: the patient's values in the cohort.
        techniques: of its sides.
        later: a stage or a retreatment.
    """
    on: date = of["on"]
    through_skin = bool(techniques & {PERCUTANEOUS, MINI})
    waves = techniques == {SHOCK_WAVE}
    start = datetime.combine(on, time(8 + chance.randint(0, 5), 5 * chance.randint(0, 11)), UTC)
    end = start + timedelta(minutes=of["minutes"])
    nights = chance.choice((2, 2, 3, 4)) if through_skin else 0 if waves or chance.random() < 0.55 else 1
    if of["sepsis"]:
        nights += 4
    stay = _stay(story, on, end, nights, chance)
    values = {**_condition(chance, of, person), **_theatre(chance, of, start, end, through_skin, waves)}
    values["indication"] = "residual" if later else chance.choice(_INDICATIONS)
    urgent = chance.random() < (0.85 if not of["removal"] else 0.1)
    values["urgency"] = chance.choice(("urgent", "emergency")) if urgent else "elective"
    if chance.random() < 0.9:
        values["signed_off_by"] = "data desk"
        signed = datetime.combine(on + timedelta(days=chance.randint(2, 20)), time(9, 15), UTC)
        values["signed_off_at"] = signed.isoformat()
    made = story.operation(on, admission=stay, **values)
    _persons(made, chance, of["operator"], through_skin)
    if chance.random() < 0.3:
        local = {"belongs_to": "operation", "field_name": "list_position", "value": str(chance.randint(1, 6))}
        add(story.rows, "local_operation_value", made.key, local)
    return made


def ended_by_death(made: OperationStory, died_on: date) -> None:
    """A stay lasts no longer than its patient."""
    stay = stay_of(made)
    over = (stay["discharged_on"] - died_on).days
    if over > 0:
        stay["discharged_on"] = died_on
        stay["stay_after_operation_h"] = max(round(stay["stay_after_operation_h"] - 24 * over, 1), 2.0)


def stay_of(made: OperationStory) -> Row:
    """The stay in which an operation was done."""
    stays = made.story.rows["admission"]
    return next(row for row in reversed(stays) if row["admitted_on"] == made.row["admitted_on"])


_INDICATIONS = (
    ("pain",) * 6 + ("obstruction",) * 2 + ("growth", "infection", "bleeding", "patient_choice", "incidental")
)


def _stay(story: Story, on: date, end: datetime, nights: int, chance: random.Random) -> Row:
    leave = datetime.combine(on + timedelta(days=nights), time(AFTER_HOURS if not nights else 11), UTC)
    leave = max(leave, end + timedelta(hours=2))
    return story.admission(
        on,
        kind="inpatient" if nights else "day_case",
        unplanned="no",
        place="here",
        discharged_on=leave.date(),
        stay_after_operation_h=round((leave - end).total_seconds() / 3600, 1),
        intensive_care_days=0 if chance.random() < 0.97 else None,
    )


def _condition(chance: random.Random, of: dict[str, Any], person: dict[str, Any]) -> Row:
    age, female = of["age"], person["female"]
    ischaemic = chance.random() < (0.16 if age > 60 else 0.03)
    kidney = chance.random() < (0.14 if age > 65 else 0.04)
    ill = person["diabetes"] + ischaemic + kidney
    height = min(max(chance.gauss(164 if female else 177, 7), 145), 205)
    weight = person["body_mass"] * (height / 100) ** 2
    drug = "none"
    if ischaemic:
        drug = chance.choice(("aspirin", "aspirin", "other_antiplatelet", "direct_oral"))
    handling = None if drug == "none" else "continued" if drug == "aspirin" else "stopped"
    return {
        "age_years": age,
        "asa_class": str(min(1 + (age > 50) + (ill > 0) + (ill > 1), 4)),
        "charlson": ill + max(0, (age - 40) // 10),
        "diabetes": _yes(person["diabetes"]),
        "ischaemic_heart_disease": _yes(ischaemic),
        "chronic_kidney_disease": _yes(kidney),
        "immunosuppressed": _yes(chance.random() < 0.02),
        "neurogenic_bladder": _yes(chance.random() < 0.015),
        "spinal_disease": _yes(chance.random() < 0.01),
        "frailty": chance.randint(1, 3) + (age > 75) if chance.random() < 0.7 else "not_done",
        "performance_status": int(ill > 1) if chance.random() < 0.8 else None,
        "height_cm": round(height),
        "weight_kg": round(weight, 1),
        "prior_emergency_attendance": _yes(chance.random() < 0.4),
        "prior_obstructive_infection": _yes(chance.random() < 0.07),
        "anticoagulant": drug,
        "anticoagulant_handling": handling,
    }


def _theatre(
    chance: random.Random, of: dict[str, Any], start: datetime, end: datetime, through_skin: bool, waves: bool
) -> Row:
    screening = 0 if waves else min(max(int(chance.gauss(140 if through_skin else 55, 30)), 5), 600)
    prophylaxis = chance.choice(("cephalosporin", "cephalosporin", "aminoglycoside", "fluoroquinolone"))
    if waves and not of["culture_positive"]:
        prophylaxis = "none"
    given = prophylaxis != "none"
    dose: Any = round(screening * 0.03 + chance.random(), 2)
    return {
        "purpose": "stone_removal" if of["removal"] else "drainage",
        "anaesthesia": "sedation" if waves else "spinal" if chance.random() < 0.07 else "general",
        "position": chance.choice(("prone", "modified_supine")) if through_skin else "supine" if waves else "lithotomy",
        "prophylaxis": prophylaxis,
        "prophylaxis_before_min": (chance.randint(15, 60) if chance.random() < 0.96 else "not_recorded")
        if given
        else None,
        "prophylaxis_doses": chance.choice((1, 1, 1, 3)) if given else None,
        "planned_staged": _yes(of["planned_staged"]),
        "started_at": start.isoformat(),
        "ended_at": end.isoformat(),
        "operating_min": of["minutes"],
        "operating_from": "first_equipment_in",
        "operating_to": "last_equipment_out" if waves else "last_drainage_placed",
        "room_min": of["minutes"] + chance.randint(20, 45),
        "fluoroscopy_s": screening,
        "dose_area_product_gy_cm2": dose if chance.random() < 0.95 else "not_recorded",
    }


def _persons(made: OperationStory, chance: random.Random, operator: int, through_skin: bool) -> None:
    first = grade(operator)
    trained = first == "consultant"
    access = "yes" if through_skin else "no"
    made.person(
        operator_code(operator),
        grade=first,
        supervision="independent" if trained else chance.choice(("supervisor_scrubbed", "supervisor_unscrubbed")),
        made_access=access,
        responsible=_yes(trained),
    )
    if not trained and operator > 0:
        made.person(operator_code(0), "supervisor", grade=grade(0), responsible="yes", part="part")


def cultures(made: OperationStory, chance: random.Random, of: dict[str, Any]) -> None:
    """The urine culture before an operation; without one the row would say nothing, so there is none."""
    positive = of["culture_positive"]
    if not positive and chance.random() < 0.05:
        return
    taken = of["on"] - timedelta(days=chance.randint(3, 14))
    organism = chance.choice(("escherichia_coli",) * 4 + ("proteus", "klebsiella", "enterococcus", "pseudomonas"))
    made.story.culture(
        taken,
        "urine",
        made,
        timing="before",
        result="positive" if positive else "contaminated" if chance.random() < 0.04 else "negative",
        treated_with=chance.choice(("nitrofurantoin", "penicillin", "fosfomycin")) if positive else None,
        treated_since=taken + timedelta(days=2) if positive else None,
        organisms={organism: chance.choice((4, 5, 5, 6))} if positive else {},
    )
    if of["removal"] and chance.random() < 0.06:
        grown = positive and chance.random() < 0.6
        made.story.culture(
            of["on"],
            "stone",
            made,
            timing="during",
            result="positive" if grown else "negative",
            organisms={organism: 5} if grown else {},
        )


def _yes(value: Any) -> str:
    return "yes" if value else "no"
