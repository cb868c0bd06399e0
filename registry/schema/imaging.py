"""Examinations, readings and fragments."""

from __future__ import annotations

from datetime import date

from sqlalchemy.orm import Mapped

from registry.schema.base import Base, Row
from registry.schema.fields import Arises, Code, Day, Note, Number, Stage, Text, Whole, field, link
from registry.schema.lists_common import DatePrecision, MissingReason, Place, Severity, YesNo
from registry.schema.lists_stone import (
    Finding,
    FragmentKind,
    FragmentOrigin,
    ImagingPurpose,
    Modality,
    StoneLocation,
)

FOLLOW_UP = Arises.FOLLOW_UP


class Examination(Row, Base):
    """One visit to the scanner, or one second look."""

    label, key_fields = "Examination", ("patient_id", "examined_on", "modality", "examination_number")
    about = "One visit to the scanner, an endoscopic second look, or an examination that was not done and why."

    patient_id: Mapped[int] = link("Patient", "patient")
    examined_on: Mapped[date] = field(
        "Examined on",
        Day(imprecise=True, ahead=True),
        arises=FOLLOW_UP,
        needed=Stage.ENTRY,
        help="the day it was due when it was not done",
    )
    examined_on_precision: Mapped[DatePrecision | None] = field(
        "Precision of the date", Code(DatePrecision), companion_of="examined_on"
    )
    modality: Mapped[Modality] = field("Modality", Code(Modality), arises=FOLLOW_UP, needed=Stage.ENTRY)
    examination_number: Mapped[int] = field("Number of the day", Whole("", 1, 9), needed=Stage.ENTRY, default=1)
    not_done: Mapped[MissingReason | None] = field(
        "Not done because", Code(MissingReason), help="blank when it was done"
    )
    slice_mm: Mapped[float | None] = field(
        "Slice thickness", Number("mm", 0.1, 20, (0.5, 5)), arises=FOLLOW_UP, help="CT only"
    )
    low_dose: Mapped[YesNo | None] = field("Low dose", Code(YesNo), arises=FOLLOW_UP)
    purpose: Mapped[ImagingPurpose | None] = field("Purpose", Code(ImagingPurpose), arises=FOLLOW_UP)
    place: Mapped[Place | None] = field("Where", Code(Place), arises=FOLLOW_UP)
    after_operation: Mapped[YesNo | None] = field(
        "Done after that day's operation",
        Code(YesNo),
        arises=FOLLOW_UP,
        help="only when an operation was done on the same day",
    )


class Reading(Row, Base):
    """What one reader said of one renal unit."""

    label, key_fields = "Reading", ("examination_id", "renal_unit_id", "reading_number")
    about = 'What one reader said of one renal unit. "None seen" is recorded, never inferred.'

    examination_id: Mapped[int] = link("Examination", "examination")
    renal_unit_id: Mapped[int] = link("Renal unit", "renal_unit")
    reading_number: Mapped[int] = field("Reading", Whole("", 1, 20), needed=Stage.ENTRY, default=1)
    reader: Mapped[str | None] = field("Reader's code", Text(20))
    blinded: Mapped[YesNo | None] = field("Blinded to the outcome", Code(YesNo), arises=FOLLOW_UP)
    finding: Mapped[Finding | None] = field("Finding", Code(Finding), arises=FOLLOW_UP, needed=Stage.FOLLOW_UP)
    every_calyx_seen: Mapped[YesNo | None] = field(
        "Every calyx seen", Code(YesNo), arises=FOLLOW_UP, help="second look only"
    )
    hydronephrosis: Mapped[Severity | None] = field(
        "Hydronephrosis", Code(Severity), arises=FOLLOW_UP, needed=Stage.FOLLOW_UP
    )
    wording: Mapped[str | None] = field("Wording of the report", Note())


class Fragment(Row, Base):
    """One fragment, or a number of like fragments, in a reading."""

    label, key_fields = "Fragment", ("reading_id", "fragment_number")
    about = "One fragment, or a number of like fragments, in a reading."

    reading_id: Mapped[int] = link("Reading", "reading")
    fragment_number: Mapped[int] = field("Fragment", Whole("", 1, 99), needed=Stage.ENTRY, default=1)
    location: Mapped[StoneLocation | None] = field("Location", Code(StoneLocation), arises=FOLLOW_UP)
    diameter_low_mm: Mapped[float | None] = field(
        "Longest diameter, low",
        Number("mm", 0, 200, (0, 40)),  # a range may begin at nothing
        arises=FOLLOW_UP,
        needed=Stage.FOLLOW_UP,
        help="of one fragment; the same as high when one size is given",
    )
    diameter_high_mm: Mapped[float | None] = field(
        "Longest diameter, high", Number("mm", 0, 200, (0.5, 40)), arises=FOLLOW_UP, needed=Stage.FOLLOW_UP
    )
    larger_than_low: Mapped[YesNo | None] = field(
        "Larger than the low diameter",
        Code(YesNo),
        arises=FOLLOW_UP,
        help="yes when the report says 'larger than', so that the low diameter itself is left out",
    )
    cluster_extent_mm: Mapped[float | None] = field(
        "Extent of the cluster", Number("mm", 0, 200, (1, 40)), arises=FOLLOW_UP
    )
    fragment_count: Mapped[int | None] = field("How many", Whole("", 1, 500, (1, 20)), arises=FOLLOW_UP)
    kind: Mapped[FragmentKind] = field("Kind", Code(FragmentKind), arises=FOLLOW_UP, needed=Stage.ENTRY)
    origin: Mapped[FragmentOrigin | None] = field(
        "Of which stone", Code(FragmentOrigin), arises=FOLLOW_UP, help="blank counts as not said"
    )
    stone_id: Mapped[int | None] = link("Stone", "stone", needed=None)
    wording: Mapped[str | None] = field("Wording as reported", Note())
