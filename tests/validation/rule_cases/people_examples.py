"""What breaks the rules of people, stays, courses, complications and infection, and what leaves them unjudged."""

from __future__ import annotations

from tests.validation.rule_cases.changes import Example
from tests.validation.rule_cases.whole_case import LEFT, RIGHT, at, day

# The year of death alone is known, and what happened lies within it.
DIED_THAT_YEAR = {"patient.1.died_on": day(0).replace(month=1, day=1), "patient.1.died_on_precision": "year"}
NO_OPERATIONS = {"-operation.1": None, "-operation.2": None}
LATER_SIDE = {"id": 9, "operation_id": 9, "renal_unit_id": LEFT, "intent": "stone_removal"}
LATER = {"id": 9, "patient_id": 1, "operated_on": day(41), "purpose": "stone_removal"}

PEOPLE_EXAMPLES = (
    Example("operation.operated_on.after_death", {"operation.2.operated_on": day(501)}, DIED_THAT_YEAR),
    Example("examination.examined_on.after_death", {"examination.5.examined_on": day(501)}, DIED_THAT_YEAR),
    Example("observation_set.observed_on.after_death", {"observation_set.2.observed_on": day(501)}, DIED_THAT_YEAR),
    Example("admission.admitted_on.after_death", {"admission.2.admitted_on": day(501)}, DIED_THAT_YEAR),
    Example(
        "patient.last_known_alive_on.before_death",
        {"patient.1.last_known_alive_on": day(501)},
        {"patient.1.last_known_alive_on": day(0), **DIED_THAT_YEAR},
    ),
    Example("operation.age_years.birth_year", {"operation.1.age_years": 35}, {"patient.1.birth_year": None}),
    Example(
        "operation.operated_on.after_birth", {"operation.1.operated_on": day(-25_000)}, {"patient.1.birth_year": None}
    ),
    Example("operation.gestation_weeks.sex", {"patient.1.sex": "male"}, {"patient.1.sex": None}),
    Example(
        "operation.height_cm.swapped_with_weight",
        {"operation.1.height_cm": 64.0, "operation.1.weight_kg": 165.0},
        {"operation.1.weight_kg": None},
    ),
    Example("operation.weight_kg.body_mass", {"operation.1.weight_kg": 25.0}, {"operation.1.height_cm": None}),
    Example("operation.asa_class.urgency", {"operation.1.asa_class": "5"}, {"operation.1.urgency": None}),
    Example(
        "operation.anticoagulant_handling.none",
        {"operation.1.anticoagulant": "none"},
        {"operation.1.anticoagulant": None},
    ),
    Example(
        "operation.admission_id.within_stay", {"operation.1.operated_on": day(3)}, {"admission.1.discharged_on": None}
    ),
    Example(
        "admission.discharged_on.after_admitted",
        {"admission.2.discharged_on": day(8)},
        {"admission.2.discharged_on": None},
    ),
    Example(
        "admission.stay_after_operation_h.fits_dates",
        {"admission.1.stay_after_operation_h": 4.0},
        {"admission.1.discharged_on": None},
    ),
    Example(
        "contact.complications_known_to.up_to_contact",
        {"contact.1.complications_known_to": day(96)},
        {"contact.1.complications_known_to": None, "contact.1.stone_events_known_to": None},
    ),
    Example("later_entry.occurred_on.after_operation", {"later_entry.1.occurred_on": day(-3)}, NO_OPERATIONS),
    Example("later_entry.what.kidney_lost", {"renal_unit.2.lost_on": None}, {"later_entry.1.renal_unit_id": None}),
    Example(
        "renal_unit.solitary.other_treated",
        {"renal_unit.1.solitary": "yes", "renal_unit.2.lost_on": None},
        {"renal_unit.1.solitary": None},
    ),
    Example(
        "planned_stage.decided_on.before_previous", {"planned_stage.1.decided_on": day(1)}, {"-treated_side.1": None}
    ),
    Example(
        "planned_stage.dropped_on.after_decided",
        {"planned_stage.2.dropped_on": day(9)},
        {"planned_stage.2.dropped_on": None},
    ),
    Example(
        "treated_side.stage_number.planned",
        {"-planned_stage.1": None},
        {"treated_side.2.course_id": None},
        row=2,
    ),
    Example(
        "treated_side.stage_number.order",
        {"treated_side.1.stage_number": 2},
        {"treated_side.1.stage_number": None},
        row=1,
    ),
    Example(
        "treated_side.stage_number.one_index",
        {"treated_side.2.stage_number": 0},
        {"treated_side.2.stage_number": None},
    ),
    Example(
        # Stages from 1 on may go on from an index before the registry.
        "treated_side.stage_number.has_index",
        {"treated_side.3.stage_number": None},
        {"treated_side.3.stage_number": 1},
    ),
    Example("treated_side.course_id.same_side", {"treated_side.1.course_id": 2}, {"treated_side.1.course_id": None}),
    Example(
        "treated_side.intent.operation", {"operation.1.purpose": "drainage"}, {"treated_side.1.operation_id": None}
    ),
    Example(
        "culture.timing.fits_date",
        {"culture.1.timing": "after"},
        {"culture.1.timing": None},
    ),
    Example(
        "observation_set.timing.fits_date",
        {"observation_set.1.observed_on": day(1)},
        {"observation_set.1.timing": None},
    ),
    Example(
        "culture.treated_since.after_taken",
        {"culture.1.treated_since": day(-12)},
        {"culture.1.treated_since": None},
    ),
    Example("culture.result.organisms", {"culture.1.result": "negative"}, {"culture.1.result": None}),
    Example(
        "operation.prophylaxis.positive_culture",
        {"operation.1.prophylaxis": "none"},
        {"operation.1.prophylaxis": None},
    ),
    Example("operation.prophylaxis.none_given", {"operation.1.prophylaxis": "none"}, {"operation.1.prophylaxis": None}),
    Example(
        "observation_set.systolic_mmhg.above_mean",
        {"observation_set.2.systolic_mmhg": 80},
        {"observation_set.2.mean_pressure_mmhg": None},
    ),
    Example(
        "observation_set.haemoglobin_g_l.rise",
        {"observation_set.2.haemoglobin_g_l": 176.0},
        {"observation_set.1.haemoglobin_g_l": None},
    ),
    Example(
        # Inker 2021, a woman of 54, 80 umol/L: 142 x (80/61.9)^-1.2 x 0.9938^54 x 1.012 = 75.6, and 200 > 2 x 75.6.
        "observation_set.egfr_ml_min.fits_creatinine",
        {"observation_set.2.egfr_ml_min": 200.0},
        {"observation_set.2.creatinine_umol_l": None},
    ),
    Example(
        "observation_set.noradrenaline_ug_kg_min.vasopressor",
        {"observation_set.2.vasopressor": "no"},
        {"observation_set.2.vasopressor": None},
    ),
    Example(
        "complication.onset_on.after_operation",
        {"complication.1.onset_on": day(-1)},
        {"complication.1.onset_on": day(0).replace(day=1), "complication.1.onset_on_precision": "month"},
    ),
    Example(
        "complication.died_of_it.died",
        {"complication.1.died_of_it": "yes", "patient.1.died_on": None},
        {"complication.1.died_of_it": None},
    ),
    Example(
        "complication.present_at_discharge.onset",
        {"complication.1.onset_on": day(3)},
        {"admission.1.discharged_on": None},
    ),
    Example(
        "complication.readmission_id.after_operation",
        {"admission.2.admitted_on": day(-5)},
        {"complication.1.readmission_id": None},
    ),
    Example("therapy.given_on.after_onset", {"therapy.1.given_on": day(0)}, {"complication.1.onset_on": None}),
    Example("therapy.given_on.after_operation", {"therapy.1.given_on": day(-1)}, {"therapy.1.given_on": None}),
    Example("grading.grade.death", {"grading.1.grade": "V"}, {"complication.1.died_of_it": None}),
    Example("operation.ended_at.after_start", {"operation.1.ended_at": at(0, 8)}, {"operation.1.started_at": None}),
    Example("operation.started_at.on_the_day", {"operation.1.started_at": at(7, 9)}, {"operation.1.started_at": None}),
    Example(
        "treated_side.renal_unit_id.twice_within_a_day",
        {"+treated_side": LATER_SIDE, "+operation": LATER},
        {"treated_side.1.operation_id": None},
        row=9,
    ),
    Example(
        "treated_side.operation_id.entered_twice",
        {
            "+treated_side": {**LATER_SIDE, "id": 9},
            "+operation": {**LATER, "operated_on": day(2), "operating_min": 60},
            "+lithotripsy_setting": {"id": 9, "treated_side_id": 9, "total_energy_kj": 6.0},
        },
        {"operation.1.operating_min": None},
        row=9,
    ),
    Example(
        "treated_side.renal_unit_id.swap_suspected",
        {"reading.1.finding": "none_seen"},
        {"reading.1.finding": None},
        row=1,
    ),
    Example(
        "treated_side.pre_stented.other_side",
        {"drain.1.renal_unit_id": RIGHT},
        {"treated_side.1.pre_stented": None},
        row=1,
    ),
)
