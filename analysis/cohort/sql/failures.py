"""Every attempt to use a piece of equipment, the pieces with a life of their own, and their repairs.

Lots and serial numbers are not in a snapshot; a piece is known here by its key alone.
"""

from __future__ import annotations

from analysis.cohort.subjects import Subject

USES = """
SELECT u.id AS use_id, u.treated_side_id AS side_id, s.operation_id, o.patient_id, o.operated_on, o.day_number,
       u.use_number, u.equipment_model_id AS model_id, site.code AS model_site, m.model_code, m.kind, m.single_use,
       u.equipment_item_id AS item_id, u.result, u.reason, u.failure_stage, u.failure_mode, u.failure_consequence,
       u.delay_min, u.reportable, u.reported_on, u.retained
FROM equipment_use u
JOIN equipment_model m ON m.id = u.equipment_model_id
JOIN site ON site.id = m.site_id
JOIN treated_side s ON s.id = u.treated_side_id
JOIN operation o ON o.id = s.operation_id
ORDER BY o.operated_on, o.day_number, s.id, u.use_number, u.id
"""

ITEMS = """
SELECT i.id AS item_id, i.equipment_model_id AS model_id, site.code AS model_site, m.model_code, m.kind, m.single_use,
       i.acquired_on, i.retired_on, i.uses_before
FROM equipment_item i
JOIN equipment_model m ON m.id = i.equipment_model_id
JOIN site ON site.id = m.site_id
ORDER BY i.id
"""

REPAIRS = """
SELECT r.equipment_item_id AS item_id, r.repaired_on FROM repair r ORDER BY r.equipment_item_id, r.repair_number
"""

OF_MODEL = {"model_id": "id", "model_site": "text", "model_code": "text", "kind": "text", "single_use": "text"}

FAILURES = Subject(
    name="failures",
    frames={"uses": USES, "items": ITEMS, "repairs": REPAIRS},
    holds={
        "uses": {
            "use_id": "id",
            "side_id": "id",
            "operation_id": "id",
            "patient_id": "id",
            "operated_on": "date",
            "day_number": "whole",
            "use_number": "whole",
            **OF_MODEL,
            "item_id": "whole",
            "result": "text",
            "reason": "text",
            "failure_stage": "text",
            "failure_mode": "text",
            "failure_consequence": "text",
            "delay_min": "whole",
            "reportable": "text",
            "reported_on": "date",
            "retained": "text",
        },
        "items": {
            "item_id": "id",
            **OF_MODEL,
            "acquired_on": "date",
            "retired_on": "date",
            "uses_before": "whole",
        },
        "repairs": {"item_id": "id", "repaired_on": "date"},
    },
)
