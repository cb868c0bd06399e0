"""Complications, what was done about them, how they were graded, and what happened later."""

from __future__ import annotations

from datetime import date

from sqlalchemy.orm import Mapped

from registry.schema.base import Base, Row
from registry.schema.fields import Arises, Code, Day, Note, Number, Stage, Text, Whole, field, link
from registry.schema.lists_common import DatePrecision, InformationSource, Place, YesNo
from registry.schema.lists_operation import Technique
from registry.schema.lists_outcome import (
    ClavienDindo,
    ComplicationKind,
    ContactMethod,
    GraderKind,
    LaterEvent,
    TherapyAnaesthesia,
    TherapyKind,
)

FOLLOW_UP = Arises.FOLLOW_UP


class Complication(Row, Base):
    """One adverse event after, or in, an operation."""

    label, key_fields = "Complication", ("operation_id", "complication_number")
    about = "One adverse event. Its main operation is the latest before onset unless a person says otherwise."

    operation_id: Mapped[int] = link("Main operation", "operation")
    complication_number: Mapped[int] = field("Complication", Whole("", 1, 50), needed=Stage.ENTRY, default=1)
    renal_unit_id: Mapped[int | None] = link("Renal unit", "renal_unit", needed=None)
    what: Mapped[ComplicationKind] = field("What", Code(ComplicationKind), arises=FOLLOW_UP, needed=Stage.ENTRY)
    onset_on: Mapped[date | None] = field("Onset on", Day(imprecise=True), arises=FOLLOW_UP, needed=Stage.DISCHARGE)
    onset_on_precision: Mapped[DatePrecision | None] = field(
        "Precision of onset", Code(DatePrecision), companion_of="onset_on"
    )
    equipment_related: Mapped[YesNo | None] = field("Related to equipment", Code(YesNo), arises=FOLLOW_UP)
    organs_failing: Mapped[int | None] = field("Organs failing", Whole("organs", 0, 6), arises=FOLLOW_UP)
    present_at_discharge: Mapped[YesNo | None] = field("Still present at discharge", Code(YesNo), arises=FOLLOW_UP)
    died_of_it: Mapped[YesNo | None] = field("Died of it", Code(YesNo), arises=FOLLOW_UP)
    place: Mapped[Place | None] = field("Treated where", Code(Place), arises=FOLLOW_UP)
    readmission_id: Mapped[int | None] = link("Readmission", "admission", needed=None)
    note: Mapped[str | None] = field("Note", Note())


class ComplicationAlsoAfter(Row, Base):
    """A further operation that a complication came after."""

    label, key_fields = "Also after", ("complication_id", "operation_id")
    about = "Further operations that a complication came after."

    complication_id: Mapped[int] = link("Complication", "complication")
    operation_id: Mapped[int] = link("Operation", "operation")


class Therapy(Row, Base):
    """Something done about a complication."""

    label, key_fields = "Therapy", ("complication_id", "therapy_number")
    about = "What was done about a complication, one row each. The grade follows from these."

    complication_id: Mapped[int] = link("Complication", "complication")
    therapy_number: Mapped[int] = field("Therapy", Whole("", 1, 50), needed=Stage.ENTRY, default=1)
    what: Mapped[TherapyKind] = field("What was done", Code(TherapyKind), arises=FOLLOW_UP, needed=Stage.ENTRY)
    given_on: Mapped[date | None] = field("On", Day(), arises=FOLLOW_UP)
    anaesthesia: Mapped[TherapyAnaesthesia | None] = field("Anaesthesia", Code(TherapyAnaesthesia), arises=FOLLOW_UP)
    treating_operation_id: Mapped[int | None] = link("Operation here", "operation", needed=None)
    note: Mapped[str | None] = field("Note", Note())


class Grading(Row, Base):
    """A person's grade of a complication. The rule's own proposal is worked out whenever it is asked for."""

    label, key_fields = "Grading", ("complication_id", "grading_number")
    about = "Grades given by people, each with its reason; the rule's proposal beside them is worked out anew."

    complication_id: Mapped[int] = link("Complication", "complication")
    grading_number: Mapped[int] = field("Grading", Whole("", 1, 20), needed=Stage.ENTRY, default=1)
    grader: Mapped[GraderKind] = field("Graded by", Code(GraderKind), needed=Stage.ENTRY)
    grader_code: Mapped[str | None] = field("Grader's code", Text(20))
    grade: Mapped[ClavienDindo] = field(
        "Grade", Code(ClavienDindo), arises=FOLLOW_UP, needed=Stage.ENTRY, source=ClavienDindo.source()
    )
    suffix_d: Mapped[YesNo | None] = field("Suffix d", Code(YesNo), arises=FOLLOW_UP)
    rule_version: Mapped[str | None] = field("Version of the rule that was seen", Text(40))
    graded_on: Mapped[date | None] = field("Graded on", Day())
    reason: Mapped[str | None] = field("Reason", Note())


class LaterEntry(Row, Base):
    """Something that happened after discharge, wherever."""

    label, key_fields = "After discharge", ("patient_id", "occurred_on", "entry_number")
    about = "What happened later, wherever: attendance, stone episode, retreatment, stricture, loss of the kidney."

    patient_id: Mapped[int] = link("Patient", "patient")
    occurred_on: Mapped[date] = field("Occurred on", Day(imprecise=True), arises=FOLLOW_UP, needed=Stage.ENTRY)
    occurred_on_precision: Mapped[DatePrecision | None] = field(
        "Precision of the date", Code(DatePrecision), companion_of="occurred_on"
    )
    entry_number: Mapped[int] = field("Number of the day", Whole("", 1, 20), needed=Stage.ENTRY, default=1)
    what: Mapped[LaterEvent] = field("What", Code(LaterEvent), arises=FOLLOW_UP, needed=Stage.ENTRY)
    renal_unit_id: Mapped[int | None] = link("Renal unit", "renal_unit", needed=None)
    place: Mapped[Place | None] = field("Where", Code(Place), arises=FOLLOW_UP)
    technique: Mapped[Technique | None] = field("Technique", Code(Technique), arises=FOLLOW_UP, help="of a retreatment")
    planned_stage_id: Mapped[int | None] = link("Planned stage done", "planned_stage", needed=None)
    size_mm: Mapped[float | None] = field(
        "Size", Number("mm", 0.1, 200, (0.5, 40)), arises=FOLLOW_UP, help="of the fragment or stone"
    )
    source: Mapped[InformationSource | None] = field("Source", Code(InformationSource), arises=FOLLOW_UP)
    note: Mapped[str | None] = field("Note", Note())


class Contact(Row, Base):
    """A record review or a talk that settles what had happened up to a day."""

    label, key_fields = "Contact", ("patient_id", "contacted_on", "contact_number")
    about = "A record review or a talk that settles, up to a day, whether something happened."

    patient_id: Mapped[int] = link("Patient", "patient")
    contacted_on: Mapped[date] = field("Contact on", Day(), arises=FOLLOW_UP, needed=Stage.ENTRY)
    contact_number: Mapped[int] = field("Number of the day", Whole("", 1, 9), needed=Stage.ENTRY, default=1)
    method: Mapped[ContactMethod | None] = field("How", Code(ContactMethod), arises=FOLLOW_UP)
    complications_known_to: Mapped[date | None] = field(
        "All complications known up to", Day(), arises=FOLLOW_UP, needed=Stage.FOLLOW_UP
    )
    stone_events_known_to: Mapped[date | None] = field("All stone events known up to", Day(), arises=FOLLOW_UP)
    stent_symptoms: Mapped[int | None] = field(
        "Stent symptoms, patient's own score", Whole("points", 0, 10), arises=FOLLOW_UP
    )
    quality_of_life: Mapped[int | None] = field(
        "Quality of life, patient's own score", Whole("points", 0, 100), arises=FOLLOW_UP
    )
    note: Mapped[str | None] = field("Note", Note())
