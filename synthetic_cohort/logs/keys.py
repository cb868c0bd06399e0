"""The natural keys under which a log's values are found in the registry, with the hospital number for the patient."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from synthetic_cohort.logs.cases import Case
from synthetic_cohort.logs.grid import Carried

Key = tuple[tuple[str, Any], ...]
PATIENT = "hospital_number"
RUNNING = (
    "stone_number", "use_number", "setting_number", "drain_number", "examination_number", "reading_number",
    "fragment_number", "complication_number", "grading_number", "culture_number", "set_number", "person_number",
    "admission_number", "day_number", "unit_number",
)  # fmt: skip
"""Parts of a key that only number things and that no log states."""


def _patient(case: Case) -> dict[str, Any]:
    return {PATIENT: case.number}


def _operation(case: Case) -> dict[str, Any]:
    return {**_patient(case), "operated_on": case.on, "day_number": 1}


def _unit(case: Case) -> dict[str, Any]:
    return {**_patient(case), "unit": case.unit, "unit_number": 1}


def _side(case: Case) -> dict[str, Any]:
    return {**_operation(case), "unit": case.unit, "unit_number": 1}


def _scan(case: Case) -> dict[str, Any]:
    where = {"examined_on": case.scan.get("examined_on"), "modality": case.scan.get("modality")}
    return {**_patient(case), **where, "examination_number": 1}


def _reading(case: Case) -> dict[str, Any]:
    return {**_scan(case), "unit": case.reading.get("unit"), "unit_number": 1, "reading_number": 1}


_KEYS: dict[str, Callable[[Case], dict[str, Any]]] = {
    "hospital_number": _patient,
    "patient": _patient,
    "patient_identity": _patient,
    "operation": _operation,
    "operation_operator": lambda case: {**_operation(case), "person_number": 1},
    "admission": lambda case: {**_patient(case), "admitted_on": case.stay.get("admitted_on"), "admission_number": 1},
    "renal_unit": _unit,
    "treated_side": _side,
    "stone": lambda case: {**_unit(case), "course_number": case.course},
    "equipment_use": _side,
    "lithotripsy_setting": lambda case: {**_side(case), "setting_number": 1},
    "drain": lambda case: {**_unit(case), "placed_on": case.drain.get("placed_on"), "drain_number": 1},
    "examination": _scan,
    "reading": _reading,
    "fragment": _reading,
    "complication": lambda case: {**_operation(case), "complication_number": 1},
    "grading": lambda case: {**_operation(case), "complication_number": 1, "grading_number": 1},
    "culture": lambda case: {
        **_patient(case), "taken_on": case.culture.get("taken_on"), "specimen": "urine", "culture_number": 1
    },
    "observation_set": lambda case: {**_patient(case), "observed_on": case.blood.get("observed_on"), "set_number": 1},
}  # fmt: skip
_NUMBERED = {"stone": "stone_number", "equipment_use": "use_number", "fragment": "fragment_number"}


def carried(case: Case, target: str, value: Any, number: int = 1) -> Carried:
    """The registry value of a case.

    Args:
        case: the case.
        target: ``table.heading``; for what was used, ``equipment_use.model_code.inner_tenths_fr`` is a dimension of the
            model that the use names.
        value: as the registry gives it back.
        number: of the stone, the use or the fragment.
    """
    table, heading = target.split(".", 1)
    key = _KEYS[table](case)
    if table in _NUMBERED:
        key[_NUMBERED[table]] = number
    return Carried(table, tuple(key.items()), heading, value)
