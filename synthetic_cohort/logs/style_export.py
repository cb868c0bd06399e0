"""A workbook that a hospital system wrote: technical headings, ISO dates with times, codes as numbers, four sheets."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from synthetic_cohort.logs.cases import Case
from synthetic_cohort.logs.columns import Column, Show, number, procedure, text
from synthetic_cohort.logs.grid import Cell
from synthetic_cohort.logs.keys import carried
from synthetic_cohort.logs.style import Style, Table

_WHOLE = number(typed=True)
_TENTH = number(1, typed=True)
_KPA_IN_CMH2O = "10.1971621297792824"
_CMH2O_IN_KPA = "0.0980665"


def _stamp(value: Any) -> tuple[str, date] | None:
    """A day as a system writes it that knows only moments."""
    return (f"{value:%Y-%m-%d}T00:00:00", value) if isinstance(value, date) else None


def _codes(of: Mapping[str, int]) -> Show:
    """A code as the number that the system keeps for it."""
    return lambda value: (of[str(value)], value) if str(value) in of else None


_YES = _codes({"yes": 1, "no": 0})
_SIDE = _codes({"left": 1, "right": 2})
_SITE = _codes({
    "upper_calyx": 11, "middle_calyx": 12, "lower_calyx": 13, "pelvis": 14, "junction": 15, "partial_staghorn": 16,
    "proximal_ureter": 21, "middle_ureter": 22, "distal_ureter": 23,
})  # fmt: skip
_TECHNIQUE = {"flexible": 1, "semirigid": 2, "percutaneous": 3, "mini_percutaneous": 4, "shock_wave": 5}
_DRAINED = 9
_EVENT = _codes({
    "febrile_urinary_infection": 1, "sepsis": 2, "septic_shock": 3, "stent_symptoms": 4, "colic": 5,
    "urinary_retention": 6, "bleeding": 7, "stent_migration": 8, "steinstrasse": 9, "haematoma": 10, "urinoma": 11,
    "thrombosis": 12,
})  # fmt: skip
_GRADE = _codes({"I": 1, "II": 2, "IIIa": 31, "IIIb": 32, "IVa": 41, "IVb": 42, "V": 5})


def _began(case: Case) -> Cell:
    """The moment at which the operation began: its day and its hour in one."""
    clock = str(case.operation["started_at"])[10:19]
    on = carried(case, "operation.operated_on", case.on)
    moment = carried(case, "operation.started_at", f"{case.on:%Y-%m-%d}{clock}+00:00")
    return Cell(f"{case.on:%Y-%m-%d}{clock}", (on, moment))


def _names_operation(case: Case) -> Cell:
    """The same moment, in a sheet where it only says which operation is meant."""
    named = _began(case)
    return Cell(named.value, named.carries[:1])


def _stone(n: int) -> tuple[Column, ...]:
    at, head = f"stones.{n - 1}.", f"FINDING_GROUP[{n}].CALCULUS."
    return (
        Column(head + "LONGEST_AXIS_VALUE_NUM (unit: mm)", at + "length_mm", ("stone.length_mm",), _TENTH, n,
               unit="mm"),
        Column(head + "SECOND_AXIS_VALUE_NUM (unit: mm)", at + "width_mm", ("stone.width_mm",), _TENTH, n, unit="mm"),
        Column(head + "ANATOMICAL_SITE_CODE", at + "location", ("stone.location",), _SITE, n),
        Column(head + "MEAN_ATTENUATION_VALUE_NUM (unit: [hnsf'U])", at + "attenuation_hu", ("stone.attenuation_hu",),
               _WHOLE, n),
    )  # fmt: skip


def _model(source: str, heading: str, show: Show, use: int, name: str, **more: Any) -> Column:
    target = f"equipment_use.model_code.{name}"
    return Column(heading, f"{source}.{name}", (target,), show, use, vital=True, **more)


_ID = Column("PATIENT.IDENTIFIER[MRN].VALUE_TXT", "patient.number", ("hospital_number.number",), text, vital=True)
_NAMED = "PROCEDURE_EVENT.PARENT.ACTUAL_START_DTTM (ISO 8601, local)"
_OF = (
    _ID,
    Column(_NAMED, cell=_names_operation, vital=True),
    Column("PROCEDURE_EVENT.PARENT.LATERALITY_CODE (1=L; 2=R)", "side.unit", ("renal_unit.unit",), _SIDE, vital=True),
)
_CASES = (
    _ID,
    Column("PATIENT.NAME[OFFICIAL].FAMILY_TXT", "patient.family_name", ("patient_identity.family_name",), text,
           vital=True),
    Column("PATIENT.NAME[OFFICIAL].GIVEN_TXT", "patient.given_names", ("patient_identity.given_names",), text,
           vital=True),
    Column("PATIENT.BIRTH_DTTM", "patient.birth_date", ("patient_identity.birth_date",), _stamp, vital=True),
    Column("PATIENT.ADMINISTRATIVE_SEX_CODE (1=M; 2=F; 9=unknown)", "patient.sex", ("patient.sex",),
           _codes({"male": 1, "female": 2}), vital=True),
    Column("PATIENT.DECEASED_DTTM", "patient.died_on", ("patient.died_on",), _stamp, vital=True),
    Column("ENCOUNTER.PERIOD.START_DTTM", "stay.admitted_on", ("admission.admitted_on",), _stamp, vital=True),
    Column("ENCOUNTER.PERIOD.END_DTTM", "stay.discharged_on", ("admission.discharged_on",), _stamp),
    Column("PROCEDURE_EVENT.ACTUAL_START_DTTM (ISO 8601, local)", cell=_began, vital=True),
    Column("PROCEDURE_EVENT.PERFORMER[PRIMARY].STAFF_CODE", "operation.operator", ("operation_operator.operator",),
           text, vital=True),
    Column("PROCEDURE_EVENT.LATERALITY_CODE (1=L; 2=R)", "side.unit", ("renal_unit.unit",), _SIDE, vital=True),
    Column("PROCEDURE_EVENT.PROCEDURE_TYPE_CODE", cell=procedure(_TECHNIQUE, _DRAINED), vital=True),
    Column("PROCEDURE_EVENT.STAGE_SEQUENCE_NUM", "side.stage_number", ("treated_side.stage_number",), _WHOLE,
           vital=True),
    Column("PROCEDURE_EVENT.DURATION_VALUE_NUM (unit: min)", "operation.operating_min", ("operation.operating_min",),
           _WHOLE, unit="min"),
    Column("PREASSESSMENT.ASA_PHYSICAL_STATUS_CODE", "operation.asa_class", ("operation.asa_class",),
           _codes({str(n): n for n in range(1, 6)})),
    Column("PREASSESSMENT.AGE_AT_EVENT_NUM", "operation.age_years", ("operation.age_years",), _WHOLE),
    Column("PREASSESSMENT.BODY_HEIGHT_VALUE_NUM (unit: cm)", "operation.height_cm", ("operation.height_cm",), _WHOLE,
           unit="cm"),
    Column("PREASSESSMENT.BODY_WEIGHT_VALUE_NUM (unit: g)", "operation.weight_kg", ("operation.weight_kg",),
           number(0, "0.001", typed=True), unit="g"),
    Column("PREASSESSMENT.DIABETES_MELLITUS_FLAG (1=Y; 0=N)", "operation.diabetes", ("operation.diabetes",), _YES),
    Column("PREASSESSMENT.HYDRONEPHROSIS_GRADE_CODE", "side.hydronephrosis", ("treated_side.hydronephrosis",),
           _codes({"none": 0, "mild": 1, "moderate": 2, "severe": 3})),
    *_stone(1),
    *_stone(2),
    *_stone(3),
    Column("PROCEDURE_EVENT.ASPIRATION_MODE_CODE (0=none; 1=via sheath)", "side.suction", ("treated_side.suction",),
           _codes({"none": 0, "through_sheath": 1})),
    Column("PROCEDURE_EVENT.ASPIRATION_SETPOINT_VALUE_NUM (unit: cm[H2O])", "side.suction_level_kpa",
           ("treated_side.suction_level_kpa",), number(1, _CMH2O_IN_KPA, typed=True), unit="cmH2O"),
    Column("PROCEDURE_EVENT.INTRARENAL_PRESSURE_MAX_VALUE_NUM (unit: kPa)", "side.pressure_highest_cmh2o",
           ("treated_side.pressure_highest_cmh2o",), number(2, _KPA_IN_CMH2O, typed=True), unit="kPa"),
    Column("DEVICE_PLACEMENT[STENT].INSERTION_DTTM", "drain.placed_on", ("drain.placed_on",), _stamp, vital=True),
    Column("DEVICE_PLACEMENT[STENT].REMOVAL_DTTM", "drain.removed_on", ("drain.removed_on",), _stamp),
    Column("ADVERSE_EVENT[1].EVENT_TYPE_CODE", "complication.what", ("complication.what",), _EVENT, vital=True),
    Column("ADVERSE_EVENT[1].LATERALITY_CODE (1=L; 2=R)", "complication.unit", ("complication.unit",), _SIDE,
           vital=True),
    Column("ADVERSE_EVENT[1].ONSET_DTTM", "complication.onset_on", ("complication.onset_on",), _stamp),
    Column("ADVERSE_EVENT[1].SEVERITY_GRADE_CODE (31=IIIa; 32=IIIb; 41=IVa; 42=IVb)", "complication.grade",
           ("grading.grade",), _GRADE, vital=True),
    Column("AUDIT.ROW_CHECKSUM"),
)  # fmt: skip
_SCANS = (
    _ID,
    Column("IMAGING_STUDY.PERFORMED_DTTM", "scan.examined_on", ("examination.examined_on",), _stamp, vital=True),
    Column("IMAGING_STUDY.MODALITY_CODE", "scan.modality", ("examination.modality",),
           _codes({"ct": 1, "ultrasound": 2, "kub": 3}), vital=True),
    Column("IMAGING_STUDY.LATERALITY_CODE (1=L; 2=R)", "reading.unit", ("reading.unit",), _SIDE, vital=True),
    Column("IMAGING_STUDY.RESULT.CALCULUS_PRESENCE_CODE (0=N; 1=Y; 2=U)", "reading.finding", ("reading.finding",),
           _codes({"none_seen": 0, "fragments": 1, "indeterminate": 2}), vital=True),
    Column("IMAGING_STUDY.RESULT.RESIDUAL_MAX_AXIS_VALUE_NUM (unit: cm)", "fragments.0.diameter_low_mm",
           ("fragment.diameter_low_mm", "fragment.diameter_high_mm"), number(2, "10", typed=True), unit="cm",
           vital=True),
    Column("IMAGING_STUDY.RESULT.RESIDUAL_ANATOMICAL_SITE_CODE", "fragments.0.location", ("fragment.location",), _SITE),
)  # fmt: skip
_ACCESS = (
    *_OF,
    _model("sheath", "DEVICE[SHEATH].INNER_CALIBRE_VALUE_NUM (unit: [Ch])", _WHOLE, 1, "inner_tenths_fr"),
    _model("sheath", "DEVICE[SHEATH].OUTER_CALIBRE_VALUE_NUM (unit: [Ch])", _WHOLE, 1, "outer_tenths_fr"),
    _model("sheath", "DEVICE[SHEATH].USABLE_LENGTH_VALUE_NUM (unit: mm)", number(0, "0.1", typed=True), 1, "length_cm"),
    _model("sheath", "DEVICE[SHEATH].ASPIRATION_CAPABLE_FLAG (1=Y; 0=N)", _YES, 1, "suction"),
    _model("scope", "DEVICE[ENDOSCOPE].SHAFT_CALIBRE_VALUE_NUM (unit: [Ch])", _TENTH, 2, "shaft_tenths_fr"),
)
_SETTING = "lithotripsy_setting."
_ENERGY = (
    *_OF,
    Column("DEVICE[LASER].SOURCE_TYPE_CODE", "laser.energy_source", (_SETTING + "energy_source",),
           _codes({"holmium_laser": 1, "thulium_fibre_laser": 2}), vital=True),
    Column("DEVICE[LASER].PULSE_ENERGY_VALUE_NUM (unit: mJ)", "laser.pulse_energy_j", (_SETTING + "pulse_energy_j",),
           number(0, "0.001", typed=True), unit="mJ"),
    Column("DEVICE[LASER].PULSE_RATE_VALUE_NUM (unit: Hz)", "laser.frequency_hz", (_SETTING + "frequency_hz",), _WHOLE,
           unit="Hz"),
    Column("DEVICE[LASER].TOTAL_ENERGY_VALUE_NUM (unit: J)", "laser.total_energy_kj", (_SETTING + "total_energy_kj",),
           number(0, "0.001", typed=True), unit="J"),
    Column("DEVICE[LASER].EMISSION_TIME_VALUE_NUM (unit: s)", "laser.emission_min", (_SETTING + "emission_min",),
           lambda value: (round(value * 60), round(value * 60) / 60), unit="s"),
    _model("wire", "DEVICE[GUIDEWIRE].DIAMETER_VALUE_NUM (unit: [in_i])", number(3, typed=True), 3,
           "wire_thousandths_inch"),
)  # fmt: skip


def _sheet(title: str) -> Any:
    return lambda case: title


EXPORT = Style(
    name="export",
    about="A workbook from a hospital system: four sheets, technical headings, ISO moments, number codes, kPa, cmH2O.",
    tables=(
        Table("extract.xlsx", _CASES, title=_sheet("PROC_EVENT"), above=("OT_UROLOGY_V4 / tenant LB / full",)),
        Table("extract.xlsx", _SCANS, about="scan", keep=lambda case: bool(case.scan), title=_sheet("IMG_STUDY")),
        Table("extract.xlsx", _ACCESS, about="access", keep=lambda case: bool(case.sheath or case.scope),
              title=_sheet("DEV_ACCESS")),
        Table("extract.xlsx", _ENERGY, about="energy", keep=lambda case: bool(case.laser or case.wire),
              title=_sheet("DEV_ENERGY")),
    ),
    workbook=True,
    total="ROWCOUNT",
    marks=("NULL", "n/a", "UNK"),
)  # fmt: skip
