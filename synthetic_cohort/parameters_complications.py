"""How often each kind of complication arises, and how people grade it.

All shares are invented, of the order that units report. ``scope``: after ureteroscopy or shock waves; ``puncture``:
after percutaneous surgery. What each kind is, what is done about it and its grade stand in ``complication_kinds``.
"""

from __future__ import annotations

from dataclasses import dataclass

from synthetic_cohort.parameter_fields import effect, share, size


@dataclass(frozen=True)
class ComplicationParameters:
    """Shares of operations with each kind of complication, for an average patient, and what bends them."""

    share_nausea_scope: float = share(0.010, "nausea, antiemetic: grade I")
    share_nausea_puncture: float = share(0.012, "the same, percutaneous")
    share_fever_scope: float = share(0.012, "fever without infection, antipyretic: grade I")
    share_fever_puncture: float = share(0.03, "the same, percutaneous")
    share_colic_scope: float = share(0.02, "colic, analgesic: grade I")
    share_colic_puncture: float = share(0.01, "the same, percutaneous")
    share_retention_scope: float = share(0.012, "retention, catheter on the ward: grade I")
    share_retention_puncture: float = share(0.01, "the same, percutaneous")
    share_haematoma_scope: float = share(0.003, "haematoma, watched: grade I")
    share_haematoma_puncture: float = share(0.01, "the same, percutaneous")
    share_kidney_injury_scope: float = share(0.004, "acute kidney injury, fluids: grade I")
    share_kidney_injury_puncture: float = share(0.008, "the same, percutaneous")
    share_stent_symptoms_scope: float = share(0.03, "stent symptoms, alpha-blocker: grade II")
    share_stent_symptoms_puncture: float = share(0.005, "the same, percutaneous")
    share_late_infection_scope: float = share(0.012, "urinary infection on days 8 to 75, antibiotic: grade II")
    share_late_infection_puncture: float = share(0.015, "the same, percutaneous")
    share_transfused_scope: float = share(0.003, "bleeding, transfusion: grade II")
    share_transfused_puncture: float = share(0.045, "the same, percutaneous")
    share_thrombosis_scope: float = share(0.002, "thrombosis, anticoagulant: grade II")
    share_thrombosis_puncture: float = share(0.004, "the same, percutaneous")
    share_watched_scope: float = share(0.002, "cardiac event, drug, intensive care for observation only: grade II")
    share_watched_puncture: float = share(0.006, "the same, percutaneous")
    share_stent_migration_scope: float = share(0.006, "stent migrated, changed under local anaesthesia: grade IIIa")
    share_stent_migration_puncture: float = share(0.002, "the same, percutaneous")
    share_urinoma_scope: float = share(0.001, "urinoma, drained under local anaesthesia: grade IIIa")
    share_urinoma_puncture: float = share(0.01, "the same, percutaneous")
    share_obstruction_scope: float = share(0.003, "obstruction, nephrostomy under sedation: grade IIIa")
    share_obstruction_puncture: float = share(0.003, "the same, percutaneous")
    share_embolised_scope: float = share(0.0004, "bleeding, embolised under local anaesthesia: grade IIIa")
    share_embolised_puncture: float = share(0.008, "the same, percutaneous")
    share_clot_scope: float = share(0.0015, "clot retention, evacuated under regional anaesthesia: grade IIIa")
    share_clot_puncture: float = share(0.008, "the same, percutaneous")
    share_steinstrasse_scope: float = share(0.008, "column of fragments, ureteroscopy, general: grade IIIb")
    share_steinstrasse_puncture: float = share(0.002, "the same, percutaneous")
    share_stented_again_scope: float = share(0.005, "obstruction, stent under general anaesthesia: grade IIIb")
    share_stented_again_puncture: float = share(0.004, "the same, percutaneous")
    share_ureter_repaired_scope: float = share(0.0006, "injury of the ureter, open surgery: grade IIIb")
    share_ureter_repaired_puncture: float = share(0.0004, "the same, percutaneous")
    share_organ_injured_scope: float = share(0.0001, "injury of another organ, laparoscopy: grade IIIb")
    share_organ_injured_puncture: float = share(0.003, "the same, percutaneous")
    share_ventilated_scope: float = share(0.0012, "pneumonia, ventilated, one organ: grade IVa")
    share_ventilated_puncture: float = share(0.003, "the same, percutaneous")
    share_dialysis_scope: float = share(0.0006, "acute kidney injury, dialysis, one organ: grade IVa")
    share_dialysis_puncture: float = share(0.001, "the same, percutaneous")
    share_organs_failed_scope: float = share(0.0005, "cardiac event, intensive care, two organs: grade IVb")
    share_organs_failed_puncture: float = share(0.0012, "the same, percutaneous")
    share_died_of_complication: float = share(
        0.002, "pulmonary embolism that kills (grade V), of operations that are a patient's last"
    )
    share_prolonged_prophylaxis: float = share(0.01, "prophylaxis prolonged, written down, no complication")
    complication_per_10_years: float = effect(0.2, "age -> each kind of complication, each 10 years")
    complication_per_10mm: float = effect(0.15, "burden -> each kind of complication, each 10 mm")
    complication_diabetes: float = effect(0.3, "diabetes -> each kind of complication")
    share_shock: float = share(0.15, "sepsis that is septic shock: grade IVa")
    share_shock_two_organs: float = share(0.3, "septic shock with two organs failing: grade IVb")

    # How they are known, written down and graded.
    share_onset_to_the_month: float = share(0.03, "complications whose onset is known to the month only")
    share_lingering: float = share(0.3, "complications begun in hospital that are still there at discharge: suffix d")
    share_readmitted: float = share(0.35, "complications of grade II and above, after discharge, with a readmission")
    share_attended: float = share(0.5, "complications after discharge with an unplanned attendance here or elsewhere")
    share_also_after: float = share(0.5, "complications within 30 days of an earlier operation that name it as well")
    share_graded: float = share(0.95, "complications that a first grader graded")
    share_second_graded: float = share(0.35, "graded complications that a second grader graded as well")
    grader_error_first: float = share(0.08, "first grades that are one grade off, of grades I to IVb")
    grader_error_second: float = share(0.12, "second grades that are one grade off, of grades I to IVb")
    share_planned_written: float = share(0.2, "planned stages done that somebody wrote down as a complication")
    share_contradictory: float = share(0.0, "complications with therapies that contradict each other")

    # Who is reviewed; the effects act in review_missingness by_recorded and not_random.
    reviewed_per_10_years: float = effect(0.3, "age -> reviewed, each 10 years")
    reviewed_per_year: float = effect(0.15, "calendar year -> reviewed")
    reviewed_percutaneous: float = effect(0.8, "percutaneous -> reviewed")
    reviewed_culture_positive: float = effect(0.8, "positive culture before -> reviewed")
    reviewed_operator: float = effect(0.4, "operator's habit -> reviewed")
    reviewed_complicated: float = effect(0.7, "a complication within 30 days -> reviewed (not_random only)")

    # The kidneys' function, mL/min/1.73 m2.
    egfr_mean: float = size(84, "mL/min/1.73 m2", 30, 120, "mean filtration rate before, at age 53")
    egfr_sd: float = size(14, "mL/min/1.73 m2", 0, 40, "spread of filtration rate before")
    egfr_per_10_years: float = size(-6, "mL/min/1.73 m2", -20, 5, "age -> filtration rate before, each 10 years")
    egfr_change_mean: float = size(1.5, "mL/min/1.73 m2", -30, 30, "mean change to weeks after, without infection")
    egfr_change_infection: float = size(-3, "mL/min/1.73 m2", -30, 30, "infection -> that change")
    egfr_change_sd: float = size(6, "mL/min/1.73 m2", 0, 30, "spread of that change")
