"""What breaks the rules of scanned codes, and what leaves them nothing to judge by.

The code of the whole case expires on the day of the operation: used on its last day, it is not expired.
"""

from __future__ import annotations

from tests.validation.rule_cases.changes import Example

UDI = "equipment_use.2.udi"
OTHER_ISSUER = {UDI: "+H123ABC01234567890"}


def code(*, identifier: str = "51022222233336", produced: str = "231231", expires: str = "240304") -> str:
    return f"(01){identifier}(11){produced}(17){expires}(10)A213B1(21)K1"


SCANNED_EXAMPLES = (
    Example("equipment_use.udi.check_digit", {UDI: code(identifier="51022222233337")}, OTHER_ISSUER),
    Example("equipment_use.udi.whole", {UDI: "0151022222233336" + "17241300" + "10A213B1"}, OTHER_ISSUER),
    Example("equipment_use.lot.as_scanned", {"equipment_use.2.lot": "A213B2"}, {"equipment_use.2.lot": None}),
    Example(
        "equipment_use.serial_as_scanned.as_in_code",
        {"equipment_use.2.serial_as_scanned": "K11"},
        {UDI: "(01)51022222233336"},
    ),
    Example(
        "equipment_use.equipment_item_id.serial_scanned",
        {"equipment_item.1.serial": "K2"},
        {"equipment_use.2.equipment_item_id": None},
        row=2,
    ),
    Example(
        "equipment_use.equipment_model_id.as_scanned",
        {UDI: code(identifier="08904000210037")},
        {"equipment_model.1.device_identifier": None},
    ),
    Example("equipment_use.udi.expired", {UDI: code(expires="240303")}, {UDI: "(01)51022222233336(21)K1"}),
    # Day 00 is the last of the month: produced in February 2024 is before 4 March, in March it is the 31st.
    Example("equipment_use.udi.produced", {UDI: code(produced="240300")}, {UDI: code(produced="241301")}),
    Example(
        "equipment_model.device_identifier.check_digit",
        {"equipment_model.1.device_identifier": "51022222233330"},
        {"equipment_model.1.device_identifier": "in the box"},
    ),
)
