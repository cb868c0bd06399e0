"""A workbook with one sheet a year: two rows for two sides, stone-free as yes or no, equipment piece by piece."""

from __future__ import annotations

from synthetic_cohort.logs.cases import Case
from synthetic_cohort.logs.columns import Column, number, procedure, real_day, text, words
from synthetic_cohort.logs.grid import Carried, Cell
from synthetic_cohort.logs.keys import carried
from synthetic_cohort.logs.style import Style, Table

AT_MM = 2.0
_SITES = {
    "upper_calyx": "upper", "middle_calyx": "mid", "lower_calyx": "lower", "pelvis": "pelvis", "junction": "PUJ",
    "partial_staghorn": "staghorn", "proximal_ureter": "prox ureter", "middle_ureter": "mid ureter",
    "distal_ureter": "dist ureter",
}  # fmt: skip
_TECHNIQUES = {
    "flexible": "Flexible URS", "semirigid": "Rigid URS", "percutaneous": "PCNL", "mini_percutaneous": "Mini PCNL",
    "shock_wave": "Lithotripsy",
}  # fmt: skip
_EVENTS = {
    "febrile_urinary_infection": "Fever/UTI", "sepsis": "Urosepsis", "septic_shock": "Septic shock",
    "stent_symptoms": "Stent pain", "colic": "Colic", "urinary_retention": "Retention", "bleeding": "Bleeding",
    "stent_migration": "Stent moved", "steinstrasse": "Steinstrasse", "haematoma": "Haematoma", "urinoma": "Urinoma",
    "thrombosis": "DVT/PE",
}  # fmt: skip
_WHOLE = number(typed=True)
_TENTH = number(1, typed=True)


def _size(n: int) -> Column:
    def cell(case: Case) -> Cell:
        if len(case.stones) < n:
            return Cell()
        stone = case.stones[n - 1]
        length, width = round(stone["length_mm"], 1), round(stone["width_mm"], 1)
        made = (carried(case, "stone.length_mm", length, n), carried(case, "stone.width_mm", width, n))
        return Cell(f"{length:g} x {width:g}", made)

    return Column(f"Stone {n} LxW (mm)", cell=cell)


def _stone(n: int) -> tuple[Column, ...]:
    at = f"stones.{n - 1}."
    return (
        _size(n),
        Column(f"Stone {n} site", at + "location", ("stone.location",), words(_SITES), n),
        Column(f"Stone {n} HU", at + "attenuation_hu", ("stone.attenuation_hu",), _WHOLE, n, unit="HU"),
    )


def _sheath(case: Case) -> Cell:
    """A sheath, as ``12/14Fr 45cm``, with the word suction where it has it."""
    of = case.sheath
    if not of:
        return Cell()
    names = ("inner_tenths_fr", "outer_tenths_fr", "length_cm", "suction")
    made = tuple(carried(case, f"equipment_use.model_code.{name}", of[name], 2) for name in names)
    return Cell(f"{of['inner_tenths_fr']}/{of['outer_tenths_fr']}Fr {of['length_cm']}cm "
                f"{'suction' if of['suction'] == 'yes' else 'plain'}", made)  # fmt: skip


def _laser(source: str, heading: str, name: str, step: str, places: int) -> Column:
    def cell(case: Case) -> Cell:
        if case.laser.get("energy_source") != source or case.laser.get(name) is None:
            return Cell()
        shown = number(places, step, typed=True)(case.laser[name])
        assert shown is not None
        return Cell(shown[0], (carried(case, f"lithotripsy_setting.{name}", shown[1]),))

    return Column(heading, cell=cell)


def _free(case: Case) -> bool | None:
    """Nothing above the size at which the unit calls a kidney free; None where nobody could tell."""
    match case.reading.get("finding"):
        case "none_seen":
            return True
        case "fragments":
            return max(float(of["diameter_low_mm"]) for of in case.fragments) <= AT_MM
        case _:
            return None


def _by_ct(case: Case) -> bool:
    return case.scan.get("modality") == "ct"


def _scanned_on(ct: bool) -> Column:
    def cell(case: Case) -> Cell:
        if case.scan.get("modality") != ("ct" if ct else "ultrasound") or _free(case) is None:
            return Cell()
        on = case.scan["examined_on"]
        return Cell(on, (carried(case, "examination.examined_on", on),))

    return Column("CT date" if ct else "US date", cell=cell, vital=True)


def _free_at_2(case: Case) -> Cell:
    """Yes or no at 2 mm, by CT: a range of sizes."""
    free = _free(case)
    if free is None or not _by_ct(case):
        return Cell()
    word = "y" if free else "n"
    made: list[Carried] = [carried(case, "reading.finding", "fragments"), carried(case, "reading.wording", word)]
    made.append(carried(case, "fragment.diameter_low_mm", 0.0 if free else AT_MM))
    made.append(carried(case, *(("fragment.diameter_high_mm", AT_MM) if free else ("fragment.larger_than_low", "yes"))))
    return Cell(word, tuple(made))


def _free_at_nothing(case: Case) -> Cell:
    """Yes or no with no size said, by ultrasound: a wording and nothing more."""
    free = _free(case)
    if free is None or case.scan.get("modality") != "ultrasound":
        return Cell()
    word = "yes" if free else "no"
    made = (carried(case, "reading.finding", "indeterminate"), carried(case, "reading.wording", word))
    return Cell(word, made)


_COLUMNS = (
    Column("Hosp. No.", "patient.number", ("hospital_number.number",), text, vital=True),
    Column("Surname", "patient.family_name", ("patient_identity.family_name",), text, vital=True),
    Column("Forename", "patient.given_names", ("patient_identity.given_names",), text, vital=True),
    Column("DOB", "patient.birth_date", ("patient_identity.birth_date",), real_day, vital=True),
    Column("Sex", "patient.sex", ("patient.sex",), words({"female": "Female", "male": "Male"}), vital=True),
    Column("RIP", "patient.died_on", ("patient.died_on",), real_day, vital=True),
    Column("Admission", "stay.admitted_on", ("admission.admitted_on",), real_day, vital=True),
    Column("Op date", "operation.operated_on", ("operation.operated_on",), real_day, vital=True),
    Column("Discharge", "stay.discharged_on", ("admission.discharged_on",), real_day),
    Column("Surgeon", "operation.operator", ("operation_operator.operator",), text, vital=True),
    Column("Age", "operation.age_years", ("operation.age_years",), _WHOLE),
    Column("Height", "operation.height_cm", ("operation.height_cm",), _WHOLE, unit="cm"),
    Column("Weight", "operation.weight_kg", ("operation.weight_kg",), _TENTH, unit="kg"),
    Column("BMI"),
    Column("Side", "side.unit", ("renal_unit.unit",), words({"left": "Left", "right": "Right"}), vital=True),
    Column("Operation", cell=procedure(_TECHNIQUES, "Stent only"), vital=True),
    Column("Stage", "side.stage_number", ("treated_side.stage_number",), _WHOLE, vital=True),
    Column("Minutes", "operation.operating_min", ("operation.operating_min",), _WHOLE, unit="min"),
    *_stone(1),
    *_stone(2),
    *_stone(3),
    Column("Scope (Fr)", "scope.shaft_tenths_fr", ("equipment_use.model_code.shaft_tenths_fr",), _TENTH, 1, unit="Fr",
           vital=True),
    Column("Access sheath", cell=_sheath, vital=True),
    _laser("holmium_laser", "Ho pulse (J)", "pulse_energy_j", "1", 2),
    _laser("holmium_laser", "Ho rate (Hz)", "frequency_hz", "1", 0),
    _laser("holmium_laser", "Ho total (J)", "total_energy_kj", "0.001", 0),
    _laser("holmium_laser", "Ho time (min)", "emission_min", "1", 1),
    _laser("thulium_fibre_laser", "TFL pulse (J)", "pulse_energy_j", "1", 2),
    _laser("thulium_fibre_laser", "TFL rate (Hz)", "frequency_hz", "1", 0),
    _laser("thulium_fibre_laser", "TFL total (kJ)", "total_energy_kj", "1", 2),
    _laser("thulium_fibre_laser", "TFL time (min)", "emission_min", "1", 1),
    Column("Suction used", "side.suction", ("treated_side.suction",), words({"through_sheath": "Yes", "none": "No"})),
    Column("Stent in", "drain.placed_on", ("drain.placed_on",), real_day, vital=True),
    Column("Stent out", "drain.removed_on", ("drain.removed_on",), real_day),
    _scanned_on(True),
    Column("SF 2mm", cell=_free_at_2, vital=True),
    _scanned_on(False),
    Column("SFR", cell=_free_at_nothing, vital=True),
    Column("Complication", "complication.what", ("complication.what",), words(_EVENTS), vital=True),
    Column("Date of complication", "complication.onset_on", ("complication.onset_on",), real_day),
    Column("Clavien-Dindo", "complication.grade", ("grading.grade",), text, vital=True),
    Column("Remarks"),
)  # fmt: skip

YEARLY = Style(
    name="yearly",
    about="A workbook: one sheet a year, two rows for two sides, stone-free as yes or no, joules and kilojoules.",
    tables=(Table("stone-log.xlsx", _COLUMNS, title=lambda case: str(case.on.year)),),
    workbook=True,
    total="Year total",
    marks=("?", "n/k", "-"),
)
