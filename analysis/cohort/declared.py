"""The cohort frame's columns, declared in order: those recorded as they are, and those worked out."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from analysis.cohort.columns import CohortColumn, of_field
from registry.schema.codes import CodeList
from registry.schema.fields import Arises, FieldInfo, Reference, info_of
from registry.schema.lists_common import YesNo
from registry.schema.lists_operation import EnergySource, LithotripsyMode, Technique
from registry.schema.lists_stone import StoneLocation
from registry.schema.tables import metadata, own_columns

BEFORE, CHOICE, ACCESS, AFTER = Arises.BEFORE, Arises.CHOICE, Arises.ACCESS, Arises.AFTER_ACCESS

# Not for a table of results: links, and who signed a case off and at what hour.
LEFT_OUT = {
    "operation": {"signed_off_by", "signed_off_at", "started_at", "ended_at", "age_years"},
    "treated_side": {"side_operating_min", "side_fluoroscopy_s", "side_dose_area_product_gy_cm2"},
}


def _made(name: str, label: str, holds: str, arises: Arises | None, unit: str = "", **more: Any) -> CohortColumn:
    return CohortColumn(name=name, label=label, holds=holds, arises=arises, unit=unit, **more)


def _coded(name: str, label: str, arises: Arises, codes: type[CodeList], *, joined: bool = False) -> CohortColumn:
    levels, labels = tuple(codes.codes()), tuple(code.label for code in codes)
    return _made(name, label, "code", arises, levels=levels, labels=labels, joined=joined)


def _said(name: str, label: str, arises: Arises, *levels: str) -> CohortColumn:
    return _made(name, label, "code", arises, levels=levels, labels=levels)


def _yes_no(name: str, label: str, arises: Arises) -> CohortColumn:
    return _coded(name, label, arises, YesNo)


def _recorded(table_name: str, *first: str) -> list[CohortColumn]:
    """All analysed fields of a table but its links and what is left out; `first` are placed elsewhere."""
    fields: list[FieldInfo] = [info_of(column) for column in own_columns(metadata.tables[table_name])]
    return [
        of_field(table_name, info.name)
        for info in fields
        if info.analysed
        and not isinstance(info.kind, Reference)
        and info.name not in LEFT_OUT.get(table_name, set())
        and info.name not in first
    ]


KEYS = [
    of_field("treated_side", "id", "side_id"),
    of_field("patient", "id", "patient_id"),
    of_field("patient", "study_number"),
    _made("site", "Site", "code", BEFORE, source="site.code"),
    of_field("operation", "id", "operation_id"),
    of_field("operation", "operated_on"),
    of_field("operation", "day_number"),
    _made("year", "Year of operation", "whole", BEFORE, "year"),
    of_field("treated_side", "renal_unit_id"),
    of_field("renal_unit", "unit"),
    of_field("treated_side", "course_id"),
    of_field("treated_side", "stage_number"),
]
CASE = [
    _yes_no("bilateral", "Both sides in one operation", BEFORE),
    of_field("renal_unit", "anatomy"),
    of_field("renal_unit", "solitary"),
    of_field("renal_unit", "prior_stone_surgery"),
    of_field("patient", "sex"),
    of_field("patient", "stone_history"),
    replace(of_field("patient", "research_use"), arises=None),
    of_field("operation", "age_years"),
    _made("bmi", "Body mass index", "number", BEFORE, "kg/m2"),
]
WHO_AND_HOW = [
    _coded("technique", "Technique", BEFORE, Technique, joined=True),
    _made("operator", "First operator", "code", BEFORE, source="operator.code"),
    of_field("operation_operator", "grade", "operator_grade"),
    of_field("operation_operator", "supervision"),
    _made("operator_prior_cases", "Operator's cases of the technique before", "whole", BEFORE, "cases"),
    _made("operator_cases_here", "Operator's earlier cases of the technique in the registry", "whole", BEFORE, "cases"),
    _yes_no("positive_culture_before", "Positive urine culture in the 90 days before", BEFORE),
]
STONES = [
    _made("stone_count", "Stones", "whole", BEFORE, "stones"),
    _made("largest_mm", "Largest stone", "number", BEFORE, "mm"),
    _made("cumulative_mm", "Cumulative stone diameter", "number", BEFORE, "mm"),
    _made("area_mm2", "Stone area, L x W x pi/4", "number", BEFORE, "mm2"),
    _made("volume_mm3", "Stone volume, segmented or ellipsoid", "number", BEFORE, "mm3"),
    _said("volume_method", "How the volume was got", BEFORE, "segmented", "ellipsoid", "mixed"),
    _made("density_hu", "Attenuation of the largest stone", "whole", BEFORE, "[hnsf'U]"),
    of_field("stone", "attenuation_method", "density_method"),
    _yes_no("any_lower_pole", "A stone in the lower pole", BEFORE),
    _yes_no("any_radiolucent", "A radiolucent stone", BEFORE),
    _coded("locations", "Locations of the stones", BEFORE, StoneLocation, joined=True),
]
EQUIPMENT = [
    _made("scope_model", "Scope", "code", CHOICE, source="equipment_model.model_code"),
    _made("scope_fr", "Scope shaft", "number", CHOICE, "Fr"),
    of_field("equipment_model", "single_use", "scope_single_use"),
    _made("sheath_model", "Access sheath", "code", CHOICE, source="equipment_model.model_code"),
    _made("sheath_inner_fr", "Sheath inner diameter", "number", CHOICE, "Fr"),
    _made("sheath_outer_fr", "Sheath outer diameter", "number", CHOICE, "Fr"),
    of_field("equipment_model", "length_cm", "sheath_length_cm"),
    of_field("equipment_model", "suction", "sheath_suction"),
    of_field("equipment_model", "steerable_tip", "sheath_steerable"),
    _made("sheath_to_scope_ratio", "Sheath inner to scope shaft", "number", CHOICE),
    _made("scope_to_sheath_ratio", "Scope shaft to sheath inner", "number", CHOICE),
    _said("ratio_state", "Whether the ratio is known", CHOICE, "known", "not applicable", "missing", "impossible"),
    _said(
        "scope_to_sheath_band",
        "Scope-to-sheath ratio",
        CHOICE,
        "under 0.75",
        "0.75 to under 0.85",
        "0.85 and over",
    ),
    _said("scope_to_sheath_split", "Scope-to-sheath ratio, at 0.85", CHOICE, "0.85 and under", "over 0.85"),
    _made("ratio_pairs", "Pairs of sheath and scope", "whole", AFTER, "pairs"),
    _yes_no("sheath_failed", "A sheath failed", ACCESS),
    _yes_no("sheath_downsized", "A smaller sheath taken", ACCESS),
    _coded("energy_source", "Energy source", CHOICE, EnergySource, joined=True),
    _coded("lithotripsy_mode", "Dusting or fragmenting", AFTER, LithotripsyMode),
    _made("total_energy_kj", "Total energy", "number", AFTER, "kJ"),
    _made("emission_min", "Emission minutes", "number", AFTER, "min"),
]
PER_SIDE = [
    of_field("treated_side", "side_operating_min"),
    of_field("treated_side", "side_fluoroscopy_s"),
    of_field("treated_side", "side_dose_area_product_gy_cm2"),
]

OF_OPERATION = [
    # The room's minutes say nothing of when they arise; like the operation's they end after access.
    replace(column, arises=AFTER) if column.name == "room_min" else column
    for column in _recorded("operation", "operated_on", "day_number")
]
OF_SIDE = _recorded("treated_side", "stage_number")

DECLARED: tuple[CohortColumn, ...] = (
    *KEYS,
    *CASE,
    *OF_OPERATION,
    *WHO_AND_HOW,
    *STONES,
    *EQUIPMENT,
    *OF_SIDE,
    *PER_SIDE,
)
