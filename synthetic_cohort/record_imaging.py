"""Rows about examinations: planning scans, follow-up, what readers saw."""

from __future__ import annotations

import math
import random
from datetime import date, timedelta
from typing import Any

from synthetic_cohort.imaging import CT, FINDINGS, MODALITIES, SECOND_LOOK
from synthetic_cohort.record_side import location
from synthetic_cohort.story import ExaminationStory, OperationStory, Row, Story, UnitStory

READERS = ("R1", "R2", "R3", "R4")


def planning(story: Story, chance: random.Random, unit: UnitStory, of: dict[str, Any], stones: list[Row]) -> None:
    """The planning scan of some courses, on the day on which the stones were measured."""
    if not stones or chance.random() > 0.25:
        return
    rows = story.rows["stone"][-len(stones) :]
    if rows[0]["measured_by"] != "ct":
        return
    made = story.examination(
        rows[0]["measured_on"], "ct", purpose="diagnosis", slice_mm=rows[0]["measured_slice_mm"], low_dose="yes"
    )
    hydronephrosis = "mild" if of["ureteric"] else "none"
    reading = made.reading(unit, "fragments", reader=chance.choice(READERS), hydronephrosis=hydronephrosis)
    for row, stone in zip(rows, stones, strict=True):
        reading.fragment(row["length_mm"], location=row["location"], stone=stone)


def follow_up(story: Story, chance: random.Random, of: dict[str, Any], same_day: bool) -> ExaminationStory:
    """The row of a follow-up examination. ``same_day``: an operation was done that day as well."""
    modality = of["modality"]
    return story.examination(
        of["on"],
        MODALITIES[modality],
        slice_mm=of["slice_mm"] if modality == CT else None,
        low_dose=("yes" if chance.random() < 0.7 else "no") if modality == CT else None,
        place="elsewhere" if modality != SECOND_LOOK and chance.random() < 0.08 else "here",
        after_operation="no" if same_day else None,
    )


def read(
    made: ExaminationStory,
    chance: random.Random,
    unit: UnitStory,
    of: dict[str, Any],
    side: dict[str, Any],
    stone: Row | None,
    reader: str | None = None,
) -> str:
    """A reading and its fragments; the reader's code is given back.

    Args:
        made: the examination.
        chance: the source of detail.
        unit: the renal unit read.
        of: the reading's values in the cohort.
        side: the side's.
        stone: the largest of the course.
        reader: who did not read it: a second reader is somebody else.
    """
    seen, finding = of["seen_mm"], FINDINGS[of["finding"]]
    second_look = made.key["modality"] == "second_look"
    who = chance.choice([code for code in READERS if code != reader])
    reading = made.reading(
        unit,
        finding,
        reader=who,
        blinded="no" if second_look else "yes",
        every_calyx_seen="yes" if second_look else None,
        hydronephrosis="mild" if seen > 6 or chance.random() < 0.05 else "none",
        wording=f"Residual fragment of {seen:g} mm." if seen and chance.random() < 0.2 else None,
    )
    if not seen:
        return who
    said: Row = {"origin": "not_said"}
    if stone is not None and chance.random() < 0.3:
        said = {"stone": stone}
    reading.fragment(seen, location=location(chance, side, 0), **said)
    rest = side["fragments"] - 1 if side["residual_mm"] == seen else 0
    if rest > 0:
        smaller = max(0.5, math.floor(seen) / 2)
        kind = "single" if rest == 1 else "alike"
        reading.fragment(smaller, kind=kind, fragment_count=rest, location=location(chance, side, 1), origin="not_said")
    return who


def not_done(story: Story, chance: random.Random, on: date, last_day: date) -> None:
    """Of those without a scan, some have the reason written down."""
    due = min(on + timedelta(days=30), last_day)
    if chance.random() < 0.15:
        story.examination(due, "ct", not_done=chance.choice(("refused", "not_recorded", "not_done")), place=None)


def second_look(story: Story, of: dict[str, Any], operator: str, person: Row) -> OperationStory:
    """The theatre visit behind a second look: diagnostic, so that it ends no side's follow-up."""
    on = of["on"]
    stay = story.admission(
        on,
        kind="day_case",
        unplanned="no",
        place="here",
        discharged_on=on,
        stay_after_operation_h=4,
        intensive_care_days=0,
    )
    made = story.operation(
        on,
        admission=stay,
        purpose="diagnostic",
        indication="residual",
        urgency="elective",
        **person,
        planned_staged="no",
        anaesthesia="general",
        position="lithotomy",
        prophylaxis="cephalosporin",
        prophylaxis_before_min=30,
        prophylaxis_doses=1,
        operating_min=18,
        operating_from="first_equipment_in",
        operating_to="last_equipment_out",
        fluoroscopy_s=15,
        dose_area_product_gy_cm2=0.4,
    )
    made.person(operator, responsible="yes")
    return made
