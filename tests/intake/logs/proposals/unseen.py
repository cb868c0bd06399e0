"""Further styles, written after the words were settled: a measure that was not tuned for."""

from __future__ import annotations

from tests.intake.logs.proposals.styles import BY_PERSON, Style, _pick

AUDIT = Style(
    "audit",
    [
        ("Pt MRN#", ("hospital_number.number",), lambda c: c.number),
        ("Last name", ("patient_identity.family_name",), lambda c: _pick(c, "Quill", "Thrift", "Sorrel")),
        ("D.O.B.", ("patient_identity.birth_date",), lambda c: f"{c.born:%d %b %Y}"),
        ("Date of procedure", ("operation.operated_on",), lambda c: f"{c.operated:%Y%m%d}"),
        ("M/F", ("patient.sex",), lambda c: c.sex),
        ("Age at surgery (yrs)", ("operation.age_years",), lambda c: str(c.age)),
        ("Kidney side", ("renal_unit.unit",), lambda c: "LEFT" if c.side == "L" else "RIGHT"),
        ("ASA score", ("operation.asa_class",), lambda c: _pick(c, "ASA 1", "ASA 2")),
        ("Max stone diameter mm", ("stone.length_mm",), lambda c: str(c.length)),
        ("Stone density (HU)", ("stone.attenuation_hu",), lambda c: str(700 + c.length)),
        ("Calyx", ("stone.location",), lambda c: _pick(c, "lower pole", "upper pole", "renal pelvis")),
        ("Urine culture pre-op", BY_PERSON, lambda c: _pick(c, "neg", "pos")),  # no date of the culture
        ("Antibiotic prophylaxis", ("operation.prophylaxis",), lambda c: _pick(c, "cephalosporin", "none")),
        ("Type of anaesthesia", ("operation.anaesthesia",), lambda c: _pick(c, "general", "spinal")),
        ("Operative time mins", ("operation.operating_min",), lambda c: str(40 + c.length)),
        ("Screening time (sec)", ("operation.fluoroscopy_s",), lambda c: str(20 + c.length * 4)),
        ("Total laser energy (kJ)", BY_PERSON, lambda c: f"{c.length / 2:.1f}"),  # nothing says what gave it
        ("Post-op stent", BY_PERSON, lambda c: _pick(c, "Y", "N")),
        ("Discharge date", BY_PERSON, lambda c: f"{c.operated:%Y%m%d}"),  # no date of admission
        ("Complications", ("complication.what",), lambda c: _pick(c, "", "fever", "bleeding")),
        ("F/U imaging date", ("examination.examined_on",), lambda c: f"{c.scanned:%Y%m%d}"),
        ("F/U imaging", ("examination.modality",), lambda c: _pick(c, "CT KUB", "US")),
        ("Stone-free (0 mm)", ("status",), lambda c: "Yes" if c.free else "No"),
        ("Largest residual mm", BY_PERSON, lambda c: "" if c.free else "4"),
        ("Previous stone surgery", BY_PERSON, lambda c: _pick(c, "yes", "no")),
        ("Height cm", ("operation.height_cm",), lambda c: str(150 + c.length)),
        ("BMI", BY_PERSON, lambda c: f"{20 + c.length / 3:.1f}"),
        ("Entered by", BY_PERSON, lambda c: c.second),
        ("Date entered", BY_PERSON, lambda c: f"{c.scanned:%Y%m%d}"),
    ],
)

SIDES = Style(
    "two sides",
    [
        ("Study no.", ("patient.study_number",), lambda c: f"S{c.number}"),
        ("Theatre date", ("operation.operated_on",), lambda c: f"{c.operated:%d-%m-%Y}"),
        ("Left stone size (mm)", ("stone.length_mm",), lambda c: str(c.length)),
        ("Right stone size (mm)", ("stone.length_mm",), lambda c: _pick(c, "", str(c.length))),
        ("Left stone location", ("stone.location",), lambda c: c.place),
        ("Right stone location", ("stone.location",), lambda c: _pick(c, "", "LP")),
        ("HU (L)", ("stone.attenuation_hu",), lambda c: "900"),
        ("HU (R)", ("stone.attenuation_hu",), lambda c: _pick(c, "", "800")),
        ("Main surgeon", ("operation_operator.operator",), lambda c: c.first),
        ("1st assistant", ("operation_operator.operator",), lambda c: c.second),
        ("Scope used", BY_PERSON, lambda c: _pick(c, "digital 1", "digital 2")),
        ("Sheath", BY_PERSON, lambda c: _pick(c, "12", "14")),
        ("Sheath (inner/outer)", BY_PERSON, lambda c: f"{c.inner:g}/{c.inner + 2:g}"),
        ("IPA (deg)", BY_PERSON, lambda c: str(30 + c.length)),  # of which of the two kidneys?
        ("View", BY_PERSON, lambda c: _pick(c, "good", "fair")),
        ("Weight (lb)", ("operation.weight_kg",), lambda c: str(130 + c.length)),
        ("Stone size after treatment", BY_PERSON, lambda c: "" if c.free else "3"),
        ("CT result", BY_PERSON, lambda c: _pick(c, "clear", "dust")),
        ("Next appointment", BY_PERSON, lambda c: f"{c.scanned:%d-%m-%Y}"),
        ("Referral date", BY_PERSON, lambda c: f"{c.operated:%d-%m-%Y}"),
        ("Emergency no.", BY_PERSON, lambda c: c.number),
        ("Phone", BY_PERSON, lambda c: f"020{c.number}"),
    ],
)  # fmt: skip

UNSEEN = (AUDIT, SIDES)
