"""Three text files that belong together: tabs, Windows-1252, abbreviations, inches, pounds, mg/dL, h:mm."""

from __future__ import annotations

from synthetic_cohort.logs.cases import Case
from synthetic_cohort.logs.columns import Column, day, hours, number, procedure, text, words
from synthetic_cohort.logs.grid import Cell
from synthetic_cohort.logs.keys import carried
from synthetic_cohort.logs.style import Style, Table

_DAY = day("%d/%m/%y")
_LONG_DAY = day("%d/%m/%Y")
_SITES = {
    "upper_calyx": "UC", "middle_calyx": "MC", "lower_calyx": "LC", "pelvis": "P", "junction": "UPJ",
    "partial_staghorn": "PSH", "proximal_ureter": "U1", "middle_ureter": "U2", "distal_ureter": "U3",
}  # fmt: skip
_TECHNIQUES = {
    "flexible": "FU", "semirigid": "SU", "percutaneous": "PL", "mini_percutaneous": "MPL", "shock_wave": "SW",
}  # fmt: skip
_WHAT = {
    "febrile_urinary_infection": "FUI", "sepsis": "SEP", "septic_shock": "SSH", "stent_symptoms": "SSX",
    "colic": "COL", "urinary_retention": "RET", "bleeding": "BLD", "stent_migration": "MIG", "steinstrasse": "STR",
    "haematoma": "HAE", "urinoma": "URI", "thrombosis": "THR",
}  # fmt: skip
_SIDES = words({"left": "L", "right": "R"})


def _name(case: Case) -> Cell:
    family, given = case.patient["family_name"], case.patient["given_names"]
    made = (carried(case, "patient_identity.family_name", family), carried(case, "patient_identity.given_names", given))
    return Cell(f"{family}, {given}", made)


def _sheath(case: Case) -> Cell:
    of = case.sheath
    if not of:
        return Cell()
    names = ("inner_tenths_fr", "outer_tenths_fr")
    made = tuple(carried(case, f"equipment_use.model_code.{name}", of[name], 1) for name in names)
    return Cell(f"{of['inner_tenths_fr']}/{of['outer_tenths_fr']}", made)


def _wire(case: Case) -> Cell:
    size = case.wire.get("wire_thousandths_inch")
    if size is None:
        return Cell()
    return Cell(f"{size:g}", (carried(case, "equipment_use.model_code.wire_thousandths_inch", size, 2),))


def _stone(n: int) -> tuple[Column, ...]:
    at = f"stones.{n - 1}."
    return (
        Column(f"St{n} L", at + "length_mm", ("stone.length_mm",), number(1), n, unit="mm"),
        Column(f"St{n} W", at + "width_mm", ("stone.width_mm",), number(1), n, unit="mm"),
        Column(f"St{n} loc", at + "location", ("stone.location",), words(_SITES), n),
        Column(f"St{n} HU", at + "attenuation_hu", ("stone.attenuation_hu",), number(), n),
    )


_ID = Column("ID", "patient.number", ("hospital_number.number",), text, vital=True)
_OPERATIONS = (
    _ID,
    Column("Name", cell=_name, vital=True),
    Column("DOB", "patient.birth_date", ("patient_identity.birth_date",), _LONG_DAY, vital=True),
    Column("M/F", "patient.sex", ("patient.sex",), words({"female": "F", "male": "M"}), vital=True),
    Column("Dec'd", "patient.died_on", ("patient.died_on",), _DAY, vital=True),
    Column("Adm", "stay.admitted_on", ("admission.admitted_on",), _DAY, vital=True),
    Column("OP", "operation.operated_on", ("operation.operated_on",), _DAY, vital=True),
    Column("Disch", "stay.discharged_on", ("admission.discharged_on",), _DAY),
    Column("Surg", "operation.operator", ("operation_operator.operator",), text, vital=True),
    Column("Age", "operation.age_years", ("operation.age_years",), number()),
    Column("Ht (in)", "operation.height_cm", ("operation.height_cm",), number(1, "2.54"), unit="in"),
    Column("Wt (lb)", "operation.weight_kg", ("operation.weight_kg",), number(0, "0.45359237"), unit="lb"),
    Column("ASA", "operation.asa_class", ("operation.asa_class",), text),
    Column("L/R", "side.unit", ("renal_unit.unit",), _SIDES, vital=True),
    Column("Proc", cell=procedure(_TECHNIQUES, "DJ"), vital=True),
    Column("Stg", "side.stage_number", ("treated_side.stage_number",), number(), vital=True),
    Column("Dur (h:mm)", "operation.operating_min", ("operation.operating_min",), hours),
    *_stone(1),
    *_stone(2),
    Column("Sheath Ø (Fr)", cell=_sheath, vital=True),
    Column("Wire (in)", cell=_wire, vital=True),
    Column("Scope Ø (Fr)", "scope.shaft_tenths_fr", ("equipment_use.model_code.shaft_tenths_fr",), number(1), 3,
           vital=True),
    Column("Las", "laser.energy_source", ("lithotripsy_setting.energy_source",), vital=True,
           show=words({"holmium_laser": "H", "thulium_fibre_laser": "T"})),
    Column("J", "laser.pulse_energy_j", ("lithotripsy_setting.pulse_energy_j",), number(2)),
    Column("Hz", "laser.frequency_hz", ("lithotripsy_setting.frequency_hz",), number()),
    Column("kJ", "laser.total_energy_kj", ("lithotripsy_setting.total_energy_kj",), number(2)),
    Column("Las min", "laser.emission_min", ("lithotripsy_setting.emission_min",), number(1)),
    Column("Suct", "side.suction", ("treated_side.suction",), words({"through_sheath": "+", "none": "0"})),
    Column("Vac (mmHg)", "side.suction_level_kpa", ("treated_side.suction_level_kpa",), number(0, "0.133322387415"),
           unit="mmHg"),
    Column("DJ in", "drain.placed_on", ("drain.placed_on",), _DAY, vital=True),
    Column("DJ out", "drain.removed_on", ("drain.removed_on",), _DAY),
    Column("Lab date", "blood.observed_on", ("observation_set.observed_on",), _DAY, vital=True),
    Column("Cr (mg/dL)", "blood.creatinine_umol_l", ("observation_set.creatinine_umol_l",), number(2, "88.4"),
           unit="mg/dL"),
    Column("Hb (g/dL)", "blood.haemoglobin_g_l", ("observation_set.haemoglobin_g_l",), number(1, "10"), unit="g/dL"),
    Column("MSU date", "culture.taken_on", ("culture.taken_on",), _DAY, vital=True),
    Column("MSU", "culture.result", ("culture.result",), vital=True,
           show=words({"positive": "pos", "negative": "neg", "contaminated": "mixed"})),
    Column("Rmks"),
)  # fmt: skip
_SCANS = (
    _ID,
    Column("Date", "scan.examined_on", ("examination.examined_on",), _DAY, vital=True),
    Column("Exam", "scan.modality", ("examination.modality",), vital=True,
           show=words({"ct": "CT", "ultrasound": "U", "kub": "K"})),
    Column("L/R", "reading.unit", ("reading.unit",), _SIDES, vital=True),
    Column("Res", "reading.finding", ("reading.finding",), vital=True,
           show=words({"none_seen": "0", "fragments": "+", "indeterminate": "?"})),
    Column("max mm", "fragments.0.diameter_low_mm", ("fragment.diameter_low_mm", "fragment.diameter_high_mm"),
           number(1), unit="mm", vital=True),
    Column("loc", "fragments.0.location", ("fragment.location",), words(_SITES)),
)  # fmt: skip
_COMPLICATIONS = (
    _ID,
    Column("OP", "complication.operated_on", (), _DAY, vital=True),
    Column("L/R", "complication.unit", ("complication.unit",), _SIDES, vital=True),
    Column("What", "complication.what", ("complication.what",), words(_WHAT), vital=True),
    Column("Onset", "complication.onset_on", ("complication.onset_on",), _DAY),
    Column("CD", "complication.grade", ("grading.grade",), text, vital=True),
)

TABS = Style(
    name="tabs",
    about="Three text files: tabs, Windows-1252, abbreviations, dd/mm/yy, inches, pounds, mg/dL, mmHg, h:mm.",
    tables=(
        Table("ops.txt", _OPERATIONS),
        Table("scans.txt", _SCANS, about="scan", keep=lambda case: bool(case.scan)),
        Table("complications.txt", _COMPLICATIONS, about="complication", keep=lambda case: bool(case.complication)),
    ),
    workbook=False,
    encoding="windows-1252",
    delimiter="\t",
    marks=("?", "n/a", "-"),
)
