"""Stones, what was aimed at, and what they are made of."""

from __future__ import annotations

from datetime import date

from sqlalchemy.orm import Mapped

from registry.schema.base import Base, Row
from registry.schema.fields import Arises, Code, Day, Number, Stage, Whole, field, link
from registry.schema.lists_common import YesNo
from registry.schema.lists_operation import Aim, Reached
from registry.schema.lists_stone import (
    AnalysisMethod,
    AnalysisState,
    AttenuationMethod,
    CalyxFace,
    Modality,
    RadioOpacity,
    StoneComponent,
    StoneLocation,
    StoneSite,
)

BEFORE, AFTER, FOLLOW_UP = Arises.BEFORE, Arises.AFTER_ACCESS, Arises.FOLLOW_UP
OPERATION = Stage.OPERATION


class Stone(Row, Base):
    """One stone of a course, present before its index operation."""

    label, key_fields = "Stone", ("course_id", "stone_number")
    about = "One stone of a course, present before its index operation."

    course_id: Mapped[int] = link("Course", "course")
    stone_number: Mapped[int] = field("Stone", Whole("", 1, 99), needed=Stage.ENTRY, default=1)
    location: Mapped[StoneLocation | None] = field("Location", Code(StoneLocation), arises=BEFORE, needed=OPERATION)
    calyx_face: Mapped[CalyxFace | None] = field("Anterior or posterior calyx", Code(CalyxFace), arises=BEFORE)
    length_mm: Mapped[float | None] = field(
        "Length",
        Number("mm", 0.5, 200, (2, 60)),
        arises=BEFORE,
        needed=OPERATION,
        help="the longest diameter in any plane",
    )
    width_mm: Mapped[float | None] = field("Width", Number("mm", 0.5, 200, (2, 60)), arises=BEFORE, needed=OPERATION)
    depth_mm: Mapped[float | None] = field("Depth", Number("mm", 0.5, 200, (2, 60)), arises=BEFORE)
    volume_mm3: Mapped[float | None] = field(
        "Volume, if segmented", Number("mm3", 0.1, 500000, (5, 50000)), arises=BEFORE
    )
    attenuation_hu: Mapped[int | None] = field(
        "Attenuation",
        Whole("[hnsf'U]", -100, 4000, (200, 1800)),
        arises=BEFORE,
        needed=OPERATION,
        help="Hounsfield units",
    )
    attenuation_method: Mapped[AttenuationMethod | None] = field(
        "How attenuation was measured", Code(AttenuationMethod)
    )
    radio_opacity: Mapped[RadioOpacity | None] = field("On a plain film", Code(RadioOpacity), arises=BEFORE)
    skin_to_stone_mm: Mapped[float | None] = field(
        "Skin-to-stone distance",
        Number("mm", 10, 400, (40, 200)),
        arises=BEFORE,
        help="mean of 0, 45 and 90 degrees",
    )
    impacted: Mapped[YesNo | None] = field("Impacted", Code(YesNo), arises=BEFORE)
    measured_by: Mapped[Modality | None] = field("Measured by", Code(Modality), arises=BEFORE, needed=OPERATION)
    measured_on: Mapped[date | None] = field("Measured on", Day(), arises=BEFORE, needed=OPERATION)
    measured_slice_mm: Mapped[float | None] = field(
        "Slice thickness of that scan", Number("mm", 0.1, 20, (0.5, 5)), arises=BEFORE
    )


class FilledSite(Row, Base):
    """A site of the collecting system that a stone fills."""

    label, key_fields = "Site filled by a stone", ("stone_id", "site_filled")
    about = "Sites of the collecting system that a stone fills, as many as there are."

    stone_id: Mapped[int] = link("Stone", "stone")
    site_filled: Mapped[StoneSite] = field("Site", Code(StoneSite), arises=BEFORE, needed=Stage.ENTRY)


class StoneAim(Row, Base):
    """What was meant to happen to a stone in an operation, and what did."""

    label, key_fields = "Stone aimed at", ("treated_side_id", "stone_id")
    about = "Links a stone to each operation that aimed at it or left it on purpose."

    treated_side_id: Mapped[int] = link("Treated side", "treated_side")
    stone_id: Mapped[int] = link("Stone", "stone")
    aim: Mapped[Aim] = field("Aim", Code(Aim), arises=BEFORE, needed=Stage.ENTRY)
    recorded_before_access: Mapped[YesNo | None] = field(
        "Recorded before access",
        Code(YesNo),
        arises=BEFORE,
        help="a stone counts as left on purpose only when that was recorded before access",
    )
    result: Mapped[Reached | None] = field("Result", Code(Reached), arises=AFTER)


class StoneAnalysis(Row, Base):
    """Analysis of what a stone is made of."""

    label, key_fields = "Stone analysis", ("renal_unit_id", "analysis_number")
    about = "What a stone was made of; from an operation, or passed at home."

    renal_unit_id: Mapped[int] = link("Renal unit", "renal_unit")
    analysis_number: Mapped[int] = field("Analysis", Whole("", 1, 99), needed=Stage.ENTRY, default=1)
    operation_id: Mapped[int | None] = link("Operation", "operation", needed=None)
    stone_id: Mapped[int | None] = link("Stone", "stone", needed=None)
    passed_at_home: Mapped[YesNo | None] = field("Passed at home", Code(YesNo), arises=FOLLOW_UP)
    method: Mapped[AnalysisMethod | None] = field("Method", Code(AnalysisMethod), arises=FOLLOW_UP)
    state: Mapped[AnalysisState | None] = field("State", Code(AnalysisState), arises=FOLLOW_UP)
    sent_on: Mapped[date | None] = field("Sent on", Day(), arises=FOLLOW_UP)
    reported_on: Mapped[date | None] = field("Reported on", Day(), arises=FOLLOW_UP)


class AnalysisComponent(Row, Base):
    """A component of an analysed stone."""

    label, key_fields = "Component", ("stone_analysis_id", "component")
    about = "Components of an analysed stone with their shares."

    stone_analysis_id: Mapped[int] = link("Stone analysis", "stone_analysis")
    component: Mapped[StoneComponent] = field("Component", Code(StoneComponent), arises=FOLLOW_UP, needed=Stage.ENTRY)
    share_percent: Mapped[float | None] = field("Share", Number("%", 0, 100), arises=FOLLOW_UP)
