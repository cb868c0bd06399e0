"""What each course used up, and what one of each costs: theatre, stays, visits, scans, equipment, prices and rates.

A date known to the month or year is the interval from its first to its last day. A therapy without a day of its own
has that of its complication. `parties` is how many sides an operation treated.
"""

from __future__ import annotations

from analysis.cohort.sql import treatments
from analysis.cohort.subjects import Subject

SIDES = """
SELECT d.side_id, d.operation_id, d.patient_id, p.site_id, d.renal_unit_id, d.course_id, d.operated_on, d.day_number,
       d.is_index, d.conduct, count(*) OVER (PARTITION BY d.operation_id) AS parties,
       o.room_min, o.operating_min, o.admission_id
FROM dated_side d JOIN operation o ON o.id = d.operation_id JOIN patient p ON p.id = d.patient_id
ORDER BY d.side_id
"""

ADMISSIONS = """
SELECT a.id AS admission_id, a.patient_id, p.site_id, a.admitted_on, a.discharged_on, a.place, a.intensive_care_days
FROM admission a JOIN patient p ON p.id = a.patient_id ORDER BY a.id
"""

READMISSIONS = """
SELECT DISTINCT readmission_id AS admission_id, renal_unit_id
FROM complication WHERE readmission_id IS NOT NULL ORDER BY ALL
"""

EXAMINATIONS = """
SELECT e.id AS examination_id, e.patient_id, p.site_id, e.examined_on AS on_low,
       latest_day(e.examined_on, e.examined_on_precision) AS on_high, e.modality, e.place,
       coalesce(e.after_operation = 'yes', false) AS after_operation
FROM examination e JOIN patient p ON p.id = e.patient_id WHERE e.not_done IS NULL ORDER BY e.id
"""

UNITS_SEEN = "SELECT DISTINCT examination_id, renal_unit_id FROM reading ORDER BY ALL"

CONTACTS = """
SELECT c.id AS contact_id, c.patient_id, p.site_id, c.contacted_on AS on_low, c.contacted_on AS on_high
FROM contact c JOIN patient p ON p.id = c.patient_id WHERE c.method = 'clinic' ORDER BY c.id
"""

LATER = """
SELECT e.id AS entry_id, e.patient_id, p.site_id, e.renal_unit_id, e.what, e.place, e.technique,
       e.occurred_on AS on_low, latest_day(e.occurred_on, e.occurred_on_precision) AS on_high
FROM later_entry e JOIN patient p ON p.id = e.patient_id
WHERE e.what IN ('unplanned_attendance', 'retreatment') ORDER BY e.id
"""

REMOVALS = """
SELECT d.id AS drain_id, u.patient_id, p.site_id, d.renal_unit_id, d.kind, d.removed_where,
       d.removed_on AS on_low, latest_day(d.removed_on, d.removed_on_precision) AS on_high,
       EXISTS (SELECT 1 FROM dated_side s WHERE s.renal_unit_id = d.renal_unit_id AND s.operated_on = d.removed_on
               AND coalesce(d.removed_on_precision, 'day') = 'day') AS in_operation
FROM drain d JOIN renal_unit u ON u.id = d.renal_unit_id JOIN patient p ON p.id = u.patient_id
WHERE d.removed_on IS NOT NULL ORDER BY d.id
"""

THERAPIES = """
SELECT t.id AS therapy_id, o.patient_id, p.site_id, c.renal_unit_id, t.what, t.treating_operation_id,
       coalesce(t.given_on, c.onset_on, o.operated_on) AS on_low,
       coalesce(t.given_on, latest_day(c.onset_on, c.onset_on_precision), o.operated_on) AS on_high
FROM therapy t JOIN complication c ON c.id = t.complication_id JOIN operation o ON o.id = c.operation_id
JOIN patient p ON p.id = o.patient_id ORDER BY t.id
"""

CULTURES = """
SELECT c.id AS culture_id, c.patient_id, p.site_id, c.specimen, c.taken_on AS on_low, c.taken_on AS on_high
FROM culture c JOIN patient p ON p.id = c.patient_id ORDER BY c.id
"""

USES = """
SELECT u.id AS use_id, u.treated_side_id AS side_id, s.operation_id, s.operated_on, u.equipment_model_id AS model_id,
       m.model_code, m.kind, m.single_use, u.equipment_item_id AS item_id, p.site_id
FROM equipment_use u JOIN equipment_model m ON m.id = u.equipment_model_id
JOIN dated_side s ON s.side_id = u.treated_side_id JOIN patient p ON p.id = s.patient_id
ORDER BY u.id
"""

PRICES = """
SELECT equipment_model_id AS model_id, since, price AS amount, currency FROM equipment_price ORDER BY ALL
"""

ITEMS = """
SELECT id AS item_id, equipment_model_id AS model_id, uses_before FROM equipment_item ORDER BY id
"""

REPAIRS = """
SELECT r.equipment_item_id AS item_id, i.equipment_model_id AS model_id, r.repaired_on, r.cost, r.currency
FROM repair r JOIN equipment_item i ON i.id = r.equipment_item_id ORDER BY r.id
"""

RATES = """
SELECT site_id, item, item_detail, since, amount, currency, price_year FROM cost_rate ORDER BY ALL
"""

EVENT = {"patient_id": "id", "site_id": "id"}
SPAN = {"on_low": "date", "on_high": "date"}

SUBJECT = Subject(
    name="costs",
    needs=(treatments.LATEST_DAY, treatments.DATED_SIDE),
    frames={
        "sides": SIDES,
        "admissions": ADMISSIONS,
        "readmissions": READMISSIONS,
        "examinations": EXAMINATIONS,
        "units_seen": UNITS_SEEN,
        "contacts": CONTACTS,
        "later": LATER,
        "removals": REMOVALS,
        "therapies": THERAPIES,
        "cultures": CULTURES,
        "uses": USES,
        "prices": PRICES,
        "items": ITEMS,
        "repairs": REPAIRS,
        "rates": RATES,
    },
    holds={
        "sides": {
            "side_id": "id",
            "operation_id": "id",
            **EVENT,
            "renal_unit_id": "id",
            "course_id": "whole",
            "operated_on": "date",
            "day_number": "id",
            "is_index": "flag",
            "conduct": "text",
            "parties": "id",
            "room_min": "whole",
            "operating_min": "whole",
            "admission_id": "whole",
        },
        "admissions": {
            "admission_id": "id",
            **EVENT,
            "admitted_on": "date",
            "discharged_on": "date",
            "place": "text",
            "intensive_care_days": "number",
        },
        "readmissions": {"admission_id": "id", "renal_unit_id": "whole"},
        "examinations": {
            "examination_id": "id",
            **EVENT,
            **SPAN,
            "modality": "text",
            "place": "text",
            "after_operation": "flag",
        },
        "units_seen": {"examination_id": "id", "renal_unit_id": "whole"},
        "contacts": {"contact_id": "id", **EVENT, **SPAN},
        "later": {
            "entry_id": "id",
            **EVENT,
            "renal_unit_id": "whole",
            "what": "text",
            "place": "text",
            "technique": "text",
            **SPAN,
        },
        "removals": {
            "drain_id": "id",
            **EVENT,
            "renal_unit_id": "whole",
            "kind": "text",
            "removed_where": "text",
            **SPAN,
            "in_operation": "flag",
        },
        "therapies": {
            "therapy_id": "id",
            **EVENT,
            "renal_unit_id": "whole",
            "what": "text",
            "treating_operation_id": "whole",
            **SPAN,
        },
        "cultures": {"culture_id": "id", **EVENT, "specimen": "text", **SPAN},
        "uses": {
            "use_id": "id",
            "side_id": "id",
            "operation_id": "id",
            "operated_on": "date",
            "model_id": "id",
            "model_code": "text",
            "kind": "text",
            "single_use": "text",
            "item_id": "whole",
            "site_id": "id",
        },
        "prices": {"model_id": "id", "since": "date", "amount": "number", "currency": "text"},
        "items": {"item_id": "id", "model_id": "id", "uses_before": "whole"},
        "repairs": {
            "item_id": "id",
            "model_id": "id",
            "repaired_on": "date",
            "cost": "number",
            "currency": "text",
        },
        "rates": {
            "site_id": "id",
            "item": "text",
            "item_detail": "text",
            "since": "date",
            "amount": "number",
            "currency": "text",
            "price_year": "id",
        },
    },
)
