"""Complications, what was done about them and how they were graded; who was reviewed, readmitted, seen again, or died.

A date known to the month or year is the interval from its first to its last day; a missing onset is no interval.

A therapy that was an operation here is `planned` when every side of that operation was a planned stage of its course
(`planned_stage`), or when the visit was for drains alone and took out, on or after the day planned for it, a drain
that got no successor (`planned_removal`).
"""

from __future__ import annotations

from analysis.cohort.sql import treatments
from analysis.cohort.subjects import Subject

PLANNED = """
CREATE TABLE planned_visit AS
WITH staged AS (
    SELECT s.operation_id, bool_and(coalesce(e.is_planned, false)) AS every_side
    FROM dated_side s LEFT JOIN course_event e ON e.side_id = s.side_id
    GROUP BY s.operation_id
),
removed AS (
    SELECT DISTINCT o.id AS operation_id
    FROM operation o
    JOIN renal_unit u ON u.patient_id = o.patient_id
    JOIN drain d ON d.renal_unit_id = u.id AND d.removed_on = o.operated_on
    WHERE o.purpose = 'stent' AND coalesce(d.removed_on_precision, 'day') = 'day'
      AND d.planned_removal_on <= d.removed_on AND d.changed IS DISTINCT FROM 'yes'
)
SELECT o.id AS operation_id,
       CASE WHEN s.every_side THEN 'planned_stage' WHEN r.operation_id IS NOT NULL THEN 'planned_removal' END AS planned
FROM operation o
LEFT JOIN staged s ON s.operation_id = o.id
LEFT JOIN removed r ON r.operation_id = o.id
"""

OPERATIONS = """
SELECT o.id AS operation_id, o.patient_id, o.operated_on, o.day_number, o.admission_id, a.discharged_on,
       coalesce(bool_or(s.is_treatment), false) AS intended
FROM operation o
LEFT JOIN admission a ON a.id = o.admission_id
LEFT JOIN dated_side s ON s.operation_id = o.id
GROUP BY ALL
ORDER BY o.id
"""

COMPLICATIONS = """
SELECT c.id AS complication_id, c.operation_id, o.patient_id, c.complication_number, c.renal_unit_id, c.what,
       c.onset_on AS onset_low, latest_day(c.onset_on, c.onset_on_precision) AS onset_high,
       c.organs_failing, c.present_at_discharge = 'yes' AS present_at_discharge, c.died_of_it = 'yes' AS died_of_it,
       c.equipment_related = 'yes' AS equipment_related, c.readmission_id
FROM complication c JOIN operation o ON o.id = c.operation_id
ORDER BY c.id
"""

ALSO_AFTER = """
SELECT complication_id, operation_id FROM complication_also_after ORDER BY complication_id, operation_id
"""

THERAPIES = """
SELECT t.id AS therapy_id, t.complication_id, t.therapy_number, t.what, t.given_on, t.anaesthesia,
       t.treating_operation_id, o.anaesthesia AS operated_under, p.planned
FROM therapy t
LEFT JOIN operation o ON o.id = t.treating_operation_id
LEFT JOIN planned_visit p ON p.operation_id = t.treating_operation_id
ORDER BY t.complication_id, t.therapy_number, t.id
"""

GRADINGS = """
SELECT id AS grading_id, complication_id, grading_number, grader, grader_code, grade, suffix_d = 'yes' AS suffix_d,
       rule_version, graded_on
FROM grading ORDER BY complication_id, grading_number, id
"""

DEATHS = """
SELECT id AS patient_id, died_on AS on_low, latest_day(died_on, died_on_precision) AS on_high
FROM patient WHERE died_on IS NOT NULL ORDER BY id
"""

ALIVE = """
SELECT id AS patient_id, last_known_alive_on AS alive_on
FROM patient WHERE last_known_alive_on IS NOT NULL ORDER BY id
"""

CONTACTS = """
SELECT patient_id, contacted_on, coalesce(complications_known_to, contacted_on) AS known_to
FROM contact ORDER BY patient_id, contacted_on, contact_number
"""

ADMISSIONS = """
SELECT id AS admission_id, patient_id, admitted_on, admission_number, discharged_on, unplanned
FROM admission ORDER BY id
"""

ATTENDANCES = """
SELECT id AS entry_id, patient_id, occurred_on AS on_low, latest_day(occurred_on, occurred_on_precision) AS on_high
FROM later_entry WHERE what = 'unplanned_attendance' ORDER BY id
"""

PERSON_INTERVAL = {"patient_id": "id", "on_low": "date", "on_high": "date"}

SUBJECT = Subject(
    name="complications",
    needs=(treatments.LATEST_DAY, treatments.DATED_SIDE, treatments.COURSE_EVENT, PLANNED),
    frames={
        "operations": OPERATIONS,
        "complications": COMPLICATIONS,
        "also_after": ALSO_AFTER,
        "therapies": THERAPIES,
        "gradings": GRADINGS,
        "deaths": DEATHS,
        "alive": ALIVE,
        "contacts": CONTACTS,
        "admissions": ADMISSIONS,
        "attendances": ATTENDANCES,
    },
    holds={
        "operations": {
            "operation_id": "id",
            "patient_id": "id",
            "operated_on": "date",
            "day_number": "id",
            "admission_id": "whole",
            "discharged_on": "date",
            "intended": "flag",
        },
        "complications": {
            "complication_id": "id",
            "operation_id": "id",
            "patient_id": "id",
            "complication_number": "id",
            "renal_unit_id": "whole",
            "what": "text",
            "onset_low": "date",
            "onset_high": "date",
            "organs_failing": "whole",
            "present_at_discharge": "flag",
            "died_of_it": "flag",
            "equipment_related": "flag",
            "readmission_id": "whole",
        },
        "also_after": {"complication_id": "id", "operation_id": "id"},
        "therapies": {
            "therapy_id": "id",
            "complication_id": "id",
            "therapy_number": "id",
            "what": "text",
            "given_on": "date",
            "anaesthesia": "text",
            "treating_operation_id": "whole",
            "operated_under": "text",
            "planned": "text",
        },
        "gradings": {
            "grading_id": "id",
            "complication_id": "id",
            "grading_number": "id",
            "grader": "text",
            "grader_code": "text",
            "grade": "text",
            "suffix_d": "flag",
            "rule_version": "text",
            "graded_on": "date",
        },
        "deaths": PERSON_INTERVAL,
        "alive": {"patient_id": "id", "alive_on": "date"},
        "contacts": {"patient_id": "id", "contacted_on": "date", "known_to": "date"},
        "admissions": {
            "admission_id": "id",
            "patient_id": "id",
            "admitted_on": "date",
            "admission_number": "id",
            "discharged_on": "date",
            "unplanned": "text",
        },
        "attendances": {"entry_id": "id", **PERSON_INTERVAL},
    },
)
