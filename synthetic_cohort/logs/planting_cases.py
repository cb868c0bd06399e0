"""Planted errors that contradict what happened to the patient: they are made in the case before it is written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from synthetic_cohort.logs.cases import Case


@dataclass(frozen=True)
class CaseChange:
    """How a case is made wrong.

    Attributes:
        needs: the line has a filled cell for each of these ``table.heading``.
        make: changes the case; False where it cannot be made wrong so.
        said: the log has a column for it somewhere; without one nothing in the log would contradict the change.
        rows: in how many lines the patient stands, 1 or 2.
    """

    needs: tuple[str, ...]
    make: Callable[[Case], bool]
    said: str = ""
    rows: int = 1


def _other(side: str) -> str:
    return "right" if side == "left" else "left"


def _scan_before(case: Case) -> bool:
    case.scan["examined_on"] = case.on - timedelta(days=200)
    return True


def _narrow_sheath(case: Case) -> bool:
    case.sheath |= {"inner_tenths_fr": 7, "outer_tenths_fr": 9}
    return float(case.scope["shaft_tenths_fr"]) >= 7.5


def _large_residual(case: Case) -> bool:
    if not case.stones or not case.fragments:
        return False
    longest = max(stone["length_mm"] for stone in case.stones)
    case.fragments[0]["diameter_low_mm"] = case.fragments[0]["diameter_high_mm"] = round(longest + 15, 1)
    return True


def _long_lasing(case: Case) -> bool:
    case.laser["emission_min"] = case.operation["operating_min"] + 30
    return True


def _much_energy(case: Case) -> bool:
    case.laser["total_energy_kj"] = round(case.laser["total_energy_kj"] * 8, 2)
    return bool(0.5 < case.laser["total_energy_kj"] < 500)


def _early_complication(case: Case) -> bool:
    case.complication["onset_on"] = case.on - timedelta(days=12)
    return True


def _other_side_scanned(case: Case) -> bool:
    case.reading["unit"] = _other(case.unit)
    return True


def _stent_out_first(case: Case) -> bool:
    case.drain["removed_on"] = case.drain["placed_on"] - timedelta(days=9)
    return True


def _centimetres(case: Case) -> bool:
    for name in ("length_mm", "width_mm"):
        case.stones[0][name] = round(case.stones[0][name] / 10, 1)
    return bool(0.5 <= case.stones[0]["length_mm"] <= 1.9)


def _swapped_days(case: Case) -> bool:
    on: date = case.scan["examined_on"]
    if on.day > 12 or on.day == on.month:
        return False
    case.scan["examined_on"] = on.replace(month=on.day, day=on.month)
    return bool(case.scan["examined_on"] < case.on)


def _wrong_side(case: Case) -> bool:
    case.side["unit"] = _other(case.unit)
    return bool(case.scan)


def _suction(case: Case) -> bool:
    if case.sheath.get("suction") != "no" or case.side.get("suction") != "none":
        return False
    case.side["suction"] = "through_sheath"
    return True


def _early_discharge(case: Case) -> bool:
    case.stay["discharged_on"] = case.on - timedelta(days=3)
    return True


def _future(case: Case) -> bool:
    case.operation["operated_on"] = case.on + timedelta(days=20 * 365 + 5)
    return True


def _wrong_age(case: Case) -> bool:
    age = case.operation["age_years"]
    case.operation["age_years"] = age + 31 if age + 31 <= 100 else age - 31
    return True


def _height_as_weight(case: Case) -> bool:
    of = case.operation
    of["height_cm"], of["weight_kg"] = of["weight_kg"], of["height_cm"]
    return bool(of["height_cm"] < 100)


def _sheath_inside_out(case: Case) -> bool:
    of = case.sheath
    of["inner_tenths_fr"], of["outer_tenths_fr"] = of["outer_tenths_fr"], of["inner_tenths_fr"]
    return True


def _energy_as_rate(case: Case) -> bool:
    of = case.laser
    of["pulse_energy_j"], of["frequency_hz"] = of["frequency_hz"], max(round(of["pulse_energy_j"]), 1)
    return bool(of["pulse_energy_j"] >= 8)


def _thousandfold(case: Case) -> bool:
    case.laser["total_energy_kj"] *= 1000
    return True


def _wide(case: Case) -> bool:
    case.stones[0]["width_mm"] = case.stones[0]["length_mm"] + 9
    return True


def _dead_before_scan(case: Case) -> bool:
    case.patient["died_on"] = case.scan["examined_on"] - timedelta(days=10)
    return bool(case.patient["died_on"] > case.on)


def _dense(case: Case) -> bool:
    case.stones[0]["attenuation_hu"] *= 10
    return True


def _other_sex(case: Case) -> bool:
    case.patient["sex"] = "male" if case.patient["sex"] == "female" else "female"
    return True


def _born_today(case: Case) -> bool:
    case.patient["birth_date"] = case.on
    return True


def _missed_point(case: Case) -> bool:
    case.stones[0]["length_mm"] = round(case.stones[0]["length_mm"] * 10, 1)
    return bool(case.stones[0]["length_mm"] > 60)


_STONE = ("stone.length_mm", "stone.width_mm")
_SCAN = ("examination.examined_on",)
_SHEATH = ("equipment_model.inner_tenths_fr", "equipment_model.outer_tenths_fr")
_LASER = ("lithotripsy_setting.pulse_energy_j", "lithotripsy_setting.frequency_hz")
_ENERGY = ("lithotripsy_setting.total_energy_kj",)
_EMISSION = ("lithotripsy_setting.emission_min",)
CASE_CHANGES: dict[str, CaseChange] = {
    "scan_before_operation": CaseChange(_SCAN, _scan_before),
    "scope_wider_than_sheath": CaseChange((*_SHEATH, "equipment_model.shaft_tenths_fr"), _narrow_sheath),
    "residual_larger_than_stone": CaseChange(
        ("fragment.diameter_low_mm", "fragment.diameter_high_mm", "fragment.location"), _large_residual
    ),
    "lasing_longer_than_operating": CaseChange((*_EMISSION, "operation.operating_min"), _long_lasing),
    "energy_outside_settings": CaseChange((*_ENERGY, *_EMISSION, *_LASER), _much_energy),
    "complication_before_operation": CaseChange(("complication.onset_on",), _early_complication),
    "other_side_scanned": CaseChange(("reading.unit",), _other_side_scanned),
    "stent_out_before_in": CaseChange(("drain.placed_on", "drain.removed_on"), _stent_out_first),
    "cm_among_mm": CaseChange(_STONE, _centimetres),
    "day_and_month_swapped": CaseChange(_SCAN, _swapped_days),
    "wrong_side": CaseChange(("renal_unit.unit",), _wrong_side, said="reading.unit"),
    "suction_through_plain_sheath": CaseChange(("treated_side.suction", "equipment_model.suction"), _suction),
    "discharged_before_operation": CaseChange(("admission.discharged_on",), _early_discharge),
    "operation_in_the_future": CaseChange(("operation.operated_on",), _future),
    "age_against_birth_date": CaseChange(("operation.age_years",), _wrong_age, said="patient_identity.birth_date"),
    "weight_and_height_exchanged": CaseChange(("operation.height_cm", "operation.weight_kg"), _height_as_weight),
    "outer_smaller_than_inner": CaseChange(_SHEATH, _sheath_inside_out),
    "frequency_and_energy_exchanged": CaseChange(_LASER, _energy_as_rate),
    "kj_typed_as_j": CaseChange(_ENERGY, _thousandfold),
    "width_above_length": CaseChange(_STONE, _wide),
    "scanned_after_death": CaseChange(_SCAN, _dead_before_scan, said="patient.died_on"),
    "attenuation_impossible": CaseChange(("stone.attenuation_hu",), _dense),
    "sex_against_other_row": CaseChange(("patient.sex",), _other_sex, rows=2),
    "born_on_operation_day": CaseChange(("patient_identity.birth_date",), _born_today),
    "decimal_point_lost": CaseChange(("stone.length_mm",), _missed_point),
}
