"""The columns of the frames from which outcomes are judged, and what each holds.

id: a whole number that is never missing. whole: one that may be. flag: true, false or missing.
"""

from __future__ import annotations

OUTCOME_COLUMNS: dict[str, dict[str, str]] = {
    "sides": {
        "side_id": "id",
        "operation_id": "id",
        "patient_id": "id",
        "renal_unit_id": "id",
        "course_id": "whole",
        "stage": "whole",
        "operated_on": "date",
        "day_number": "id",
        "intent": "text",
        "conduct": "text",
        "access_failed": "flag",
    },
    "treatments": {
        "treatment_id": "id",
        "patient_id": "id",
        "renal_unit_id": "id",
        "side_id": "whole",
        "on_low": "date",
        "on_high": "date",
        "day_number": "whole",
        "kind": "text",
        "course_id": "whole",
    },
    "examinations": {
        "examination_id": "id",
        "reading_id": "whole",
        "patient_id": "id",
        "renal_unit_id": "id",
        "on_low": "date",
        "on_high": "date",
        "after_operation": "flag",
        "modality": "text",
        "slice_mm": "number",
        "every_calyx_seen": "flag",
        "finding": "text",
    },
    "fragments": {
        "reading_id": "id",
        "low_mm": "number",
        "high_mm": "number",
        "above": "flag",
        "kind": "text",
        "source": "text",
        "stone_id": "whole",
    },
    "stones": {"stone_id": "id", "course_id": "id", "renal_unit_id": "id", "radiolucent": "flag"},
    "aims": {"stone_id": "id", "side_id": "id", "aimed": "text", "left_recorded_before_access": "flag"},
    "losses": {"renal_unit_id": "id", "on_low": "date", "on_high": "date"},
    "deaths": {"patient_id": "id", "on_low": "date", "on_high": "date"},
}
"""`sides` gets `in_cohort` (flag) when a cohort is loaded."""
