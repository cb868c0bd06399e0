"""One patient's story that every clinical rule can judge, and that breaks none of them.

Days count from the first operation, on 4 March 2024. Keys count from 1 in each table.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

DAY_0 = dt.date(2024, 3, 4)
LEFT, RIGHT = 1, 2

Tables = dict[str, list[dict[str, Any]]]


def day(number: int) -> dt.date:
    return DAY_0 + dt.timedelta(days=number)


def at(number: int, hour: int, minute: int = 0) -> dt.datetime:
    return dt.datetime.combine(day(number), dt.time(hour, minute), dt.UTC)


def whole_case() -> Tables:
    """The rows by table."""
    tables: Tables = {
        "site": [{"code": "A", "name": "Site A"}],
        "patient": [
            {"site_id": 1, "study_number": "S0001", "sex": "female", "birth_year": 1970, "died_on": day(500),
             "last_known_alive_on": day(480)},
        ],
        "renal_unit": [
            {"patient_id": 1, "unit": "left", "unit_number": 1, "solitary": "no"},
            {"patient_id": 1, "unit": "right", "unit_number": 1, "solitary": "no", "lost_on": day(300),
             "loss_reason": "nephrectomy"},
        ],
        "admission": [
            {"patient_id": 1, "admitted_on": day(0), "admission_number": 1, "discharged_on": day(2),
             "stay_after_operation_h": 47.0},
            {"patient_id": 1, "admitted_on": day(9), "admission_number": 1, "discharged_on": day(11)},
        ],
        "operation": [
            {"patient_id": 1, "operated_on": day(0), "day_number": 1, "purpose": "stone_removal", "admission_id": 1,
             "urgency": "elective", "age_years": 53, "gestation_weeks": 20, "asa_class": "2", "height_cm": 165.0,
             "weight_kg": 64.0, "prophylaxis": "cephalosporin", "prophylaxis_doses": 1, "prophylaxis_before_min": 30,
             "anticoagulant": "aspirin", "anticoagulant_handling": "continued", "started_at": at(0, 9),
             "ended_at": at(0, 10, 15), "operating_min": 60, "room_min": 90, "fluoroscopy_s": 120},
            {"patient_id": 1, "operated_on": day(40), "day_number": 1, "purpose": "stone_removal",
             "operating_min": 45, "fluoroscopy_s": 60},
        ],
        "course": [{"renal_unit_id": LEFT, "course_number": 1}, {"renal_unit_id": RIGHT, "course_number": 1}],
        "planned_stage": [
            {"course_id": 1, "stage_number": 1, "decided_on": day(0)},
            {"course_id": 1, "stage_number": 2, "decided_on": day(10), "dropped_on": day(80)},
        ],
        "treated_side": [
            {"operation_id": 1, "renal_unit_id": LEFT, "intent": "stone_removal", "course_id": 1, "stage_number": 0,
             "conduct": "completed", "pre_stented": "yes", "pre_stented_days": 20, "infundibulopelvic_angle_deg": 50,
             "angle_method": "ureteropelvic_axis", "access_gained": "yes", "sheath_furthest": "pelvis",
             "wall_injury": "1", "suction": "through_sheath", "suction_level_kpa": 15.0,
             "pressure_mean_cmh2o": 25.0, "pressure_highest_cmh2o": 60.0, "pressure_threshold_cmh2o": 40.0,
             "pressure_above_threshold_s": 30, "irrigation_in_ml": 2000, "irrigation_out_ml": 1900,
             "surgeon_judgement": "dust", "exit_strategy": "stent", "lithotripsy_min": 20.0,
             "side_operating_min": 60, "side_fluoroscopy_s": 120},
            {"operation_id": 2, "renal_unit_id": LEFT, "intent": "stone_removal", "course_id": 1, "stage_number": 1,
             "conduct": "abandoned", "conduct_reason": "bleeding", "pre_stented": "no"},
            {"operation_id": 2, "renal_unit_id": RIGHT, "intent": "stone_removal", "course_id": 2, "stage_number": 0,
             "conduct": "completed"},
        ],
        "side_technique": [
            {"treated_side_id": 1, "technique": "flexible"},
            {"treated_side_id": 2, "technique": "mini_percutaneous"},
            {"treated_side_id": 3, "technique": "shock_wave"},
        ],
        "stone": [
            {"course_id": 1, "stone_number": 1, "location": "lower_calyx", "calyx_face": "anterior", "length_mm": 12.0,
             "width_mm": 9.0, "depth_mm": 8.0, "volume_mm3": 450.0, "attenuation_hu": 900, "measured_by": "ct",
             "measured_on": day(-30), "measured_slice_mm": 1.0},
        ],
        "stone_aim": [
            {"treated_side_id": 1, "stone_id": 1, "aim": "aimed_at", "result": "cleared"},
        ],
        "stone_analysis": [
            {"renal_unit_id": LEFT, "analysis_number": 1, "operation_id": 1, "sent_on": day(0), "reported_on": day(12)},
        ],
        "analysis_component": [
            {"stone_analysis_id": 1, "component": "whewellite", "share_percent": 70.0},
            {"stone_analysis_id": 1, "component": "weddellite", "share_percent": 30.0},
        ],
        "lithotripsy_setting": [  # 0.5 J x 20 Hz = 10 W; 10 W x 10 min x 60 / 1000 = 6 kJ
            {"treated_side_id": 1, "setting_number": 1, "energy_source": "holmium_laser", "pulse_energy_j": 0.5,
             "frequency_hz": 20.0, "power_w": 10.0, "total_energy_kj": 6.0, "emission_min": 10.0},
        ],
        "shock_wave_session": [{"treated_side_id": 3, "session_number": 1, "shocks": 2500}],
        "tract": [{"treated_side_id": 2, "tract_number": 1, "size_tenths_fr": 180}],
        "drain": [
            {"renal_unit_id": LEFT, "placed_on": day(-20), "drain_number": 1, "kind": "stent", "removed_on": day(0)},
            {"renal_unit_id": LEFT, "placed_on": day(0), "drain_number": 1, "kind": "stent", "operation_id": 1,
             "on_string": "no", "planned_removal_on": day(14), "removed_on": day(15), "removed_where": "clinic"},
            {"renal_unit_id": RIGHT, "placed_on": day(40), "drain_number": 1, "kind": "nephrostomy",
             "operation_id": 2, "removed_on": day(42), "removed_where": "ward"},
        ],
        "culture": [
            {"patient_id": 1, "taken_on": day(-10), "specimen": "urine", "culture_number": 1, "operation_id": 1,
             "timing": "before", "result": "positive", "treated_with": "trimethoprim", "treated_since": day(-8)},
        ],
        "culture_organism": [{"culture_id": 1, "organism": "proteus"}],
        "observation_set": [
            {"patient_id": 1, "observed_on": day(-1), "set_number": 1, "operation_id": 1, "timing": "before",
             "haemoglobin_g_l": 135.0},
            {"patient_id": 1, "observed_on": day(1), "set_number": 1, "operation_id": 1, "timing": "after",
             "haemoglobin_g_l": 128.0, "systolic_mmhg": 120, "mean_pressure_mmhg": 90, "creatinine_umol_l": 80.0,
             "egfr_ml_min": 75.0, "vasopressor": "yes", "noradrenaline_ug_kg_min": 0.1},
        ],
        "complication": [
            {"operation_id": 1, "complication_number": 1, "what": "fever", "onset_on": day(1), "died_of_it": "no",
             "present_at_discharge": "yes", "readmission_id": 2},
        ],
        "therapy": [{"complication_id": 1, "therapy_number": 1, "what": "antibiotic", "given_on": day(1)}],
        "grading": [{"complication_id": 1, "grading_number": 1, "grader": "first", "grade": "II"}],
        "later_entry": [
            {"patient_id": 1, "occurred_on": day(300), "entry_number": 1, "what": "loss_of_kidney",
             "renal_unit_id": RIGHT},
        ],
        "contact": [
            {"patient_id": 1, "contacted_on": day(95), "contact_number": 1, "complications_known_to": day(95),
             "stone_events_known_to": day(95)},
        ],
    }  # fmt: skip
    return tables | _equipment() | _imaging()


def _equipment() -> Tables:
    return {
        "equipment_model": [
            {"site_id": 1, "model_code": "SC", "kind": "scope", "tip_tenths_fr": 75, "shaft_tenths_fr": 75,
             "channel_tenths_fr": 36, "length_cm": 68.0, "single_use": "yes", "device_identifier": "51022222233336"},
            {"site_id": 1, "model_code": "UAS", "kind": "access_sheath", "inner_tenths_fr": 100,
             "outer_tenths_fr": 120, "length_cm": 45.0, "suction": "yes", "single_use": "yes"},
            {"site_id": 1, "model_code": "LF", "kind": "laser_fibre", "fibre_core_um": 200, "single_use": "yes"},
            {"site_id": 1, "model_code": "NS", "kind": "nephroscope", "shaft_tenths_fr": 120,
             "channel_tenths_fr": 60},
            {"site_id": 1, "model_code": "PS", "kind": "percutaneous_sheath", "inner_tenths_fr": 165,
             "outer_tenths_fr": 180},
        ],
        "equipment_item": [
            {"equipment_model_id": 1, "serial": "K1", "acquired_on": day(-100), "retired_on": day(50)},
        ],
        "repair": [{"equipment_item_id": 1, "repair_number": 1, "repaired_on": day(20)}],
        "equipment_use": [
            {"treated_side_id": 1, "use_number": 1, "equipment_model_id": 2, "result": "passed",
             "most_of_lithotripsy": "yes"},
            {"treated_side_id": 1, "use_number": 2, "equipment_model_id": 1, "equipment_item_id": 1,
             "result": "passed", "most_of_lithotripsy": "yes", "minutes": 40.0, "reported_on": day(3), "lot": "a213-b1",
             "serial_as_scanned": "K1", "udi": "(01)51022222233336(11)231231(17)240304(10)A213B1(21)K1"},
            {"treated_side_id": 1, "use_number": 3, "equipment_model_id": 3, "result": "passed"},
            {"treated_side_id": 2, "use_number": 1, "equipment_model_id": 5, "result": "passed"},
            {"treated_side_id": 2, "use_number": 2, "equipment_model_id": 4, "result": "passed"},
        ],
    }  # fmt: skip


def _imaging() -> Tables:
    return {
        "examination": [
            {"patient_id": 1, "examined_on": day(-30), "modality": "ct", "examination_number": 1, "slice_mm": 1.0,
             "purpose": "diagnosis"},
            {"patient_id": 1, "examined_on": day(30), "modality": "ct", "examination_number": 1, "slice_mm": 1.0,
             "purpose": "follow_up"},
            {"patient_id": 1, "examined_on": day(2), "modality": "second_look", "examination_number": 1},
            {"patient_id": 1, "examined_on": day(120), "modality": "ultrasound", "examination_number": 1,
             "not_done": "refused"},
            {"patient_id": 1, "examined_on": day(70), "modality": "ct", "examination_number": 1, "slice_mm": 1.0,
             "purpose": "follow_up"},
        ],
        "reading": [
            {"examination_id": 1, "renal_unit_id": LEFT, "reading_number": 1, "finding": "fragments"},
            {"examination_id": 2, "renal_unit_id": LEFT, "reading_number": 1, "finding": "fragments"},
            {"examination_id": 3, "renal_unit_id": LEFT, "reading_number": 1, "finding": "none_seen",
             "every_calyx_seen": "yes"},
            {"examination_id": 1, "renal_unit_id": RIGHT, "reading_number": 1, "finding": "fragments"},
            {"examination_id": 5, "renal_unit_id": LEFT, "reading_number": 1, "finding": "none_seen"},
        ],
        "fragment": [
            {"reading_id": 2, "fragment_number": 1, "kind": "single", "location": "lower_calyx",
             "diameter_low_mm": 3.0, "diameter_high_mm": 3.0},
            {"reading_id": 4, "fragment_number": 1, "kind": "single", "location": "pelvis", "diameter_low_mm": 8.0,
             "diameter_high_mm": 8.0},
        ],
    }  # fmt: skip
