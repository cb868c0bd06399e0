"""What was found and measured on a side in the operation: grades, incidents, flow, pressure."""

from __future__ import annotations

import random
from itertools import accumulate
from typing import Any

from synthetic_cohort.frames import NO_STONE, NOT_STARTED
from synthetic_cohort.outcome import FLEXIBLE, SEMIRIGID, SHOCK_WAVE
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.story import OperationStory, SideStory

PRESSURE_THRESHOLD_CMH2O = 40
UNKNOWN = "not_recorded"

# What happened where the ureter was left whole, by the Satava grade of the incident.
_INCIDENTS = {
    "1": ("bleeding", "stone_migration", "equipment_failure"),
    "2a": ("bleeding", "false_passage", "stone_migration", "extravasation"),
    "2b": ("unable_to_reach", "stone_migration"),
    "3": ("perforation",),
}


def findings(
    parameters: Parameters, made: OperationStory, side: SideStory, chance: random.Random, of: dict[str, Any],
    bilateral: bool,
) -> None:  # fmt: skip
    """Add to a side's row what was found and measured, and its incidents.

    Args:
        parameters: shares of grades and of what is recorded.
        made: the operation.
        side: the side, whose row is filled.
        chance: a source of its own.
        of: the side's values in the cohort, with removal.
        bilateral: the operation has two sides.
    """
    row = side.row
    if bilateral:
        _half(made, side)
    if not of["removal"] or of["conduct"] == NOT_STARTED or of["technique"] == SHOCK_WAVE:
        return
    p = parameters
    if of["technique"] in (FLEXIBLE, SEMIRIGID):
        _grades(p, side, chance)
    if of["sheath"]:
        shares = (p.share_wall_1, p.share_wall_2, p.share_wall_3, p.share_wall_4)
        row["wall_injury"] = _recorded(p, chance, _graded(chance, ("1", "2", "3", "4"), shares))
    if row["surgeon_judgement"] in ("nothing", "dust") and of["conduct"] != NO_STONE:
        row["surgeon_judgement"] = "nothing" if chance.random() < p.share_nothing_if_clear else "dust"
    if row["surgeon_judgement"] != "not_judged" and chance.random() < p.share_judgement_missing:
        row["surgeon_judgement"] = UNKNOWN
    if chance.random() < p.share_flow:
        row["irrigation_flow_ml_min"] = chance.randint(15, 60) * (3 if of["technique"] > SEMIRIGID else 1)
    if of["suction"]:
        row["sheath_in_upper_calyx"] = "yes" if chance.random() < 0.6 else "no"
        row["sheath_in_middle_calyx"] = "yes" if chance.random() < 0.5 else "no"
    for name in ("visibility", "suction_level_kpa", "irrigation_height_cm", "irrigation_set_pressure_mmhg"):
        if name in row and chance.random() < p.share_part_missing:
            row[name] = UNKNOWN
    if of["technique"] == FLEXIBLE and chance.random() < p.share_pressure:
        _pressure(p, side, chance, of)


def _half(made: OperationStory, side: SideStory) -> None:
    """Both sides of an operation have half of its radiation each, written down for each side."""
    side.row["side_fluoroscopy_s"] = made.row["fluoroscopy_s"] // 2
    dose = made.row["dose_area_product_gy_cm2"]
    if not isinstance(dose, str):
        side.row["side_dose_area_product_gy_cm2"] = int(dose * 50) / 100


def _graded(chance: random.Random, grades: tuple[str, ...], shares: tuple[float, ...]) -> str:
    """One of the grades by its share; grade 0 has what is left."""
    drawn = chance.random()
    return next((grade for grade, upto in zip(grades, accumulate(shares), strict=True) if drawn < upto), "0")


def _recorded(parameters: Parameters, chance: random.Random, grade: str) -> str:
    return UNKNOWN if chance.random() < parameters.share_grade_missing else grade


def _grades(parameters: Parameters, side: SideStory, chance: random.Random) -> None:
    p = parameters
    shares = (p.share_lesion_1, p.share_lesion_2, p.share_lesion_3, p.share_lesion_4, p.share_lesion_5)
    lesion = _graded(chance, ("1", "2", "3", "4", "5"), shares)
    if lesion == "0":
        incidents = (p.share_incident_1, p.share_incident_2a, p.share_incident_2b, p.share_incident_3)
        satava = _graded(chance, ("1", "2a", "2b", "3"), incidents)
        if satava != "0":
            happened = chance.choice(_INCIDENTS[satava])
            turned = "laparoscopic" if satava == "3" else None
            side.numbered("side_event", "event_number", event=happened, converted_to=turned)
    else:
        satava = "1" if lesion in "12" else chance.choice(("2a", "2b")) if lesion == "3" else "3"
        event = "mucosal_injury" if lesion in "12" else "perforation" if lesion == "3" else "avulsion"
        where = chance.choice(("proximal_ureter", "proximal_ureter", "middle_ureter", "distal_ureter"))
        turned = "open" if satava == "3" else None
        side.numbered("side_event", "event_number", event=event, location=where, converted_to=turned)
    side.row["ureteric_lesion"] = _recorded(p, chance, lesion)
    side.row["satava"] = _recorded(p, chance, satava)


def _pressure(parameters: Parameters, side: SideStory, chance: random.Random, of: dict[str, Any]) -> None:
    """More room and suction mean less pressure; some of the values were not recorded."""
    room = of["ratio"] - 1.05 if of["sheath"] else 0.0
    mean = round(min(max(52 - 40 * room - 8 * of["suction"] + chance.gauss(0, 6), 12), 90))
    highest = mean + chance.randint(8, 90)
    values = {
        "pressure_baseline_cmh2o": chance.randint(5, 11),
        "pressure_mean_cmh2o": mean,
        "pressure_highest_cmh2o": highest,
        "pressure_threshold_cmh2o": PRESSURE_THRESHOLD_CMH2O,
        "pressure_above_threshold_s": max(0, (highest - PRESSURE_THRESHOLD_CMH2O) * chance.randint(2, 6)),
    }
    for name, value in values.items():
        kept = chance.random() >= parameters.share_part_missing
        side.row[name] = value if kept else UNKNOWN
    side.use("PR-1")
