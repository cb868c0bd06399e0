"""What is known of the days round each operation: observations, cultures, recorded complications, contacts.

A set or culture that names its operation belongs to it; else, when it is later, to the patient's latest operation on
or before its day. It is also before every later operation of the patient. On the day of the operation itself only
its own word says whether it is before or after: without it, or where word and dates contradict each other, its phase
is `unsettled` and it decides nothing. A day that is known to the month or year is the interval from first to last.
"""

from analysis.cohort.sql.treatments import LATEST_DAY
from analysis.cohort.subjects import Subject

OPERATIONS = """
SELECT o.id AS operation_id, o.patient_id, p.study_number, o.operated_on, o.day_number, p.sex,
       coalesce(o.age_years, if(year(o.operated_on) >= p.birth_year, year(o.operated_on) - p.birth_year, NULL))
           AS age_years,
       o.gestation_weeks IS NOT NULL AS pregnant, o.chronic_kidney_disease = 'yes' AS chronic_kidney_disease,
       lead(o.operated_on) OVER (PARTITION BY o.patient_id ORDER BY o.operated_on, o.day_number, o.id)
           AS next_operated_on,
       p.died_on AS died_low, latest_day(p.died_on, p.died_on_precision) AS died_high
FROM operation o JOIN patient p ON p.id = o.patient_id
ORDER BY o.id
"""


def _of_operations(table: str, day: str) -> str:
    """Rows of a table paired with the operations that they are before or after."""
    return f"""
WITH latest AS (
    SELECT t.id, arg_max(o.id, (o.operated_on, o.day_number, o.id)) AS operation_id
    FROM {table} t JOIN operation o ON o.patient_id = t.patient_id AND o.operated_on <= t.{day}
    GROUP BY t.id
),
placed AS (
    SELECT t.*, o.id AS of_operation, CAST(t.{day} AS DATE) - CAST(o.operated_on AS DATE) AS days_after,
           coalesce(t.operation_id, l.operation_id) = o.id AS own
    FROM {table} t
    JOIN operation o ON o.patient_id = t.patient_id
    LEFT JOIN latest l ON l.id = t.id
),
phased AS (
    SELECT *, CASE
        WHEN own AND ((timing = 'before' AND days_after > 0) OR (timing = 'after' AND days_after < 0)) THEN 'unsettled'
        WHEN own AND timing IS NOT NULL THEN timing
        WHEN days_after < 0 THEN 'before'
        WHEN own AND days_after > 0 THEN 'after'
        WHEN own THEN 'unsettled' END AS phase
    FROM placed
)"""


OBSERVATIONS = f"""
{_of_operations("observation_set", "observed_on")}
SELECT of_operation AS operation_id, id AS set_id, observed_on, days_after, phase, temperature_c, heart_rate_min,
       respiratory_rate_min, systolic_mmhg, mean_pressure_mmhg, white_cells_g_l, bands_percent, lactate_mmol_l,
       platelets_g_l, bilirubin_umol_l, creatinine_umol_l, pao2_fio2_mmhg, ventilated = 'yes' AS ventilated,
       paco2_mmhg, coma_scale, urine_ml_24h, vasopressor = 'yes' AS vasopressor, noradrenaline_ug_kg_min
FROM phased WHERE phase IS NOT NULL
ORDER BY of_operation, observed_on, set_number, id
"""

CULTURES = f"""
{_of_operations("culture", "taken_on")},
grown AS (
    SELECT culture_id, max(count_log10) AS highest_log10, bool_or(count_log10 IS NULL) AS uncounted
    FROM culture_organism GROUP BY culture_id
)
SELECT of_operation AS operation_id, phased.id AS culture_id, taken_on, days_after, phase, specimen, result,
       highest_log10, coalesce(uncounted, true) AS uncounted
FROM phased LEFT JOIN grown ON grown.culture_id = phased.id
WHERE phase IS NOT NULL
ORDER BY of_operation, taken_on, culture_number, phased.id
"""

RECORDED = """
WITH concerned AS (
    SELECT id AS complication_id, operation_id FROM complication
    UNION
    SELECT complication_id, operation_id FROM complication_also_after
)
SELECT a.operation_id, c.id AS complication_id, c.what, c.onset_on AS on_low,
       latest_day(c.onset_on, c.onset_on_precision) AS on_high,
       CAST(c.onset_on AS DATE) - CAST(o.operated_on AS DATE) AS days_low,
       CAST(latest_day(c.onset_on, c.onset_on_precision) AS DATE) - CAST(o.operated_on AS DATE) AS days_high,
       EXISTS (FROM therapy t WHERE t.complication_id = c.id AND t.what = 'antibiotic') AS antibiotic
FROM concerned a JOIN complication c ON c.id = a.complication_id JOIN operation o ON o.id = a.operation_id
ORDER BY a.operation_id, c.complication_number, c.id
"""

DIALYSES = """
WITH concerned AS (
    SELECT id AS complication_id, operation_id FROM complication
    UNION
    SELECT complication_id, operation_id FROM complication_also_after
)
SELECT a.operation_id, coalesce(t.given_on, c.onset_on) AS given_on,
       CAST(coalesce(t.given_on, c.onset_on) AS DATE) - CAST(o.operated_on AS DATE) AS days_low,
       CAST(coalesce(t.given_on, latest_day(c.onset_on, c.onset_on_precision)) AS DATE) - CAST(o.operated_on AS DATE)
           AS days_high
FROM concerned a JOIN complication c ON c.id = a.complication_id JOIN therapy t ON t.complication_id = c.id
JOIN operation o ON o.id = a.operation_id
WHERE t.what = 'dialysis'
ORDER BY a.operation_id, t.id
"""

CONTACTS = """
SELECT patient_id, contacted_on, coalesce(complications_known_to, contacted_on) AS known_to
FROM contact
ORDER BY patient_id, contacted_on, id
"""

_NUMBERS = (
    "temperature_c",
    "white_cells_g_l",
    "bands_percent",
    "lactate_mmol_l",
    "platelets_g_l",
    "bilirubin_umol_l",
    "creatinine_umol_l",
    "pao2_fio2_mmhg",
    "paco2_mmhg",
    "noradrenaline_ug_kg_min",
)
_WHOLES = (
    "heart_rate_min",
    "respiratory_rate_min",
    "systolic_mmhg",
    "mean_pressure_mmhg",
    "coma_scale",
    "urine_ml_24h",
)

SUBJECT = Subject(
    name="observations",
    frames={
        "operations": OPERATIONS,
        "observations": OBSERVATIONS,
        "cultures": CULTURES,
        "recorded": RECORDED,
        "dialyses": DIALYSES,
        "contacts": CONTACTS,
    },
    holds={
        "operations": {
            "operation_id": "id",
            "patient_id": "id",
            "study_number": "text",
            "operated_on": "date",
            "sex": "text",
            "age_years": "whole",
            "pregnant": "flag",
            "chronic_kidney_disease": "flag",
            "next_operated_on": "date",
            "died_low": "date",
            "died_high": "date",
        },
        "observations": {
            "operation_id": "id",
            "set_id": "id",
            "observed_on": "date",
            "days_after": "id",
            "phase": "text",
            **dict.fromkeys(_NUMBERS, "number"),
            **dict.fromkeys(_WHOLES, "whole"),
            "ventilated": "flag",
            "vasopressor": "flag",
        },
        "cultures": {
            "operation_id": "id",
            "culture_id": "id",
            "taken_on": "date",
            "days_after": "id",
            "phase": "text",
            "specimen": "text",
            "result": "text",
            "highest_log10": "number",
            "uncounted": "flag",
        },
        "recorded": {
            "operation_id": "id",
            "complication_id": "id",
            "what": "text",
            "on_low": "date",
            "days_low": "whole",
            "days_high": "whole",
            "antibiotic": "flag",
        },
        "dialyses": {"operation_id": "id", "given_on": "date", "days_low": "whole", "days_high": "whole"},
        "contacts": {"patient_id": "id", "contacted_on": "date", "known_to": "date"},
    },
    needs=(LATEST_DAY,),
)
"""Read by `subjects.subject_frames`; nothing is left out for the as-of date, which is the caller's to do."""
