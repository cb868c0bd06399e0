"""What breaks the rules of imaging and equipment, and what leaves them unjudged."""

from __future__ import annotations

import datetime as dt

from tests.validation.rule_cases.changes import Example
from tests.validation.rule_cases.whole_case import RIGHT, day

NEXT_YEAR = dt.date.today().year + 1
THIS_YEAR = {
    "examination.5.examined_on": dt.date(NEXT_YEAR - 1, 1, 1),
    "examination.5.examined_on_precision": "year",
}
USED_AGAIN = {"id": 9, "treated_side_id": 2, "use_number": 3, "equipment_model_id": 1, "equipment_item_id": 1}
SECOND_SHEATH = {"id": 9, "treated_side_id": 1, "use_number": 4, "equipment_model_id": 2, "most_of_lithotripsy": "yes"}

IMAGING_EXAMPLES = (
    Example(
        "examination.examined_on.follow_up_after_operation",
        {"examination.2.examined_on": day(-1)},
        {"examination.2.examined_on": day(0).replace(day=1), "examination.2.examined_on_precision": "month"},
    ),
    Example(
        "examination.examined_on.done_not_ahead",
        {"examination.5.examined_on": dt.date(NEXT_YEAR, 6, 1)},
        THIS_YEAR,
    ),
    Example(
        # 3 x 365 days after day 40, and one more.
        "examination.examined_on.first_scan_late",
        {"examination.5.examined_on": day(40 + 3 * 365 + 1)},
        {"-operation.1": None, "-operation.2": None},
    ),
    Example("examination.slice_mm.ct_only", {"examination.2.modality": "ultrasound"}, {"examination.2.slice_mm": None}),
    Example(
        "reading.finding.not_done",
        {"reading.5.examination_id": 4},
        {"reading.5.examination_id": 4, "reading.5.finding": None},
    ),
    Example(
        "reading.renal_unit_id.side_treated",
        {"reading.2.renal_unit_id": RIGHT},
        {"-operation.1": None, "-operation.2": None},
    ),
    Example("reading.finding.none_seen", {"reading.2.finding": "none_seen"}, {"reading.2.finding": None}),
    Example("reading.finding.fragments_listed", {"reading.5.finding": "fragments"}, {"reading.5.finding": None}),
    Example(
        "reading.every_calyx_seen.second_look_only",
        {"reading.2.every_calyx_seen": "yes"},
        {"reading.3.every_calyx_seen": None},
    ),
    Example(
        "fragment.diameter_high_mm.above_zero",
        {"fragment.1.diameter_high_mm": 0.0, "fragment.1.diameter_low_mm": 0.0},
        {"fragment.1.diameter_high_mm": None},
    ),
    Example(
        "fragment.diameter_low_mm.within_stone",
        {"fragment.1.diameter_low_mm": 12.5},
        {"stone.1.length_mm": None},
    ),
    Example(
        "fragment.location.kidney_there",
        {"fragment.2.location": "pelvis", "renal_unit.2.lost_on": day(-40)},
        {"fragment.2.location": None},
    ),
    Example(
        "equipment_use.equipment_model_id.scope_in_sheath",
        {"equipment_model.1.shaft_tenths_fr": 105},
        {"equipment_model.1.shaft_tenths_fr": None},
        row=2,
    ),
    Example(
        "equipment_use.equipment_model_id.nephroscope_in_sheath",
        {"equipment_model.4.shaft_tenths_fr": 170},
        {"equipment_model.5.inner_tenths_fr": None},
        row=5,
    ),
    Example(
        "equipment_use.equipment_model_id.scope_beyond_sheath",
        {"equipment_model.2.length_cm": 70.0},
        {"equipment_model.2.length_cm": None},
        row=2,
    ),
    Example(
        # A channel of 3.6 Fr is 1.2 mm wide.
        "equipment_use.equipment_model_id.fibre_in_channel",
        {"equipment_model.3.fibre_core_um": 1200},
        {"equipment_model.1.channel_tenths_fr": None},
        row=3,
    ),
    Example(
        "equipment_model.inner_tenths_fr.within_outer",
        {"equipment_model.2.inner_tenths_fr": 120},
        {"equipment_model.2.outer_tenths_fr": None},
    ),
    Example(
        "equipment_model.tip_tenths_fr.within_shaft",
        {"equipment_model.1.tip_tenths_fr": 85},
        {"equipment_model.1.tip_tenths_fr": None},
    ),
    Example(
        "equipment_model.channel_tenths_fr.within_shaft",
        {"equipment_model.1.channel_tenths_fr": 75},
        {"equipment_model.1.shaft_tenths_fr": None},
    ),
    Example(
        "equipment_use.equipment_item_id.single_use_again",
        {"+equipment_use": USED_AGAIN},
        {"equipment_model.1.single_use": None},
        row=9,
    ),
    Example(
        "equipment_use.equipment_item_id.model",
        {"equipment_use.2.equipment_model_id": 2},
        {"equipment_use.2.equipment_item_id": None},
    ),
    Example(
        "equipment_use.equipment_item_id.retired",
        {"equipment_item.1.retired_on": day(-1)},
        {"treated_side.1.operation_id": None},
        row=2,
    ),
    Example(
        "equipment_use.equipment_item_id.acquired",
        {"equipment_item.1.acquired_on": day(1)},
        {"treated_side.1.operation_id": None},
        row=2,
    ),
    Example(
        "equipment_use.minutes.within_operating",
        {"equipment_use.2.minutes": 63.0},
        {"equipment_use.2.minutes": None},
    ),
    Example(
        "equipment_use.most_of_lithotripsy.one",
        {"+equipment_use": SECOND_SHEATH},
        {"equipment_use.1.most_of_lithotripsy": None},
        row=9,
    ),
    Example(
        "equipment_use.reported_on.after_operation",
        {"equipment_use.2.reported_on": day(-1)},
        {"treated_side.1.operation_id": None},
    ),
    Example(
        "equipment_item.retired_on.after_acquired",
        {"equipment_item.1.retired_on": day(-101)},
        {"equipment_item.1.acquired_on": None},
    ),
    Example(
        "repair.repaired_on.after_acquired", {"repair.1.repaired_on": day(-101)}, {"equipment_item.1.acquired_on": None}
    ),
)
