"""A theatre log kept as text: semicolons, decimal commas, days first, one row a side, sizes in centimetres."""

from __future__ import annotations

from synthetic_cohort.logs.columns import Column, day, number, text, words
from synthetic_cohort.logs.style import Style, Table

_DAY = day("%d.%m.%Y")
_SITES = {
    "upper_calyx": "upper pole", "middle_calyx": "mid pole", "lower_calyx": "lower pole", "pelvis": "pelvis",
    "junction": "UPJ", "partial_staghorn": "partial staghorn", "proximal_ureter": "upper ureter",
    "middle_ureter": "mid ureter", "distal_ureter": "lower ureter",
}  # fmt: skip
_YES = {"yes": "y", "no": "n"}
_COMPLICATIONS = {
    "febrile_urinary_infection": "febrile UTI", "sepsis": "sepsis", "septic_shock": "septic shock",
    "stent_symptoms": "stent symptoms", "colic": "colic", "urinary_retention": "retention", "bleeding": "bleeding",
    "stent_migration": "stent migration", "steinstrasse": "steinstrasse", "haematoma": "haematoma",
    "urinoma": "urinoma", "thrombosis": "DVT",
}  # fmt: skip


def _stone(n: int) -> tuple[Column, ...]:
    at = f"stones.{n - 1}."
    cm = number(2, "10", comma=True)
    return (
        Column(f"Stone {n} length (cm)", at + "length_mm", ("stone.length_mm",), cm, n, unit="cm"),
        Column(f"Stone {n} width (cm)", at + "width_mm", ("stone.width_mm",), cm, n, unit="cm"),
        Column(f"Stone {n} site", at + "location", ("stone.location",), words(_SITES), n),
        Column(f"Stone {n} HU", at + "attenuation_hu", ("stone.attenuation_hu",), number(comma=True), n, unit="HU"),
    )


_PERSON = (
    Column("MRN", "patient.number", ("hospital_number.number",), text, vital=True),
    Column("Surname", "patient.family_name", ("patient_identity.family_name",), text, vital=True),
    Column("First name", "patient.given_names", ("patient_identity.given_names",), text, vital=True),
    Column("Date of birth", "patient.birth_date", ("patient_identity.birth_date",), _DAY, vital=True),
    Column("Sex", "patient.sex", ("patient.sex",), words({"female": "f", "male": "m"}), vital=True),
    Column("Deceased", "patient.died_on", ("patient.died_on",), _DAY, vital=True),
    Column("Admitted", "stay.admitted_on", ("admission.admitted_on",), _DAY, vital=True),
    Column("Discharged", "stay.discharged_on", ("admission.discharged_on",), _DAY),
)
_OPERATION = (
    Column("Date of operation", "operation.operated_on", ("operation.operated_on",), _DAY, vital=True),
    Column("Surgeon", "operation.operator", ("operation_operator.operator",), text, vital=True),
    Column("Age", "operation.age_years", ("operation.age_years",), number()),
    Column("ASA", "operation.asa_class", ("operation.asa_class",), text),
    Column("Height (m)", "operation.height_cm", ("operation.height_cm",), number(2, "100", comma=True), unit="m"),
    Column("Weight (kg)", "operation.weight_kg", ("operation.weight_kg",), number(1, comma=True), unit="kg"),
    Column("Diabetes", "operation.diabetes", ("operation.diabetes",), words(_YES)),
    Column("Side", "side.unit", ("renal_unit.unit",), words({"left": "L", "right": "R"}), vital=True),
    Column(
        "Procedure", "side.technique", ("treated_side.technique",), vital=True,
        show=words({"flexible": "RIRS", "semirigid": "URS", "percutaneous": "PCNL", "mini_percutaneous": "mini-PCNL",
                    "shock_wave": "ESWL"}),
    ),
    Column("Stage", "side.stage_number", ("treated_side.stage_number",), number(), vital=True),
    Column("Op time (min)", "operation.operating_min", ("operation.operating_min",), number(), unit="min"),
    Column("Screening (s)", "operation.fluoroscopy_s", ("operation.fluoroscopy_s",), number(), unit="s"),
)  # fmt: skip
_EQUIPMENT = (
    Column("Sheath inner (Fr)", "sheath.inner_tenths_fr", ("equipment_use.model_code.inner_tenths_fr",),
           number(comma=True), 1, unit="Fr", vital=True),
    Column("Sheath outer (Fr)", "sheath.outer_tenths_fr", ("equipment_use.model_code.outer_tenths_fr",),
           number(comma=True), 1, unit="Fr", vital=True),
    Column("Sheath length (cm)", "sheath.length_cm", ("equipment_use.model_code.length_cm",), number(comma=True), 1,
           unit="cm", vital=True),
    Column("Suction sheath", "sheath.suction", ("equipment_use.model_code.suction",), words(_YES), 1, vital=True),
    Column("Scope (Fr)", "scope.shaft_tenths_fr", ("equipment_use.model_code.shaft_tenths_fr",),
           number(1, comma=True), 2, unit="Fr", vital=True),
    Column("Laser", "laser.energy_source", ("lithotripsy_setting.energy_source",), vital=True,
           show=words({"holmium_laser": "Ho", "thulium_fibre_laser": "TFL"})),
    Column("Pulse (J)", "laser.pulse_energy_j", ("lithotripsy_setting.pulse_energy_j",), number(2, comma=True),
           unit="J"),
    Column("Rate (Hz)", "laser.frequency_hz", ("lithotripsy_setting.frequency_hz",), number(comma=True), unit="Hz"),
    Column("Energy (kJ)", "laser.total_energy_kj", ("lithotripsy_setting.total_energy_kj",), number(2, comma=True),
           unit="kJ"),
    Column("Lasing (min)", "laser.emission_min", ("lithotripsy_setting.emission_min",), number(1, comma=True),
           unit="min"),
    Column("Suction", "side.suction", ("treated_side.suction",), words({"through_sheath": "y", "none": "n"})),
    Column("Vacuum (kPa)", "side.suction_level_kpa", ("treated_side.suction_level_kpa",), number(comma=True),
           unit="kPa"),
    Column("Stent in", "drain.placed_on", ("drain.placed_on",), _DAY, vital=True),
    Column("Stent out", "drain.removed_on", ("drain.removed_on",), _DAY),
)  # fmt: skip
_AFTER = (
    Column("Scan", "scan.modality", ("examination.modality",), vital=True,
           show=words({"ct": "CT", "ultrasound": "US", "kub": "KUB"})),
    Column("Scan date", "scan.examined_on", ("examination.examined_on",), _DAY, vital=True),
    Column("Slice (mm)", "scan.slice_mm", ("examination.slice_mm",), number(1, comma=True), unit="mm"),
    Column("Seen", "reading.finding", ("reading.finding",), vital=True,
           show=words({"none_seen": "clear", "fragments": "residual", "indeterminate": "unclear"})),
    Column("Largest (mm)", "fragments.0.diameter_low_mm", ("fragment.diameter_low_mm", "fragment.diameter_high_mm"),
           number(1, comma=True), unit="mm", vital=True),
    Column("Fragment site", "fragments.0.location", ("fragment.location",), words(_SITES)),
    Column("Complication", "complication.what", ("complication.what",), words(_COMPLICATIONS), vital=True),
    Column("Onset", "complication.onset_on", ("complication.onset_on",), _DAY),
    Column("Clavien", "complication.grade", ("grading.grade",), text, vital=True),
    Column("Comments"),
)  # fmt: skip

SEMICOLON = Style(
    name="semicolon",
    about="One text file: semicolons, decimal commas, dd.mm.yyyy, sizes in cm, up to three stones a row.",
    tables=(
        Table(
            "theatre-log.csv",
            (*_PERSON, *_OPERATION, *_stone(1), *_stone(2), *_stone(3), *_EQUIPMENT, *_AFTER),
        ),
    ),
    workbook=False,
    delimiter=";",
    drainage=False,
    marks=("?", "n/a", "-", "999"),
)
