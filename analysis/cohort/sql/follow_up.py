"""What followed a course: entries after discharge, contacts that settle something, when people were last seen.

A date known to the month or year is the interval from its first to its last day.
"""

from __future__ import annotations

from analysis.cohort.sql import treatments
from analysis.cohort.subjects import Subject

LATER = """
SELECT id AS entry_id, patient_id, renal_unit_id, what, occurred_on AS on_low,
       latest_day(occurred_on, occurred_on_precision) AS on_high, planned_stage_id IS NOT NULL AS of_planned_stage
FROM later_entry ORDER BY id
"""

CONTACTS = """
SELECT id AS contact_id, patient_id, contacted_on, stone_events_known_to FROM contact ORDER BY id
"""

SEEN = """
WITH told AS (
    SELECT patient_id, operated_on AS seen_on FROM operation
    UNION ALL SELECT patient_id, examined_on FROM examination WHERE not_done IS NULL
    UNION ALL SELECT patient_id, occurred_on FROM later_entry
    UNION ALL SELECT patient_id, contacted_on FROM contact
    UNION ALL SELECT id, last_known_alive_on FROM patient WHERE last_known_alive_on IS NOT NULL
    UNION ALL SELECT id, died_on FROM patient WHERE died_on IS NOT NULL
    UNION ALL SELECT patient_id, lost_on FROM renal_unit WHERE lost_on IS NOT NULL
)
SELECT DISTINCT patient_id, seen_on FROM told ORDER BY patient_id, seen_on
"""

COMPLICATIONS = """
SELECT c.id AS complication_id, o.patient_id, c.renal_unit_id, c.what, coalesce(c.onset_on, o.operated_on) AS on_low,
       coalesce(latest_day(c.onset_on, c.onset_on_precision), o.operated_on) AS on_high, c.onset_on IS NOT NULL AS dated
FROM complication c JOIN operation o ON o.id = c.operation_id ORDER BY c.id
"""

SUBJECT = Subject(
    name="follow_up",
    needs=(treatments.LATEST_DAY,),
    frames={"later": LATER, "contacts": CONTACTS, "seen": SEEN, "complications": COMPLICATIONS},
    holds={
        "later": {
            "entry_id": "id",
            "patient_id": "id",
            "renal_unit_id": "whole",
            "what": "text",
            "on_low": "date",
            "on_high": "date",
            "of_planned_stage": "flag",
        },
        "contacts": {
            "contact_id": "id",
            "patient_id": "id",
            "contacted_on": "date",
            "stone_events_known_to": "date",
        },
        "seen": {"patient_id": "id", "seen_on": "date"},
        "complications": {
            "complication_id": "id",
            "patient_id": "id",
            "renal_unit_id": "whole",
            "what": "text",
            "on_low": "date",
            "on_high": "date",
            "dated": "flag",
        },
    },
)
