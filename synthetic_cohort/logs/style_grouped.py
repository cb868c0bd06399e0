"""A workbook with heads over heads: both kidneys in one row, whole stones in one cell, dates counted from 1904."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from synthetic_cohort.logs.cases import Case
from synthetic_cohort.logs.columns import Column, number, real_day, text, words
from synthetic_cohort.logs.grid import Carried, Cell
from synthetic_cohort.logs.keys import carried
from synthetic_cohort.logs.style import Style, Table

_SITES = {
    "upper_calyx": "UP", "middle_calyx": "MP", "lower_calyx": "LP", "pelvis": "RP", "junction": "PUJ",
    "partial_staghorn": "SH", "proximal_ureter": "PU", "middle_ureter": "MU", "distal_ureter": "DU",
}  # fmt: skip
_TECHNIQUES = {
    "flexible": "fURS", "semirigid": "srURS", "percutaneous": "PNL", "mini_percutaneous": "mPNL", "shock_wave": "SWL",
}  # fmt: skip
_EVENTS = {
    "febrile_urinary_infection": "fUTI", "sepsis": "Sepsis", "septic_shock": "Shock", "stent_symptoms": "Stent sx",
    "colic": "Colic", "urinary_retention": "AUR", "bleeding": "Bleed", "stent_migration": "Migration",
    "steinstrasse": "Steinstr.", "haematoma": "Haematoma", "urinoma": "Urinoma", "thrombosis": "VTE",
}  # fmt: skip
_WHOLE = number(typed=True)


def _mm(value: float) -> str:
    return f"{round(value, 1):g}"


def _stones(case: Case) -> Cell:
    """All stones of a side, as ``12x9x8 LP, 980HU + 6x5 MP``."""
    parts: list[str] = []
    carries: list[Carried] = []
    for n, stone in enumerate(case.stones, start=1):
        sizes = [stone[name] for name in ("length_mm", "width_mm", "depth_mm") if name in stone]
        hu = stone.get("attenuation_hu")
        said = isinstance(hu, int)
        parts.append("x".join(_mm(x) for x in sizes) + f" {_SITES[stone['location']]}" + (f", {hu}HU" if said else ""))
        for name, value in zip(("length_mm", "width_mm", "depth_mm"), sizes, strict=False):
            carries.append(carried(case, f"stone.{name}", round(value, 1), n))
        carries.append(carried(case, "stone.location", stone["location"], n))
        if said:
            carries.append(carried(case, "stone.attenuation_hu", hu, n))
    return Cell(" + ".join(parts) or None, tuple(carries))


def _sheath(case: Case) -> Cell:
    """A sheath, as ``10/12 Fr 45cm``."""
    of = case.sheath
    if not of:
        return Cell()
    inner, outer, length = (of[name] for name in ("inner_tenths_fr", "outer_tenths_fr", "length_cm"))
    names = {"inner_tenths_fr": inner, "outer_tenths_fr": outer, "length_cm": length}
    made = tuple(carried(case, f"equipment_use.model_code.{name}", value, 1) for name, value in names.items())
    return Cell(f"{inner}/{outer} Fr {length}cm", made)


def _largest(case: Case) -> Cell:
    """What is left, as ``3 mm LP``."""
    if not case.fragments:
        return Cell()
    of = case.fragments[0]
    size = round(of["diameter_low_mm"], 1)
    made = (
        carried(case, "fragment.diameter_low_mm", size),
        carried(case, "fragment.diameter_high_mm", size),
        carried(case, "fragment.location", of["location"]),
    )
    return Cell(f"{size:g} mm {_SITES[of['location']]}", made)


def _side(side: str) -> tuple[Column, ...]:
    def column(*given: Any, **more: Any) -> Column:
        return replace(Column(*given, **more), side=side, over=side.upper())

    return (
        column("Procedure", "side.technique", ("treated_side.technique",), words(_TECHNIQUES), vital=True),
        column("Stage", "side.stage_number", ("treated_side.stage_number",), _WHOLE, vital=True),
        column("Stones", cell=_stones, vital=True),
        column("Hydro", "side.hydronephrosis", ("treated_side.hydronephrosis",),
               words({"none": "0", "mild": "+", "moderate": "++", "severe": "+++"})),
        column("UAS", cell=_sheath, vital=True),
        column("Scope Fr", "scope.shaft_tenths_fr", ("equipment_use.model_code.shaft_tenths_fr",),
               number(1, typed=True), 2, vital=True),
        column("Energy kJ", "laser.total_energy_kj", ("lithotripsy_setting.total_energy_kj",), number(2, typed=True)),
        column("Laser", "laser.energy_source", ("lithotripsy_setting.energy_source",), vital=True,
               show=words({"holmium_laser": "Ho:YAG", "thulium_fibre_laser": "TFL"})),
        column("Pulse J", "laser.pulse_energy_j", ("lithotripsy_setting.pulse_energy_j",), number(2, typed=True)),
        column("Hz", "laser.frequency_hz", ("lithotripsy_setting.frequency_hz",), _WHOLE),
        column("On min", "laser.emission_min", ("lithotripsy_setting.emission_min",), number(1, typed=True)),
        column("Suction", "side.suction", ("treated_side.suction",), words({"through_sheath": "x", "none": "nil"})),
        column("Stent in", "drain.placed_on", ("drain.placed_on",), real_day, vital=True),
        column("Stent out", "drain.removed_on", ("drain.removed_on",), real_day),
        column("Scan date", "scan.examined_on", ("examination.examined_on",), real_day, vital=True),
        column("Scan", "scan.modality", ("examination.modality",), vital=True,
               show=words({"ct": "CT", "ultrasound": "USS", "kub": "XR"})),
        column("Result", "reading.finding", ("reading.finding",), vital=True,
               show=words({"none_seen": "clear", "fragments": "frags", "indeterminate": "?clear"})),
        column("Largest", cell=_largest, vital=True),
    )  # fmt: skip


_PATIENT = (
    Column("Hospital no", "patient.number", ("hospital_number.number",), text, over="Patient", vital=True),
    Column("Family name", "patient.family_name", ("patient_identity.family_name",), text, over="Patient", vital=True),
    Column("Given names", "patient.given_names", ("patient_identity.given_names",), text, over="Patient", vital=True),
    Column("Born", "patient.birth_date", ("patient_identity.birth_date",), real_day, over="Patient", vital=True),
    Column("Sex", "patient.sex", ("patient.sex",), words({"female": "F", "male": "M"}), over="Patient", vital=True),
    Column("Died", "patient.died_on", ("patient.died_on",), real_day, over="Patient", vital=True),
)
_OPERATION = (
    Column("Date", "operation.operated_on", ("operation.operated_on",), real_day, over="Operation", vital=True),
    Column("In", "stay.admitted_on", ("admission.admitted_on",), real_day, over="Operation", vital=True),
    Column("Out", "stay.discharged_on", ("admission.discharged_on",), real_day, over="Operation"),
    Column("Op", "operation.operator", ("operation_operator.operator",), text, over="Operation", vital=True),
    Column("Age", "operation.age_years", ("operation.age_years",), _WHOLE, over="Operation"),
    Column("ASA", "operation.asa_class", ("operation.asa_class",), text, over="Operation"),
    Column("Ht cm", "operation.height_cm", ("operation.height_cm",), _WHOLE, over="Operation", unit="cm"),
    Column("Wt kg", "operation.weight_kg", ("operation.weight_kg",), number(1, typed=True), over="Operation",
           unit="kg"),
    Column("BMI", over="Operation"),
    Column("Min", "operation.operating_min", ("operation.operating_min",), _WHOLE, over="Operation", unit="min"),
)  # fmt: skip
_AFTER = (
    Column("Event", "complication.what", ("complication.what",), words(_EVENTS), over="After", vital=True),
    Column("Event side", "complication.unit", ("complication.unit",), words({"left": "L", "right": "R"}), over="After",
           vital=True),
    Column("Event date", "complication.onset_on", ("complication.onset_on",), real_day, over="After"),
    Column("CD", "complication.grade", ("grading.grade",), text, over="After", vital=True),
)  # fmt: skip


GROUPED = Style(
    name="grouped",
    about="A workbook: two rows of headings, both kidneys in one row, stones and sheaths in one cell, dates from 1904.",
    tables=(
        Table(
            "stones.xlsx",
            (*_PATIENT, *_OPERATION, *_side("left"), *_side("right"), *_AFTER),
            title=lambda case: "Cases",
            both_sides=True,
            above=("Stone surgery, all cases",),
        ),
    ),
    workbook=True,
    drainage=False,
    epoch_1904=True,
)
