"""The plain middle of an awkward case: what each of them would have in common with any other patient."""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from synthetic_cohort.record_patient import identity
from synthetic_cohort.story import ExaminationStory, OperationStory, Row, Rows, SideStory, Story, UnitStory

FIRST_NUMBER = 90_001


@dataclass
class Case:
    """One awkward patient: the story, the kidneys, the year of birth."""

    story: Story
    units: dict[str, UnitStory]
    birth_year: int

    @property
    def left(self) -> UnitStory:
        """The left kidney."""
        return self.units["left"]

    @property
    def right(self) -> UnitStory:
        """The right kidney."""
        return self.units["right"]

    def operate(self, on: date, operator: str = "OP-A", nights: int = 0, **values: Any) -> OperationStory:
        """An operation with its stay and first operator; values overrule what is usual."""
        story = self.story
        start = datetime.combine(on, time(9 + 3 * story.numbers["operation", on], 0), UTC)
        minutes = values.get("operating_min", 50)
        end = start + timedelta(minutes=minutes)
        stay = story.admission(
            on,
            kind="inpatient" if nights else "day_case",
            unplanned="no",
            place="here",
            discharged_on=on + timedelta(days=nights),
            stay_after_operation_h=24 * nights or 5,
            intensive_care_days=0,
        )
        usual: Row = dict(USUAL_OPERATION)
        usual |= {"age_years": on.year - self.birth_year, "started_at": start.isoformat(), "ended_at": end.isoformat()}
        usual |= {"room_min": minutes + 30}
        made = story.operation(on, admission=stay, **(usual | values))
        made.person(operator, responsible="yes", supervision="independent")
        return made

    def scan(self, on: Any, modality: str = "ct", **values: Any) -> ExaminationStory:
        """A follow-up examination, CT of 2 mm unless said otherwise."""
        usual = {"slice_mm": 2, "low_dose": "yes"} if modality == "ct" else {}
        return self.story.examination(on, modality, **(usual | values))

    def reviewed(self, on: date) -> None:
        """A record review."""
        self.story.contact(on)


USUAL_OPERATION: Row = {
    "purpose": "stone_removal", "indication": "pain", "urgency": "elective", "asa_class": "2", "charlson": 0,
    "diabetes": "no", "ischaemic_heart_disease": "no", "chronic_kidney_disease": "no", "immunosuppressed": "no",
    "neurogenic_bladder": "no", "spinal_disease": "no", "height_cm": 171, "weight_kg": 76, "anaesthesia": "general",
    "position": "lithotomy", "prophylaxis": "cephalosporin", "prophylaxis_before_min": 30, "prophylaxis_doses": 1,
    "anticoagulant": "none", "planned_staged": "no", "operating_min": 50, "operating_from": "first_equipment_in",
    "operating_to": "last_drainage_placed", "fluoroscopy_s": 60, "dose_area_product_gy_cm2": 2.1,
}  # fmt: skip

USUAL_SIDE: Row = {
    "intent": "stone_removal", "conduct": "completed", "hydronephrosis": "mild", "pre_stented": "no",
    "nephrostomy_before": "no", "access_gained": "yes", "safety_wire": "yes", "irrigation_drive": "gravity",
    "irrigation_height_cm": 60, "suction": "none", "ureteric_lesion": "0", "satava": "0",
    "surgeon_judgement": "nothing", "exit_strategy": "none",
}  # fmt: skip


def begin(rows: Rows, chance: random.Random, number: int, sides: str = "left", **values: Any) -> Case:
    """A patient with the kidneys named in ``sides``; values overrule the usual person.

    Args:
        rows: where the rows go.
        chance: the source of the name.
        number: the awkward patient's own, from 0.
        sides: such as "left right".
        values: columns of the patient's sheet.
    """
    study_number = f"S{FIRST_NUMBER + number}"
    usual: Row = {"sex": "female" if number % 2 else "male", "birth_year": 1962 + number, "stone_history": "first"}
    usual |= {"research_use": "yes", "research_use_since": date(2019, 1, 2), "not_to_be_contacted": "no"}
    person = usual | values
    story = Story(rows, study_number)
    story.person(**person)
    identity(rows, study_number, FIRST_NUMBER + number, person["birth_year"], chance)
    return Case(story, {side: story.unit(side) for side in sides.split()}, person["birth_year"])


def stone(unit: UnitStory, course: int, before: date, **values: Any) -> Row:
    """A stone of 11 mm in the pelvis, measured by CT two weeks before; values overrule."""
    usual: Row = {"location": "pelvis", "length_mm": 11, "width_mm": 8, "depth_mm": 7, "attenuation_hu": 980}
    usual |= {"attenuation_method": "mean_region", "radio_opacity": "opaque", "measured_by": "ct"}
    usual |= {"measured_on": before - timedelta(days=14), "measured_slice_mm": 2}
    return unit.stone(course, **(usual | values))


def flexible(made: OperationStory, unit: UnitStory, course: int = 1, stage: int | None = 0, **values: Any) -> SideStory:
    """A side treated by flexible ureteroscopy, without stones and equipment; values overrule what is usual."""
    usual = {**USUAL_SIDE, "course_number": course, "stage_number": stage, "technique": "flexible"}
    return made.side(unit, **(usual | values))


def equip(side: SideStory, sheath: str | None = "SH-11-40", scope: str = "SC-75") -> None:
    """Wire, sheath, scope, fibre, and one laser setting whose energy is what its pulses add up to."""
    side.use("GW-35")
    if sheath:
        side.use(sheath, most_of_lithotripsy="yes")
    serial = {"SC-85": "K8501", "SC-95": "K9501"}.get(scope)
    side.use(scope, serial=serial, most_of_lithotripsy="yes")
    laser(side)


def laser(side: SideStory, minutes: float = 5) -> None:
    """The fibre and one setting: 0.4 J at 15 Hz."""
    side.use("LF-200")
    side.row["lithotripsy_min"] = minutes + 3
    side.numbered(
        "lithotripsy_setting",
        "setting_number",
        energy_source="holmium_laser",
        pulse_energy_j=0.4,
        frequency_hz=15,
        power_w=6,
        pulse_mode="long",
        mode="dusting",
        counted="this_setting",
        total_energy_kj=round(0.4 * 15 * minutes * 60 / 1000, 3),
        emission_min=minutes,
    )


def treat(case: Case, on: date, unit: UnitStory, **values: Any) -> tuple[OperationStory, SideStory, Row]:
    """The whole of an uneventful flexible ureteroscopy for one stone: operation, side, stone."""
    made = case.operate(on)
    side = flexible(made, unit, **values)
    found = stone(unit, side.row["course_number"], on)
    side.aim(found)
    equip(side)
    return made, side, found
