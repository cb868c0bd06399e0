"""Shares of what records hold in detail: findings in the operation, anatomy, equipment, observations, readings."""

from __future__ import annotations

from dataclasses import dataclass

from synthetic_cohort.parameter_fields import share, size


@dataclass(frozen=True)
class DetailParameters:
    """Shares that touch no outcome of the two equations; each is a truth of its own."""

    # In the operation.
    share_lesion_1: float = share(0.20, "ureteric lesions of grade 1, of sides treated through the ureter")
    share_lesion_2: float = share(0.06, "the same, grade 2")
    share_lesion_3: float = share(0.008, "the same, grade 3")
    share_lesion_4: float = share(0.0006, "the same, grade 4")
    share_lesion_5: float = share(0.0002, "the same, grade 5")
    share_wall_1: float = share(0.15, "wall injuries of grade 1, of sides with a sheath")
    share_wall_2: float = share(0.05, "the same, grade 2")
    share_wall_3: float = share(0.012, "the same, grade 3")
    share_wall_4: float = share(0.0002, "the same, grade 4")
    share_incident_1: float = share(0.02, "sides without lesion and with an incident of Satava grade 1")
    share_incident_2a: float = share(0.035, "the same, grade 2a")
    share_incident_2b: float = share(0.012, "the same, grade 2b")
    share_incident_3: float = share(0.0008, "the same, grade 3")
    share_grade_missing: float = share(0.03, "gradings in the operation that nobody recorded, each")
    share_judgement_missing: float = share(0.03, "sides without the surgeon's judgement at the end")
    share_nothing_if_clear: float = share(0.6, "sides judged clear that are judged to hold nothing, not even dust")
    share_pressure: float = share(0.12, "flexible operations with the pressure measured")
    share_part_missing: float = share(0.1, "values of a group, such as pressures, that were not recorded, each")
    share_flow: float = share(0.3, "sides with the irrigation flow recorded")

    # Anatomy and stones.
    share_abnormal_anatomy: float = share(0.05, "kidneys of abnormal anatomy")
    share_diverticulum: float = share(0.02, "stones in upper and middle calyces that lie in a diverticulum")
    share_sites: float = share(0.85, "kidney stones whose sites filled are recorded")
    share_face: float = share(0.7, "stones in calyces with their face recorded")
    share_segmented: float = share(0.25, "stones measured by CT with a segmented volume")
    share_skin_distance: float = share(0.75, "kidney stones measured by CT with the skin-to-stone distance")
    share_angle_lower: float = share(0.75, "lower-pole sides with the infundibulopelvic angle")
    share_angle_other: float = share(0.25, "other kidney sides with the infundibulopelvic angle")
    share_angle_no_length: float = share(0.12, "measured angles without the infundibulum's length and width")

    # Equipment.
    failure_single_use: float = size(0.045, "share", 0, 0.5, "single-use flexible scopes opened that fail")
    failure_reusable: float = size(0.028, "share", 0, 0.5, "reusable flexible scopes opened that fail")
    share_two_scopes: float = share(0.02, "flexible operations begun with a scope of another size")
    share_two_sheaths: float = share(0.03, "sheathed operations begun with a sheath of another size")
    share_lot: float = share(0.6, "single-use pieces with their lot recorded")
    share_udi: float = share(0.8, "single-use scopes with the whole UDI scanned or typed")

    # Observations and readings.
    share_observed_before: float = share(0.7, "operations with observations before")
    share_observed_after: float = share(0.35, "operations without infection with observations on the day after")
    share_value_missing: float = share(0.12, "single values of a set of observations that are missing")
    share_kidney_followed: float = share(0.45, "operations with creatinine before that have it weeks after")
    share_second_reading: float = share(0.08, "examinations read by a second reader, with an error of his own")
    second_reader_slack: float = size(
        0.5, "multiplier", 0, 5, "errors of second readers (misses and false alarms), as a multiple of the first's"
    )
