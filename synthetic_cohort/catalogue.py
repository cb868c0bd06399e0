"""The unit's catalogue of equipment: invented model codes, common sizes, prices, and the reusable items.

Sizes are common practice: sheaths of 10, 11, 12 Fr inner and 2 Fr more outside, 40 or 50 cm; scopes of 7.5, 8.5 and
9.5 Fr with a channel of 3.6 Fr; fibres of 200 and 272 um; wires of 0.035 and 0.038 inch; stents of 6 Fr.
"""

from __future__ import annotations

from datetime import date
from functools import cache

from synthetic_cohort.story import SITE, Row, Rows, add

CURRENCY = "EUR"
REPAIR_D = 21
SHEATH_LENGTHS_CM = (40, 50)
ITEMS: dict[str, tuple[str, ...]] = {
    "SC-85": ("K8501", "K8502", "K8503", "K8504", "K8505", "K8506"),
    "SC-95": ("K9501", "K9502", "K9503", "K9504"),
    "SR-65": ("M6501", "M6502"),
    "NS-12": ("N1201",),
    "NS-24": ("N2401", "N2402"),
    "LG-H": ("H1001",),
    "LG-T": ("T2001",),
    "PS-U": ("U3001",),
    "SW-1": ("W4001",),
}
"""Serial numbers of the reusable models."""

PRICE_CHANGES = ((date(2019, 1, 1), 1.0), (date(2022, 1, 1), 1.08), (date(2024, 1, 1), 1.13))
"""Days from which prices hold, and their multiple of the first."""

BOUGHT_LATER = {
    "K8505": date(2021, 4, 1),
    "K8506": date(2022, 9, 1),
    "K9504": date(2022, 3, 1),
}
RETIRED = {"K8502": date(2021, 5, 31), "K8503": date(2022, 10, 31), "K9502": date(2022, 5, 31)}
"""Days on which some scopes were bought or retired; the others were there before 2019 and still are."""


def serials_in_use(code: str, on: date) -> list[str]:
    """The serial numbers of a reusable model that were there on a day, without repairs."""
    return [
        serial for serial in ITEMS[code] if BOUGHT_LATER.get(serial, date.min) <= on <= RETIRED.get(serial, date.max)
    ]


def sheath_code(inner_tenths_fr: int, length_cm: int, suction: bool) -> str:
    """The model code of a sheath."""
    return f"SH-{inner_tenths_fr // 10}-{length_cm}" + ("-S" if suction else "")


def device_identifier(number: int) -> str:
    """A GTIN-14 from the range that is kept for use inside one house (prefix 20), with its check digit."""
    digits = f"0200000{number:06d}"
    total = sum(int(d) * (3 if i % 2 == 0 else 1) for i, d in enumerate(reversed(digits)))
    return digits + str(-total % 10)


@cache
def identifier_of(code: str) -> str:
    """The device identifier of a model."""
    numbers = {str(model["model_code"]): number for number, (model, _) in enumerate(_models(), start=1)}
    return device_identifier(numbers[code])


def _models() -> list[tuple[Row, float]]:
    """Every model with its price at the start."""
    found: list[tuple[Row, float]] = []

    def model(code: str, kind: str, description: str, price: float, **sizes: object) -> None:
        found.append(({"model_code": code, "kind": kind, "description": description, **sizes}, price))

    for shaft, tip, single, price in ((7.5, 7.0, "yes", 690), (8.5, 7.5, "no", 17200), (9.5, 8.5, "no", 15900)):
        model(
            f"SC-{round(shaft * 10)}", "scope", f"flexible scope {shaft} Fr", price, tip_tenths_fr=tip,
            shaft_tenths_fr=shaft, channel_tenths_fr=3.6, length_cm=67, single_use=single, steerable_tip="yes",
        )  # fmt: skip
    model(
        "SR-65", "semirigid_scope", "semirigid scope 6.5/8.5 Fr", 9800, tip_tenths_fr=6.5, shaft_tenths_fr=8.5,
        channel_tenths_fr=4.2, length_cm=43, single_use="no",
    )  # fmt: skip
    model("NS-12", "nephroscope", "nephroscope for small tracts", 11400, shaft_tenths_fr=12, single_use="no")
    model("NS-24", "nephroscope", "nephroscope for standard tracts", 10900, shaft_tenths_fr=24, single_use="no")
    for inner in (100, 110, 120):
        for length in SHEATH_LENGTHS_CM:
            for suction in (False, True):
                model(
                    sheath_code(inner, length, suction), "access_sheath",
                    f"access sheath {inner // 10}/{inner // 10 + 2} Fr" + (" with suction" if suction else ""),
                    165 if suction else 92, inner_tenths_fr=inner // 10, outer_tenths_fr=inner // 10 + 2,
                    length_cm=length, single_use="yes", suction="yes" if suction else "no",
                    steerable_tip="yes" if suction else "no",
                )  # fmt: skip
    for size in (16, 18, 24, 28, 30):
        model(
            f"PS-{size}", "percutaneous_sheath", f"percutaneous sheath {size} Fr", 110, outer_tenths_fr=size,
            inner_tenths_fr=size - 2, length_cm=18, single_use="yes",
        )  # fmt: skip
    for wire in (35, 38):
        model(
            f"GW-{wire}", "guidewire", f"guidewire 0.0{wire} inch", 21, wire_thousandths_inch=wire / 1000,
            length_cm=150, single_use="yes",
        )  # fmt: skip
    for core in (200, 272):
        model(f"LF-{core}", "laser_fibre", f"laser fibre {core} um", 140, fibre_core_um=core, single_use="yes")
    model("RD-19", "retrieval_device", "tipless basket 1.9 Fr", 155, length_cm=120, single_use="yes")
    model("LG-H", "energy_generator", "holmium laser", 64000, single_use="no")
    model("LG-T", "energy_generator", "thulium fibre laser", 88000, single_use="no")
    model("PS-U", "energy_generator", "pneumatic and ultrasonic lithotripter", 31000, single_use="no")
    model("IR-P", "irrigation", "pump tubing", 24, single_use="yes")
    model("VS-1", "suction_source", "suction canister and tubing", 12, single_use="yes", suction="yes")
    model("DL-10", "dilator", "ureteric dilator 8/10 Fr", 38, tip_tenths_fr=8, length_cm=60, single_use="yes")
    model("ST-6", "stent", "ureteric stent 6 Fr, 26 cm", 47, shaft_tenths_fr=6, length_cm=26, single_use="yes")
    model("SW-1", "shock_wave_source", "shock-wave source", 240000, single_use="no")
    model("PR-1", "pressure_sensor", "intrarenal pressure wire", 310, single_use="yes")
    return found


def catalogue(rows: Rows) -> None:
    """Models, their prices since 2019, 2022 and 2024, and the reusable items."""
    for number, (model, price) in enumerate(_models(), start=1):
        code = str(model["model_code"])
        add(rows, "equipment_model", {"site": SITE}, model, device_identifier=device_identifier(number))
        for since, factor in PRICE_CHANGES:
            key = {"site": SITE, "model_code": code, "since": since}
            add(rows, "equipment_price", key, price=round(price * factor, 2), currency=CURRENCY)
    for code, serials in ITEMS.items():
        for number, serial in enumerate(serials):
            values: Row = {
                "acquired_on": BOUGHT_LATER.get(serial, date(2018, 3 + number, 14)),
                "uses_before": 31 * (3 - number) if number < 3 else 0,
            }
            if serial in RETIRED:
                values["retired_on"] = RETIRED[serial]
            add(rows, "equipment_item", {"site": SITE, "model_code": code, "serial": serial}, values)


def repairs(rows: Rows) -> None:
    """A repair three weeks after each failure of a reusable scope, in order, unless it was retired by then."""
    broken: dict[tuple[str, str], list[tuple[date, str]]] = {}
    for use in rows.get("equipment_use", []):
        if use.get("failure_stage") and use.get("serial"):
            failed = (use["operated_on"], use["failure_mode"])
            broken.setdefault((use["model_code"], use["serial"]), []).append(failed)
    for (code, serial), failures in sorted(broken.items()):
        mendings = [(date.fromordinal(on.toordinal() + REPAIR_D), mode) for on, mode in sorted(failures)]
        kept = [(mended, mode) for mended, mode in mendings if mended <= RETIRED.get(serial, date.max)]
        for number, (mended, mode) in enumerate(kept, start=1):
            key = {"site": SITE, "model_code": code, "serial": serial, "repair_number": number}
            note = "Sent to the workshop: " + mode.replace("_", " ") + "."
            add(rows, "repair", key, repaired_on=mended, cost=1480 + 35 * (number % 9), currency=CURRENCY, note=note)
