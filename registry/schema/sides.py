"""The treated side: one renal unit treated in one operation, the default unit of analysis."""

from __future__ import annotations

from sqlalchemy.orm import Mapped

from registry.schema.base import Base, Row
from registry.schema.fields import Arises, Code, Note, Number, Stage, Whole, field, link
from registry.schema.lists_common import Severity, YesNo
from registry.schema.lists_operation import (
    AngleMethod,
    Conduct,
    ConductReason,
    Dilation,
    EnergySource,
    ExitStrategy,
    FurthestPoint,
    IntraoperativeEvent,
    IrrigationDrive,
    LithotripsyMode,
    Localisation,
    PulseMode,
    Purpose,
    Satava,
    SettingScope,
    Suction,
    SuctionControl,
    SuctionPattern,
    SurgeonJudgement,
    Technique,
    UretericLesion,
    Visibility,
    WallInjury,
)
from registry.schema.lists_stone import StoneLocation

BEFORE, CHOICE, ACCESS, AFTER = Arises.BEFORE, Arises.CHOICE, Arises.ACCESS, Arises.AFTER_ACCESS
OPERATION = Stage.OPERATION


class TreatedSide(Row, Base):
    """One renal unit treated in one operation."""

    label, key_fields = "Treated side", ("operation_id", "renal_unit_id")
    about = "One renal unit treated in one operation. A bilateral operation has two."

    operation_id: Mapped[int] = link("Operation", "operation")
    renal_unit_id: Mapped[int] = link("Renal unit", "renal_unit")
    intent: Mapped[Purpose] = field("Intent on this side", Code(Purpose), arises=BEFORE, needed=Stage.ENTRY)
    course_id: Mapped[int | None] = link("Course", "course", needed=None)
    stage_number: Mapped[int | None] = field(
        "Stage of the course",
        Whole("", 0, 20),
        arises=BEFORE,
        help="0 is the index; blank for an unplanned retreatment",
    )
    conduct: Mapped[Conduct | None] = field(
        "How far it went", Code(Conduct), arises=AFTER, needed=OPERATION, default=None
    )
    conduct_reason: Mapped[ConductReason | None] = field(
        "Why not started or abandoned", Code(ConductReason), arises=AFTER
    )
    hydronephrosis: Mapped[Severity | None] = field("Hydronephrosis", Code(Severity), arises=BEFORE, needed=OPERATION)
    pre_stented: Mapped[YesNo | None] = field("Stented before", Code(YesNo), arises=BEFORE, needed=OPERATION)
    pre_stented_days: Mapped[int | None] = field("Days stented before", Whole("d", 0, 3650, (1, 180)), arises=BEFORE)
    nephrostomy_before: Mapped[YesNo | None] = field("Nephrostomy before", Code(YesNo), arises=BEFORE)
    infundibulopelvic_angle_deg: Mapped[int | None] = field(
        "Lower-pole infundibulopelvic angle", Whole("deg", 0, 180, (20, 120)), arises=BEFORE
    )
    angle_method: Mapped[AngleMethod | None] = field("How the angle was measured", Code(AngleMethod))
    infundibular_length_mm: Mapped[float | None] = field(
        "Lower-pole infundibular length", Number("mm", 1, 100, (5, 50)), arises=BEFORE
    )
    infundibular_width_mm: Mapped[float | None] = field(
        "Lower-pole infundibular width", Number("mm", 0.1, 50, (1, 20)), arises=BEFORE
    )
    ureter_dilated: Mapped[YesNo | None] = field("Ureter dilated", Code(YesNo), arises=ACCESS)
    access_gained: Mapped[YesNo | None] = field("Access gained as meant", Code(YesNo), arises=ACCESS, needed=OPERATION)
    sheath_furthest: Mapped[FurthestPoint | None] = field(
        "Furthest point the sheath's tip reached", Code(FurthestPoint), arises=ACCESS
    )
    sheath_in_upper_calyx: Mapped[YesNo | None] = field("Sheath entered the upper calyx", Code(YesNo), arises=AFTER)
    sheath_in_middle_calyx: Mapped[YesNo | None] = field("Sheath entered the middle calyx", Code(YesNo), arises=AFTER)
    sheath_in_lower_calyx: Mapped[YesNo | None] = field("Sheath entered the lower calyx", Code(YesNo), arises=AFTER)
    safety_wire: Mapped[YesNo | None] = field("Safety wire", Code(YesNo), arises=CHOICE)
    working_wire: Mapped[YesNo | None] = field("Working wire", Code(YesNo), arises=CHOICE)
    stone_relocated: Mapped[YesNo | None] = field("Stone relocated", Code(YesNo), arises=AFTER)
    irrigation_drive: Mapped[IrrigationDrive | None] = field(
        "How irrigation was driven", Code(IrrigationDrive), arises=CHOICE, needed=OPERATION
    )
    irrigation_height_cm: Mapped[int | None] = field("Height of the bag", Whole("cm", 0, 300, (20, 150)), arises=CHOICE)
    irrigation_set_pressure_mmhg: Mapped[int | None] = field(
        "Set pressure of pump or bag", Whole("mmHg", 0, 500, (20, 300)), arises=CHOICE
    )
    hand_flushes: Mapped[YesNo | None] = field("Extra flushes by hand", Code(YesNo), arises=AFTER)
    irrigation_flow_ml_min: Mapped[float | None] = field(
        "Irrigation flow", Number("mL/min", 0, 2000, (5, 200)), arises=AFTER
    )
    irrigation_in_ml: Mapped[int | None] = field("Irrigation in", Whole("mL", 0, 60000, (100, 20000)), arises=AFTER)
    irrigation_out_ml: Mapped[int | None] = field("Irrigation out", Whole("mL", 0, 60000, (50, 20000)), arises=AFTER)
    irrigation_temperature_c: Mapped[float | None] = field(
        "Temperature of irrigation", Number("Cel", 0, 45, (15, 40)), arises=CHOICE
    )
    suction: Mapped[Suction | None] = field("Suction", Code(Suction), arises=CHOICE, needed=OPERATION)
    suction_control: Mapped[SuctionControl | None] = field(
        "How suction was controlled", Code(SuctionControl), arises=AFTER
    )
    suction_level_kpa: Mapped[float | None] = field(
        "Suction level",
        Number("kPa", 0, 100, (1, 40)),
        arises=AFTER,
        help="below atmosphere, written as a positive number",
    )
    suction_pattern: Mapped[SuctionPattern | None] = field(
        "Continuous or intermittent", Code(SuctionPattern), arises=AFTER
    )
    collapse_seen: Mapped[YesNo | None] = field("Collapse of the collecting system seen", Code(YesNo), arises=AFTER)
    fragments_washed_out: Mapped[YesNo | None] = field(
        "Fragments washed out beside the scope", Code(YesNo), arises=AFTER
    )
    fragments_drawn_out: Mapped[YesNo | None] = field(
        "Fragments drawn out behind the withdrawn scope", Code(YesNo), arises=AFTER
    )
    fragments_retrieved: Mapped[YesNo | None] = field(
        "Fragments taken out with a retrieval device", Code(YesNo), arises=AFTER
    )
    fragments_left_to_pass: Mapped[YesNo | None] = field("Fragments left to pass", Code(YesNo), arises=AFTER)
    pressure_baseline_cmh2o: Mapped[float | None] = field(
        "Intrarenal pressure, baseline", Number("cm[H2O]", -20, 500, (0, 40)), arises=AFTER
    )
    pressure_mean_cmh2o: Mapped[float | None] = field(
        "Intrarenal pressure, mean", Number("cm[H2O]", -20, 500, (0, 100)), arises=AFTER
    )
    pressure_highest_cmh2o: Mapped[float | None] = field(
        "Intrarenal pressure, highest", Number("cm[H2O]", -20, 1000, (0, 450)), arises=AFTER
    )
    pressure_threshold_cmh2o: Mapped[float | None] = field(
        "Pressure threshold", Number("cm[H2O]", 1, 500, (10, 60)), arises=AFTER
    )
    pressure_above_threshold_s: Mapped[int | None] = field(
        "Time above the pressure threshold", Whole("s", 0, 86400, (0, 7200)), arises=AFTER
    )
    visibility: Mapped[Visibility | None] = field("View", Code(Visibility), arises=AFTER)
    ureteric_lesion: Mapped[UretericLesion | None] = field(
        "Ureteric lesion (post-ureteroscopic lesion scale)",
        Code(UretericLesion),
        arises=AFTER,
        needed=OPERATION,
        source=UretericLesion.source(),
    )
    wall_injury: Mapped[WallInjury | None] = field(
        "Ureteric wall injury after a sheath", Code(WallInjury), arises=AFTER, source=WallInjury.source()
    )
    satava: Mapped[Satava | None] = field(
        "Modified Satava grade", Code(Satava), arises=AFTER, needed=OPERATION, source=Satava.source()
    )
    surgeon_judgement: Mapped[SurgeonJudgement | None] = field(
        "Left at the end, as the surgeon judged",
        Code(SurgeonJudgement),
        arises=AFTER,
        needed=OPERATION,
        source=SurgeonJudgement.source(),
    )
    exit_strategy: Mapped[ExitStrategy | None] = field(
        "Drainage at the end", Code(ExitStrategy), arises=AFTER, needed=OPERATION
    )
    planned_dwell_d: Mapped[int | None] = field(
        "Planned dwell of the drainage", Whole("d", 0, 365, (1, 60)), arises=AFTER
    )
    lithotripsy_min: Mapped[float | None] = field("Lithotripsy minutes", Number("min", 0, 1440, (1, 240)), arises=AFTER)
    side_operating_min: Mapped[int | None] = field(
        "Minutes on this side", Whole("min", 0, 1440, (5, 300)), arises=AFTER
    )
    side_fluoroscopy_s: Mapped[int | None] = field(
        "Fluoroscopy on this side", Whole("s", 0, 7200, (0, 900)), arises=AFTER
    )
    side_dose_area_product_gy_cm2: Mapped[float | None] = field(
        "Dose-area product on this side", Number("Gy cm2", 0, 1000, (0, 50)), arises=AFTER
    )
    note: Mapped[str | None] = field("Note", Note())


class SideTechnique(Row, Base):
    """A technique used on a side."""

    label, key_fields = "Technique", ("treated_side_id", "technique")
    about = "Techniques used on a side, one row each."

    treated_side_id: Mapped[int] = link("Treated side", "treated_side")
    technique: Mapped[Technique] = field("Technique", Code(Technique), arises=BEFORE, needed=Stage.ENTRY)


class SideEvent(Row, Base):
    """An event in the operation."""

    label, key_fields = "Event in the operation", ("treated_side_id", "event_number")
    about = "Events in the operation, one row each."

    treated_side_id: Mapped[int] = link("Treated side", "treated_side")
    event_number: Mapped[int] = field("Event", Whole("", 1, 50), needed=Stage.ENTRY, default=1)
    event: Mapped[IntraoperativeEvent] = field(
        "What happened", Code(IntraoperativeEvent), arises=AFTER, needed=Stage.ENTRY
    )
    location: Mapped[StoneLocation | None] = field("Where", Code(StoneLocation), arises=AFTER)
    converted_to: Mapped[Technique | None] = field("Converted to", Code(Technique), arises=AFTER)
    note: Mapped[str | None] = field("Note", Note())


class LithotripsySetting(Row, Base):
    """One setting of the energy used to break the stone."""

    label, key_fields = "Lithotripsy setting", ("treated_side_id", "setting_number")
    about = "Settings of the energy used on a side, one row each."

    treated_side_id: Mapped[int] = link("Treated side", "treated_side")
    setting_number: Mapped[int] = field("Setting", Whole("", 1, 50), needed=Stage.ENTRY, default=1)
    energy_source: Mapped[EnergySource] = field("Energy source", Code(EnergySource), arises=CHOICE, needed=Stage.ENTRY)
    pulse_energy_j: Mapped[float | None] = field(
        "Pulse energy", Number("J", 0.005, 10, (0.02, 6)), arises=AFTER, needed=OPERATION
    )
    frequency_hz: Mapped[float | None] = field(
        "Frequency", Number("Hz", 0.1, 3000, (3, 500)), arises=AFTER, needed=OPERATION
    )
    power_w: Mapped[float | None] = field("Power", Number("W", 0.01, 300, (1, 120)), arises=AFTER)
    pulse_mode: Mapped[PulseMode | None] = field("Pulse mode", Code(PulseMode), arises=AFTER)
    mode: Mapped[LithotripsyMode | None] = field("Dusting or fragmenting", Code(LithotripsyMode), arises=AFTER)
    counted: Mapped[SettingScope | None] = field("Energy and minutes are of", Code(SettingScope), arises=AFTER)
    total_energy_kj: Mapped[float | None] = field(
        "Total energy", Number("kJ", 0, 500, (0.1, 100)), arises=AFTER, needed=OPERATION
    )
    emission_min: Mapped[float | None] = field(
        "Emission minutes", Number("min", 0, 600, (0.5, 120)), arises=AFTER, needed=OPERATION
    )


class ShockWaveSession(Row, Base):
    """One application of shock waves to a side."""

    label, key_fields = "Shock-wave session", ("treated_side_id", "session_number")
    about = "Shock waves applied to a side."

    treated_side_id: Mapped[int] = link("Treated side", "treated_side")
    session_number: Mapped[int] = field("Session", Whole("", 1, 20), needed=Stage.ENTRY, default=1)
    shocks: Mapped[int | None] = field("Shocks", Whole("shocks", 0, 20000, (500, 5000)), arises=AFTER, needed=OPERATION)
    level: Mapped[float | None] = field(
        "Highest level", Number("", 0, 100), arises=AFTER, help="on the source's own scale"
    )
    rate_per_min: Mapped[int | None] = field("Rate", Whole("/min", 10, 300, (30, 120)), arises=AFTER)
    ramped: Mapped[YesNo | None] = field("Energy ramped up", Code(YesNo), arises=AFTER)
    localisation: Mapped[Localisation | None] = field("Localised by", Code(Localisation), arises=AFTER)


class Tract(Row, Base):
    """A percutaneous tract."""

    label, key_fields = "Tract", ("treated_side_id", "tract_number")
    about = "Percutaneous tracts of a side."

    treated_side_id: Mapped[int] = link("Treated side", "treated_side")
    tract_number: Mapped[int] = field("Tract", Whole("", 1, 20), needed=Stage.ENTRY, default=1)
    calyx: Mapped[StoneLocation | None] = field("Calyx entered", Code(StoneLocation), arises=ACCESS)
    size_tenths_fr: Mapped[int | None] = field(
        "Size of the tract",
        Whole("0.1 Fr", 30, 400, (40, 300), scale=10, typed_unit="Fr"),
        arises=CHOICE,
        needed=OPERATION,
    )
    guidance: Mapped[Localisation | None] = field("Guided by", Code(Localisation), arises=ACCESS)
    dilation: Mapped[Dilation | None] = field("Dilated by", Code(Dilation), arises=ACCESS)
    tubeless: Mapped[YesNo | None] = field("No nephrostomy left", Code(YesNo), arises=AFTER)
