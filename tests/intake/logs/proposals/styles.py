"""Logs in the styles of several invented units, each column with what a right proposal for it is.

For each column: the targets that are right (one, or all the fields of a cell that is split), ``status`` for a status,
or nothing where only a person can tell.
"""

from __future__ import annotations

import csv
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

ROWS = 40
Truth = dict[str, tuple[str, ...]]
BY_PERSON: tuple[str, ...] = ()


@dataclass
class Case:
    """One invented patient with one operation."""

    number: str
    born: date
    operated: date
    scanned: date
    side: str
    sex: str
    length: int
    place: str
    inner: float
    first: str
    second: str
    free: bool
    age: int = field(init=False)

    def __post_init__(self) -> None:
        self.age = (self.operated - self.born).days // 365


@dataclass
class Style:
    """A log: its headings, rows and the truth about its columns, by heading."""

    name: str
    columns: list[tuple[str, tuple[str, ...], Callable[[Case], str]]]
    delimiter: str = ","

    @property
    def truth(self) -> Truth:
        """What each column is."""
        return {heading: right for heading, right, _ in self.columns}

    def write(self, folder: Path, rows: int = ROWS) -> Path:
        """Write the log as CSV and give its path."""
        path = folder / f"{self.name}.csv"
        with path.open("w", encoding="utf-8", newline="") as stream:
            writer = csv.writer(stream, delimiter=self.delimiter)
            writer.writerow([heading for heading, _, _ in self.columns])
            for case in cases(rows):
                writer.writerow([write(case) for _, _, write in self.columns])
        return path


def cases(rows: int = ROWS) -> list[Case]:
    """Invented cases, the same at every run."""
    chance = random.Random(1912)
    made = []
    for n in range(rows):
        operated = date(2021, 1, 4) + timedelta(days=chance.randrange(900))
        made.append(
            Case(
                number=f"{7300000 + chance.randrange(90000)}",
                born=date(1935, 1, 1) + timedelta(days=chance.randrange(21000)),
                operated=operated,
                scanned=operated + timedelta(days=chance.randrange(25, 110)),
                side=chance.choice("LR"),
                sex=chance.choice("MF"),
                length=chance.randrange(5, 24),
                place=chance.choice(["LP", "MP", "UP", "pelvis", "PUJ"]),
                inner=chance.choice([9.5, 10, 11, 12]),
                first=chance.choice(["AB", "CD", "EF"]),
                second=chance.choice(["GH", "JK"]),
                free=n % 3 > 0,
            )
        )
    return made


def _pick(case: Case, *values: str) -> str:
    return values[int(case.number) % len(values)]


STONE3 = ("stone.length_mm", "stone.width_mm", "stone.depth_mm", "stone.location", "stone.attenuation_hu")
SHEATH = ("equipment_model.inner_tenths_fr", "equipment_model.outer_tenths_fr", "equipment_model.length_cm")

THEATRE = Style(
    "theatre book",
    [
        ("No", BY_PERSON, lambda c: str(next(n for n, k in enumerate(cases(), 1) if k.number == c.number))),
        ("MRN", ("hospital_number.number",), lambda c: c.number),
        ("Surname", ("patient_identity.family_name",), lambda c: _pick(c, "Quill", "Thrift", "Sorrel", "Vetch")),
        ("First name", ("patient_identity.given_names",), lambda c: _pick(c, "Ada", "Ben", "Cleo")),
        ("DOB", ("patient_identity.birth_date",), lambda c: f"{c.born:%d/%m/%Y}"),
        ("Sex", ("patient.sex",), lambda c: c.sex),
        ("Age", ("operation.age_years",), lambda c: str(c.age)),
        ("Op date", ("operation.operated_on",), lambda c: f"{c.operated:%d/%m/%Y}"),
        ("Surgeon", ("operation_operator.operator",), lambda c: c.first),
        ("Assistant", ("operation_operator.operator",), lambda c: c.second),
        ("ASA", ("operation.asa_class",), lambda c: _pick(c, "1", "2", "3")),
        ("Side", ("renal_unit.unit",), lambda c: c.side),
        ("Procedure", ("treated_side.technique",), lambda c: _pick(c, "RIRS", "PCNL", "ESWL")),
        ("Stone size (mm)", ("stone.length_mm",), lambda c: str(c.length)),
        ("HU", ("stone.attenuation_hu",), lambda c: str(500 + c.length * 30)),
        ("Stone location", ("stone.location",), lambda c: c.place),
        ("Pre-stented", ("treated_side.pre_stented",), lambda c: _pick(c, "Y", "N")),
        ("UAS", SHEATH, lambda c: f"{c.inner:g}/{c.inner + 2:g} Fr {_pick(c, '35', '45')}cm"),
        ("Op time (min)", ("operation.operating_min",), lambda c: str(30 + c.length * 3)),
        ("Fluoro time (s)", ("operation.fluoroscopy_s",), lambda c: str(20 + c.length)),
        ("CT date", BY_PERSON, lambda c: f"{c.scanned:%d/%m/%Y}"),
        ("Follow-up CT date", ("examination.examined_on",), lambda c: f"{c.scanned:%d/%m/%Y}"),
        ("SFR <=2mm", ("status",), lambda c: "Y" if c.free else "N"),
        ("Residual size (mm)", BY_PERSON, lambda c: "" if c.free else "4"),
        ("Comments", BY_PERSON, lambda c: _pick(c, "uneventful", "stent for two weeks", "")),
        ("Ward", BY_PERSON, lambda c: _pick(c, "4B", "5A")),
    ],
)

CONTINENTAL = Style(
    "continental",
    [
        ("Hospital number", ("hospital_number.number",), lambda c: f"K{c.number}"),
        ("Date of birth", ("patient_identity.birth_date",), lambda c: f"{c.born:%d.%m.%Y}"),
        ("Gender", ("patient.sex",), lambda c: "male" if c.sex == "M" else "female"),
        ("Date of operation", ("operation.operated_on",), lambda c: f"{c.operated:%d.%m.%Y}"),
        ("Laterality", ("renal_unit.unit",), lambda c: "left" if c.side == "L" else "right"),
        ("Stone diameter [cm]", ("stone.length_mm",), lambda c: f"{c.length / 10:.1f}".replace(".", ",")),
        ("Weight kg", ("operation.weight_kg",), lambda c: f"{60 + c.length},5"),
        ("Height", ("operation.height_cm",), lambda c: str(155 + c.length)),
        ("Anaesthesia", ("operation.anaesthesia",), lambda c: _pick(c, "GA", "SA")),
        ("Sheath inner Fr", ("equipment_model.inner_tenths_fr",), lambda c: f"{c.inner:g}".replace(".", ",")),
        ("Sheath outer Fr", ("equipment_model.outer_tenths_fr",), lambda c: f"{c.inner + 2:g}".replace(".", ",")),
        ("Sheath length cm", ("equipment_model.length_cm",), lambda c: _pick(c, "35", "45")),
        ("Operating time", ("operation.operating_min",), lambda c: f"{c.length // 12 + 0}:{20 + c.length:02d}"),
        ("Creatinine", BY_PERSON, lambda c: str(70 + c.length)),
        ("Date", BY_PERSON, lambda c: f"{c.scanned:%d.%m.%Y}"),
        ("Size", BY_PERSON, lambda c: str(c.length)),
        ("LOS", BY_PERSON, lambda c: _pick(c, "1", "2", "3")),
        ("Stone free", BY_PERSON, lambda c: "yes" if c.free else "no"),
        ("Diabetes", ("operation.diabetes",), lambda c: _pick(c, "1", "0", "0")),
    ],
    delimiter=";",
)

COMPOSITE = Style(
    "composite",
    [
        ("Study ID", ("patient.study_number",), lambda c: f"LB-{c.number[-5:]}"),
        ("Age/Sex", ("operation.age_years", "patient.sex"), lambda c: f"{c.age}{c.sex}"),
        ("Date of surgery", ("operation.operated_on",), lambda c: f"{c.operated:%m/%d/%Y}"),
        ("Side", ("renal_unit.unit",), lambda c: "Lt" if c.side == "L" else "Rt"),
        (
            "Stone burden",
            STONE3,
            lambda c: f"{c.length}x{c.length - 1}x{c.length - 2} {c.place}, {400 + 20 * c.length}HU",
        ),
        ("Access sheath", SHEATH, lambda c: f"{c.inner:g}/{c.inner + 2:g}Fr {_pick(c, '35', '45')} cm"),
        (
            "Laser settings",
            BY_PERSON,  # no column says what gave the energy
            lambda c: _pick(c, "0.8J/10Hz", "0.5J/20Hz"),
        ),
        ("Operator", ("operation_operator.operator",), lambda c: c.first),
        ("Consultant", BY_PERSON, lambda c: c.second),
        ("Clavien", BY_PERSON, lambda c: _pick(c, "", "I", "II")),
        ("Patient ID", BY_PERSON, lambda c: c.number),
        ("Case no", BY_PERSON, lambda c: f"C{c.number}"),
        ("DAP (Gy cm2)", ("operation.dose_area_product_gy_cm2",), lambda c: f"{c.length / 4:.2f}"),
        ("3m CT date", ("examination.examined_on",), lambda c: f"{c.scanned:%m/%d/%Y}"),
        ("SFR on CT at 3 months (<2 mm)", ("status",), lambda c: "SF" if c.free else "residual"),
        ("Fr", BY_PERSON, lambda c: "12"),
    ],
)

REPEATED = Style(
    "repeated",
    [
        ("Hosp No", ("hospital_number.number",), lambda c: c.number),
        ("Surgery date", ("operation.operated_on",), lambda c: f"{c.operated:%d-%b-%y}"),
        ("Affected side", ("renal_unit.unit",), lambda c: c.side),
        ("Stone 1 size mm", ("stone.length_mm",), lambda c: str(c.length)),
        ("Stone 1 location", ("stone.location",), lambda c: c.place),
        ("Stone 1 HU", ("stone.attenuation_hu",), lambda c: str(600 + c.length)),
        ("Stone 2 size mm", ("stone.length_mm",), lambda c: _pick(c, "", str(c.length - 1))),
        ("Stone 2 location", ("stone.location",), lambda c: _pick(c, "", "LP")),
        ("Stone 2 HU", ("stone.attenuation_hu",), lambda c: _pick(c, "", "700")),
        ("Fragment 1 size", BY_PERSON, lambda c: "" if c.free else "3"),
        ("Postop scan date", ("examination.examined_on",), lambda c: f"{c.scanned:%d-%b-%y}"),
        ("Follow-up modality", ("examination.modality",), lambda c: _pick(c, "NCCT", "USS", "KUB")),
        ("Stone free status (< 4mm)", ("status",), lambda c: "yes" if c.free else "no"),
        ("Stone length", BY_PERSON, lambda c: f"{c.length / 10:.1f}"),  # no unit is named, and these are centimetres
        ("Exit strategy", ("treated_side.exit_strategy",), lambda c: _pick(c, "DJ", "none")),
        ("Indication", ("operation.indication",), lambda c: _pick(c, "pain", "obstruction")),
        ("ASA grade", ("operation.asa_class",), lambda c: _pick(c, "II", "III", "I")),
        ("Hydronephrosis", ("treated_side.hydronephrosis",), lambda c: _pick(c, "none", "mild", "moderate")),
    ],
    delimiter="\t",
)

TRAPS = Style(
    "traps",
    [
        ("Hospital no.", ("hospital_number.number",), lambda c: c.number),
        ("Date of birth", BY_PERSON, lambda c: f"{c.scanned:%Y-%m-%d}"),  # it holds scans: the heading is wrong
        ("Date of operation", BY_PERSON, lambda c: f"{c.operated:%Y-%m-%d}"),
        ("Scan date", BY_PERSON, lambda c: f"{c.scanned:%Y-%m-%d}"),
        ("Sheath ID", BY_PERSON, lambda c: f"{c.inner + 2:g}"),  # exchanged with the outer diameter
        ("Sheath OD", BY_PERSON, lambda c: f"{c.inner:g}"),
        ("Stone size", BY_PERSON, lambda c: f"{c.length / 10:.1f}"),
        ("Haemoglobin", BY_PERSON, lambda c: "13.4"),
        ("Fluoroscopy time", BY_PERSON, lambda c: _pick(c, "1", "2", "3")),
        ("Residual", BY_PERSON, lambda c: "" if c.free else "5"),
        ("Sex", BY_PERSON, lambda c: "1" if c.sex == "M" else "2"),
        ("L/R", BY_PERSON, lambda c: c.side),
        ("Team", BY_PERSON, lambda c: c.first),
        ("Stented", BY_PERSON, lambda c: _pick(c, "Y", "N")),
        ("Largest fragment", BY_PERSON, lambda c: "" if c.free else "3"),
        ("Grade", BY_PERSON, lambda c: _pick(c, "1", "2")),
        ("Laser energy", BY_PERSON, lambda c: _pick(c, "8", "12")),
        ("Result", BY_PERSON, lambda c: _pick(c, "good", "poor")),
    ],
)

STYLES = (THEATRE, CONTINENTAL, COMPOSITE, REPEATED, TRAPS)
