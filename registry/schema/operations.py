"""Operations, who did them, and the courses they belong to."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy.orm import Mapped

from registry.schema.base import Base, Row
from registry.schema.fields import Arises, Code, Day, Moment, Note, Number, Stage, Text, Whole, field, link
from registry.schema.lists_common import YesNo
from registry.schema.lists_operation import (
    Anaesthesia,
    AntibioticClass,
    Anticoagulant,
    AnticoagulantHandling,
    AsaClass,
    Indication,
    Position,
    Purpose,
    StageKind,
    Technique,
    TimeEnd,
    TimeStart,
    Urgency,
)
from registry.schema.lists_people import OperatorGrade, OperatorPart, OperatorRole, Supervision

BEFORE, CHOICE, AFTER = Arises.BEFORE, Arises.CHOICE, Arises.AFTER_ACCESS
OPERATION = Stage.OPERATION


class Operation(Row, Base):
    """One theatre visit, or one shock-wave visit, of one patient."""

    label, key_fields = "Operation", ("patient_id", "operated_on", "day_number")
    about = "One theatre visit, or one shock-wave visit, of one patient."

    patient_id: Mapped[int] = link("Patient", "patient")
    operated_on: Mapped[date] = field("Date of operation", Day(), needed=Stage.ENTRY)
    day_number: Mapped[int] = field("Number of the day", Whole("", 1, 9), needed=Stage.ENTRY, default=1)
    admission_id: Mapped[int | None] = link("Admission", "admission", needed=None)
    purpose: Mapped[Purpose] = field("Purpose", Code(Purpose), arises=BEFORE, needed=Stage.ENTRY)
    indication: Mapped[Indication | None] = field("Indication", Code(Indication), arises=BEFORE, needed=OPERATION)
    urgency: Mapped[Urgency | None] = field("Urgency", Code(Urgency), arises=BEFORE, needed=OPERATION)
    age_years: Mapped[int | None] = field(
        "Age at operation",
        Whole("years", 0, 120, (1, 100)),
        arises=BEFORE,
        needed=OPERATION,
        help="whole years; worked out from the year of birth when left blank",
    )
    gestation_weeks: Mapped[int | None] = field("Weeks of gestation", Whole("weeks", 1, 45), arises=BEFORE)
    asa_class: Mapped[AsaClass | None] = field("ASA class", Code(AsaClass), arises=BEFORE, needed=OPERATION)
    charlson: Mapped[int | None] = field(
        "Charlson index",
        Whole("points", 0, 37, (0, 15)),
        arises=BEFORE,
        source="Charlson et al., J Chronic Dis 1987;40:373-383 (from memory)",
    )
    diabetes: Mapped[YesNo | None] = field("Diabetes", Code(YesNo), arises=BEFORE, needed=OPERATION)
    ischaemic_heart_disease: Mapped[YesNo | None] = field(
        "Ischaemic heart disease", Code(YesNo), arises=BEFORE, needed=OPERATION
    )
    chronic_kidney_disease: Mapped[YesNo | None] = field(
        "Chronic kidney disease", Code(YesNo), arises=BEFORE, needed=OPERATION
    )
    immunosuppressed: Mapped[YesNo | None] = field("Immunosuppressed", Code(YesNo), arises=BEFORE, needed=OPERATION)
    neurogenic_bladder: Mapped[YesNo | None] = field("Neurogenic bladder", Code(YesNo), arises=BEFORE, needed=OPERATION)
    spinal_disease: Mapped[YesNo | None] = field(
        "Spina bifida or spinal injury", Code(YesNo), arises=BEFORE, needed=OPERATION
    )
    frailty: Mapped[int | None] = field("Clinical frailty", Whole("points", 1, 9), arises=BEFORE)
    performance_status: Mapped[int | None] = field("Performance status", Whole("points", 0, 4), arises=BEFORE)
    height_cm: Mapped[float | None] = field(
        "Height", Number("cm", 30, 260, (120, 210)), arises=BEFORE, needed=OPERATION
    )
    weight_kg: Mapped[float | None] = field("Weight", Number("kg", 1, 400, (35, 200)), arises=BEFORE, needed=OPERATION)
    prior_emergency_attendance: Mapped[YesNo | None] = field(
        "Emergency attendance for this stone", Code(YesNo), arises=BEFORE
    )
    prior_obstructive_infection: Mapped[YesNo | None] = field(
        "Obstructed infected kidney before", Code(YesNo), arises=BEFORE
    )
    anaesthesia: Mapped[Anaesthesia | None] = field("Anaesthesia", Code(Anaesthesia), arises=BEFORE, needed=OPERATION)
    position: Mapped[Position | None] = field("Position", Code(Position), arises=BEFORE)
    prophylaxis: Mapped[AntibioticClass | None] = field(
        "Antibiotic prophylaxis", Code(AntibioticClass), arises=BEFORE, needed=OPERATION
    )
    prophylaxis_before_min: Mapped[int | None] = field(
        "Prophylaxis given before the start",
        Whole("min", -240, 2880, (0, 240)),
        arises=BEFORE,
        help="minutes before the start of the operation; negative when given after it",
    )
    prophylaxis_doses: Mapped[int | None] = field("Doses of prophylaxis", Whole("doses", 0, 50, (0, 6)))
    anticoagulant: Mapped[Anticoagulant | None] = field(
        "Drug against clotting", Code(Anticoagulant), arises=BEFORE, needed=OPERATION
    )
    anticoagulant_handling: Mapped[AnticoagulantHandling | None] = field(
        "What was done about it", Code(AnticoagulantHandling), arises=BEFORE
    )
    planned_staged: Mapped[YesNo | None] = field(
        "Planned as staged", Code(YesNo), arises=BEFORE, help="decided no later than the day of the operation"
    )
    started_at: Mapped[datetime | None] = field("Started at", Moment(), arises=AFTER)
    ended_at: Mapped[datetime | None] = field("Ended at", Moment(), arises=AFTER)
    operating_min: Mapped[int | None] = field(
        "Operating minutes", Whole("min", 0, 1440, (5, 300)), arises=AFTER, needed=OPERATION
    )
    operating_from: Mapped[TimeStart | None] = field("Counted from", Code(TimeStart), needed=OPERATION)
    operating_to: Mapped[TimeEnd | None] = field("Counted to", Code(TimeEnd), needed=OPERATION)
    room_min: Mapped[int | None] = field("Minutes in the room", Whole("min", 0, 1440, (10, 420)))
    fluoroscopy_s: Mapped[int | None] = field(
        "Fluoroscopy time", Whole("s", 0, 7200, (0, 900)), arises=AFTER, needed=OPERATION
    )
    dose_area_product_gy_cm2: Mapped[float | None] = field(
        "Dose-area product", Number("Gy cm2", 0, 1000, (0, 50)), arises=AFTER, needed=OPERATION
    )
    signed_off_by: Mapped[str | None] = field("Signed off by", Text(60), identifying=True)
    signed_off_at: Mapped[datetime | None] = field("Signed off at", Moment())
    note: Mapped[str | None] = field("Note", Note())


class OperationOperator(Row, Base):
    """A person at an operation."""

    label, key_fields = "Operator at operation", ("operation_id", "person_number")
    about = "Who did what at an operation, and the grade held on that day."

    operation_id: Mapped[int] = link("Operation", "operation")
    person_number: Mapped[int] = field("Person", Whole("", 1, 20), needed=Stage.ENTRY, default=1)
    operator_id: Mapped[int] = link("Operator", "operator")
    role: Mapped[OperatorRole] = field("Role", Code(OperatorRole), arises=BEFORE, needed=Stage.ENTRY)
    part: Mapped[OperatorPart | None] = field("Part done", Code(OperatorPart), arises=BEFORE)
    grade: Mapped[OperatorGrade | None] = field(
        "Grade on the day", Code(OperatorGrade), arises=BEFORE, needed=OPERATION
    )
    supervision: Mapped[Supervision | None] = field("Supervision", Code(Supervision), arises=BEFORE)
    made_access: Mapped[YesNo | None] = field("Made the access", Code(YesNo))
    responsible: Mapped[YesNo | None] = field("Responsible consultant", Code(YesNo), arises=BEFORE)


class Course(Row, Base):
    """An index operation with its planned stages on one renal unit."""

    label, key_fields = "Course", ("renal_unit_id", "course_number")
    about = (
        "An index operation with its planned stages on one renal unit. Its index is the treated side with "
        "stage number 0."
    )

    renal_unit_id: Mapped[int] = link("Renal unit", "renal_unit")
    course_number: Mapped[int] = field("Course", Whole("", 1, 99), needed=Stage.ENTRY, default=1)


class PlannedStage(Row, Base):
    """A further operation that was decided on beforehand."""

    label, key_fields = "Planned stage", ("course_id", "stage_number")
    about = "A stage is planned only if it was decided no later than the day of the previous operation."

    course_id: Mapped[int] = link("Course", "course")
    stage_number: Mapped[int] = field("Stage", Whole("", 1, 20), needed=Stage.ENTRY, default=1)
    decided_on: Mapped[date] = field("Decided on", Day(), arises=BEFORE, needed=Stage.ENTRY)
    kind: Mapped[StageKind | None] = field("What was planned", Code(StageKind), arises=BEFORE)
    technique: Mapped[Technique | None] = field("Technique planned", Code(Technique), arises=BEFORE)
    dropped_on: Mapped[date | None] = field(
        "Dropped on", Day(), arises=Arises.FOLLOW_UP, help="the day it was decided not to do this stage"
    )
