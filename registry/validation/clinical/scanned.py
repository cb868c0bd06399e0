"""Rules of the codes that are scanned off equipment: are they whole, and do they agree with what was typed?

All are questions: a code that does not fit was scanned off something, and is kept as it is. Codes of other issuing
entities than GS1 are not taken apart and cannot be judged. None of the sentences quotes a lot or a serial number.
"""

from __future__ import annotations

from registry.validation.clinical.rule import QUESTION, ClinicalRule

GS1 = "GS1 application identifiers 01, 10, 11, 17, 21, and check digit (General Specifications, 7.9)"
DATED = "GS1 application identifiers 11 and 17 (General Specifications, 7.12; the century window from memory)"
USED = (
    "FROM (SELECT u.*, o.operated_on, scanned(u.udi, o.operated_on) AS code FROM equipment_use u "
    "LEFT JOIN treated_side s ON s.id = u.treated_side_id LEFT JOIN operation o ON o.id = s.operation_id "
    "WHERE u.udi IS NOT NULL) t"
)
ITEM = "LEFT JOIN equipment_item i ON i.id = t.equipment_item_id"


def _bare(text: str) -> str:
    """Without blanks and dashes, in capitals: how people write the same number."""
    return f"upper(regexp_replace({text}, '[ -]', '', 'g'))"


def _same(
    id_: str, fields: tuple[str, ...], sentence: str, rows: str, typed: str, coded: str, why: str
) -> ClinicalRule:
    """A rule that something typed is what the code says."""
    return ClinicalRule(
        id=id_,
        table="equipment_use",
        fields=fields,
        severity=QUESTION,
        sentence=sentence,
        rows=rows,
        needs=f"{typed} IS NOT NULL AND {coded} IS NOT NULL",
        broken=f"{_bare(typed)} <> {_bare(coded)}",
        why=why,
        source=GS1,
    )


SCANNED = (
    ClinicalRule(
        id="equipment_use.udi.check_digit",
        table="equipment_use",
        fields=("udi",),
        severity=QUESTION,
        sentence="the check digit of a scanned code is right",
        rows=USED,
        needs="t.code.device_identifier IS NOT NULL",
        broken="t.code.wrong_check_digit",
        why="The check digit of the device identifier is wrong: was the code typed?",
        source=GS1,
    ),
    ClinicalRule(
        id="equipment_use.udi.whole",
        table="equipment_use",
        fields=("udi",),
        severity=QUESTION,
        sentence="a scanned code of GS1 can be read to its end",
        rows=USED,
        needs="t.code.issuer = 'GS1'",
        broken="t.code.wrong_unreadable OR t.code.wrong_date OR t.code.wrong_repeated",
        why="The code begins like one of GS1 and cannot be read to its end: is a part or a separator missing?",
        source=GS1,
    ),
    _same(
        "equipment_use.lot.as_scanned",
        ("lot", "udi"),
        "the lot is the one in the scanned code",
        USED,
        "t.lot",
        "t.code.lot",
        "The lot typed is another than the one in the scanned code.",
    ),
    _same(
        "equipment_use.serial_as_scanned.as_in_code",
        ("serial_as_scanned", "udi"),
        "the serial number is the one in the scanned code",
        USED,
        "t.serial_as_scanned",
        "t.code.serial",
        "The serial number is another than the one in the scanned code.",
    ),
    _same(
        "equipment_use.equipment_item_id.serial_scanned",
        ("equipment_item_id", "udi"),
        "the piece is the one whose code was scanned",
        f"{USED} {ITEM}",
        "i.serial",
        "t.code.serial",
        "The piece has another serial number than the scanned code.",
    ),
    ClinicalRule(
        id="equipment_use.equipment_model_id.as_scanned",
        table="equipment_use",
        fields=("equipment_model_id", "udi"),
        severity=QUESTION,
        sentence="the model is the one whose code was scanned",
        rows="FROM (SELECT w.*, scanned(n.device_identifier, NULL).device_identifier AS listed FROM "
        f"(SELECT t.* {USED}) w LEFT JOIN equipment_model n ON n.id = w.equipment_model_id) t",
        needs="t.listed IS NOT NULL AND t.code.device_identifier IS NOT NULL AND NOT t.code.wrong_check_digit",
        broken="t.listed <> t.code.device_identifier",
        why="The device identifier of the scanned code is not the one that the catalogue has for this model.",
        source=GS1,
    ),
    ClinicalRule(
        id="equipment_use.udi.expired",
        table="equipment_use",
        fields=("udi",),
        severity=QUESTION,
        sentence="equipment is used by its expiry date",
        rows=USED,
        needs="t.code.expires_on IS NOT NULL AND t.operated_on IS NOT NULL",
        broken="t.code.expires_on < t.operated_on",
        why="By the scanned code the piece expired {days} days before the operation.",
        shows={"days": "days(t.code.expires_on, t.operated_on)"},
        source=DATED,
    ),
    ClinicalRule(
        id="equipment_use.udi.produced",
        table="equipment_use",
        fields=("udi",),
        severity=QUESTION,
        sentence="equipment is produced before it is used",
        rows=USED,
        needs="t.code.produced_on IS NOT NULL AND t.operated_on IS NOT NULL",
        broken="t.code.produced_on > t.operated_on",
        why="By the scanned code the piece was produced {days} days after the operation.",
        shows={"days": "days(t.operated_on, t.code.produced_on)"},
        source=DATED,
    ),
    ClinicalRule(
        id="equipment_model.device_identifier.check_digit",
        table="equipment_model",
        fields=("device_identifier",),
        severity=QUESTION,
        sentence="the check digit of a device identifier is right",
        rows="FROM (SELECT n.*, scanned(n.device_identifier, NULL) AS code FROM equipment_model n "
        "WHERE n.device_identifier IS NOT NULL) t",
        needs="t.code.device_identifier IS NOT NULL",
        broken="t.code.wrong_check_digit",
        why="The check digit of the device identifier is wrong.",
        source=GS1,
    ),
)
