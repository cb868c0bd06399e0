"""A registrar's diary as text: bars between the cells, one free column a topic, American dates, feet, pounds and °F."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from synthetic_cohort.logs.cases import Case
from synthetic_cohort.logs.columns import Column, day, text, words
from synthetic_cohort.logs.grid import Carried, Cell
from synthetic_cohort.logs.keys import carried
from synthetic_cohort.logs.style import Style, Table

_FORM = "%m/%d/%Y"
_SITES = {
    "upper_calyx": "upper pole", "middle_calyx": "interpolar", "lower_calyx": "lower pole", "pelvis": "renal pelvis",
    "junction": "UPJ", "partial_staghorn": "partial stag", "proximal_ureter": "prox ureter",
    "middle_ureter": "mid ureter", "distal_ureter": "distal ureter",
}  # fmt: skip
_TECHNIQUES = {
    "flexible": "flex URS", "semirigid": "rigid URS", "percutaneous": "PCNL", "mini_percutaneous": "mini PCNL",
    "shock_wave": "SWL",
}  # fmt: skip
_PROBLEMS = {
    "febrile_urinary_infection": "febrile UTI", "sepsis": "urosepsis", "septic_shock": "septic shock",
    "stent_symptoms": "stent colic", "colic": "colic", "urinary_retention": "retention", "bleeding": "bleed",
    "stent_migration": "stent migrated", "steinstrasse": "steinstrasse", "haematoma": "hematoma",
    "urinoma": "urinoma", "thrombosis": "DVT",
}  # fmt: skip
_ROMAN = {"1": "I", "2": "II", "3": "III", "4": "IV", "5": "V"}
_SEEN = {"none_seen": "clear", "fragments": "residual", "indeterminate": "can't tell"}
_BY = {"ct": "CT", "ultrasound": "US", "kub": "KUB"}
_INCHES_PER_FOOT = 12


class _Wording:
    """A cell in the writing: its words one after the other, and what they say."""

    def __init__(self, case: Case) -> None:
        self.case, self.words, self.said = case, "", list[Carried]()

    def put(self, words: str, **said: Any) -> None:
        """Add words that say values; ``stone__length_mm`` is ``stone.length_mm``, ``n`` the number of the record."""
        number = said.pop("n", 1)
        self.words += words
        for target, value in said.items():
            self.said.append(carried(self.case, target.replace("__", "."), value, number))

    def cell(self) -> Cell:
        """The cell."""
        return Cell(self.words or None, tuple(self.said))


def _us(day: date) -> str:
    return day.strftime(_FORM)


def _free(heading: str, write: Callable[[_Wording, Case], None], *, vital: bool = False) -> Column:
    """A column of free words."""

    def cell(case: Case) -> Cell:
        made = _Wording(case)
        write(made, case)
        return made.cell()

    return Column(heading, cell=cell, vital=vital)


def _name(made: _Wording, case: Case) -> None:
    family, given = str(case.patient["family_name"]).upper(), case.patient["given_names"]
    made.put(f"{family}, {given}", patient_identity__family_name=family, patient_identity__given_names=given)


def _age_sex(made: _Wording, case: Case) -> None:
    age, sex = case.operation["age_years"], case.patient["sex"]
    made.put(f"{age} yo ", operation__age_years=age)
    made.put({"female": "F", "male": "M"}[sex], patient__sex=sex)


def _build(made: _Wording, case: Case) -> None:
    of = case.operation
    if of.get("height_cm") is None or of.get("weight_kg") is None:
        return
    inches, pounds = round(of["height_cm"] / 2.54), round(of["weight_kg"] / 0.45359237)
    feet, rest = divmod(inches, _INCHES_PER_FOOT)
    made.put(f"{feet}'{rest}\"", operation__height_cm=round(inches * 2.54, 2))
    made.put(f" / {pounds} lb", operation__weight_kg=pounds * 0.45359237)


def _stay(made: _Wording, case: Case) -> None:
    entered, left = case.stay.get("admitted_on"), case.stay.get("discharged_on")
    if entered is not None:
        made.put(_us(entered), admission__admitted_on=entered)
        if left is not None:
            made.put(f" - {_us(left)}", admission__discharged_on=left)


def _operation(made: _Wording, case: Case) -> None:
    of, minutes = case.side, case.operation.get("operating_min")
    made.put({"left": "Lt ", "right": "Rt "}[case.unit], renal_unit__unit=case.unit)
    made.put(_TECHNIQUES[of["technique"]], treated_side__technique=of["technique"])
    if of.get("stage_number"):
        made.put(f", relook {of['stage_number']}", treated_side__stage_number=of["stage_number"])
    if minutes is not None:
        made.put(f", {minutes} min", operation__operating_min=minutes)


def _stones(made: _Wording, case: Case) -> None:
    for n, stone in enumerate(case.stones, start=1):
        long, wide = round(stone["length_mm"], 1), round(stone["width_mm"], 1)
        made.put(f"{'; ' if n > 1 else ''}{long:g} x {wide:g} mm", stone__length_mm=long, stone__width_mm=wide, n=n)
        made.put(f" {_SITES[stone['location']]}", stone__location=stone["location"], n=n)
        hu = stone.get("attenuation_hu")
        if isinstance(hu, int):
            made.put(f" ({hu} HU)", stone__attenuation_hu=hu, n=n)


def _equipment(made: _Wording, case: Case) -> None:
    model = "equipment_use__model_code."
    if of := case.sheath:
        made.put("suction UAS" if of["suction"] == "yes" else "UAS", **{f"{model}suction": of["suction"]})
        inner, outer, length = (of[name] for name in ("inner_tenths_fr", "outer_tenths_fr", "length_cm"))
        made.put(f" {inner}/{outer} Fr", **{f"{model}inner_tenths_fr": inner, f"{model}outer_tenths_fr": outer})
        made.put(f" x {length} cm", **{f"{model}length_cm": length})
    if of := case.scope:
        shaft = round(of["shaft_tenths_fr"], 1)
        made.put(f"{'; ' if case.sheath else ''}scope {shaft:g}", **{f"{model}shaft_tenths_fr": shaft, "n": 2})


def _laser(made: _Wording, case: Case) -> None:
    of, setting = case.laser, "lithotripsy_setting__"
    if not of or any(value is None for value in of.values()):
        return
    source = {"holmium_laser": "Holmium", "thulium_fibre_laser": "Thulium"}[of["energy_source"]]
    joule, hertz, energy, minutes = (
        round(of[name], 2) for name in ("pulse_energy_j", "frequency_hz", "total_energy_kj", "emission_min")
    )
    made.put(source, **{f"{setting}energy_source": of["energy_source"]})
    made.put(f" {joule:g} J @ {hertz:g} Hz", **{f"{setting}pulse_energy_j": joule, f"{setting}frequency_hz": hertz})
    made.put(f", {energy * 1000:.0f} J", **{f"{setting}total_energy_kj": energy})
    made.put(f" in {minutes:g} min", **{f"{setting}emission_min": minutes})


def _stent(made: _Wording, case: Case) -> None:
    if case.drain:
        made.put(f"in {_us(case.drain['placed_on'])}", drain__placed_on=case.drain["placed_on"])
        out = case.drain.get("removed_on")
        if isinstance(out, date):
            made.put(f", out {_us(out)}", drain__removed_on=out)


def _labs(made: _Wording, case: Case) -> None:
    of = case.blood
    if of.get("creatinine_umol_l") is None or of.get("haemoglobin_g_l") is None:
        return
    creatinine, haemoglobin = round(of["creatinine_umol_l"] / 88.4, 2), round(of["haemoglobin_g_l"] / 10, 1)
    made.put(f"Cr {creatinine}", observation_set__creatinine_umol_l=creatinine * 88.4)
    made.put(f" Hgb {haemoglobin}", observation_set__haemoglobin_g_l=haemoglobin * 10)
    made.put(f" ({_us(of['observed_on'])})", observation_set__observed_on=of["observed_on"])


def _culture(made: _Wording, case: Case) -> None:
    of = case.culture
    if of and isinstance(of["taken_on"], date):
        word = {"positive": "grew", "negative": "no growth", "contaminated": "mixed flora"}[of["result"]]
        made.put(_us(of["taken_on"]), culture__taken_on=of["taken_on"])
        made.put(f" {word}", culture__result=of["result"])


def _follow_up(made: _Wording, case: Case) -> None:
    if not case.scan:
        return
    on, by, finding = case.scan["examined_on"], case.scan["modality"], case.reading["finding"]
    made.put(f"{on:%B} {on.day}, {on.year} ", examination__examined_on=on)
    made.put(f"{_BY[by]}: ", examination__modality=by)
    if not case.fragments:
        made.put(_SEEN[finding], reading__finding=finding)
        return
    size, place = round(case.fragments[0]["diameter_low_mm"], 1), case.fragments[0]["location"]
    made.put("", reading__finding=finding)
    made.put(f"{size:g} mm", fragment__diameter_low_mm=size, fragment__diameter_high_mm=size)
    made.put(f" {_SITES[place]}", fragment__location=place)


def _problems(made: _Wording, case: Case) -> None:
    of = case.complication
    if of:
        made.put(_PROBLEMS[of["what"]], complication__what=of["what"])
        if of.get("grade") is not None:
            made.put(f", Clavien {of['grade']}", grading__grade=of["grade"])
        made.put(f", {_us(of['onset_on'])}", complication__onset_on=of["onset_on"])


def _fahrenheit(value: float) -> tuple[str, float]:
    shown = round(value * 9 / 5 + 32, 1)
    return f"{shown:g}", (shown - 32) * 5 / 9


def _clock(value: int) -> tuple[str, int]:
    return f"{value // 60}:{value % 60:02d}", value


_COLUMNS = (
    Column("Hosp #", "patient.number", ("hospital_number.number",), text, vital=True),
    _free("Patient", _name, vital=True),
    _free("Age / sex", _age_sex),
    Column("Date", "operation.operated_on", ("operation.operated_on",), day(_FORM), vital=True),
    _free("In - out", _stay, vital=True),
    Column("Attending", "operation.operator", ("operation_operator.operator",), text, vital=True),
    Column("ASA", "operation.asa_class", ("operation.asa_class",), words(_ROMAN)),
    _free("Build", _build),
    _free("What we did", _operation, vital=True),
    _free("Stones", _stones),
    _free("Gear", _equipment, vital=True),
    _free("Laser", _laser),
    Column("Irrigant (°F)", "side.irrigation_temperature_c", ("treated_side.irrigation_temperature_c",), _fahrenheit,
           unit="F"),
    Column("Fluoro (m:ss)", "operation.fluoroscopy_s", ("operation.fluoroscopy_s",), _clock),
    _free("Stent", _stent),
    _free("Labs", _labs),
    _free("Urine", _culture),
    _free("Follow-up", _follow_up),
    _free("Problems", _problems, vital=True),
    Column("Musings"),
)  # fmt: skip

DIARY = Style(
    name="diary",
    about="One text file: bars, a free column a topic, mm/dd/yyyy, names of months, no birth dates, feet, °F, mg/dL.",
    tables=(Table("diary.csv", _COLUMNS),),
    workbook=False,
    delimiter="|",
    drainage=False,
    total="Count",
    marks=("?", "n/a", "--"),
)
