"""The frames from which outcomes are judged, each as one SELECT with its rows in a fixed order.

A date known to the month or year is the interval from its first to its last day. Examinations that were not done are
left out. An examination stands once for each renal unit of the patient that was treated here and that nobody read on
it; but a second look that was read of one kidney says nothing of the other, which the endoscope did not enter. A loss
told twice is the one that is over first.
"""

SIDES = """
SELECT e.side_id, e.operation_id, e.patient_id, e.renal_unit_id, e.course_id,
       CASE WHEN e.is_index THEN 0 WHEN c.is_planned THEN e.stage_number END AS stage,
       e.operated_on, e.day_number, e.intent, e.conduct, e.access_gained = 'no' AS access_failed
FROM dated_side e LEFT JOIN course_event c ON c.side_id = e.side_id
ORDER BY e.side_id
"""

TREATMENTS = "SELECT * FROM treatment ORDER BY treatment_id"

EXAMINATIONS = """
WITH done AS (
    SELECT id AS examination_id, patient_id, examined_on AS on_low,
           latest_day(examined_on, examined_on_precision) AS on_high,
           after_operation = 'yes' AS after_operation, modality, slice_mm
    FROM examination WHERE not_done IS NULL
),
treated AS (SELECT DISTINCT patient_id, renal_unit_id FROM dated_side)
SELECT d.examination_id, r.id AS reading_id, d.patient_id, r.renal_unit_id, d.on_low, d.on_high, d.after_operation,
       d.modality, d.slice_mm, r.every_calyx_seen = 'yes' AS every_calyx_seen, r.finding
FROM done d JOIN reading r ON r.examination_id = d.examination_id
UNION ALL
SELECT d.examination_id, NULL, d.patient_id, t.renal_unit_id, d.on_low, d.on_high, d.after_operation,
       d.modality, d.slice_mm, NULL, NULL
FROM done d JOIN treated t ON t.patient_id = d.patient_id
ANTI JOIN reading r ON r.examination_id = d.examination_id
                   AND (r.renal_unit_id = t.renal_unit_id OR d.modality = 'second_look')
ORDER BY 1, 4, 2
"""

FRAGMENTS = """
SELECT f.reading_id, f.diameter_low_mm AS low_mm, f.diameter_high_mm AS high_mm, f.larger_than_low = 'yes' AS above,
       f.kind, coalesce(f.origin, if(f.stone_id IS NULL, 'not_said', 'stone')) AS source, f.stone_id
FROM fragment f
JOIN reading r ON r.id = f.reading_id
JOIN examination e ON e.id = r.examination_id AND e.not_done IS NULL
ORDER BY f.id
"""

STONES = """
SELECT k.id AS stone_id, k.course_id, c.renal_unit_id, k.radio_opacity = 'lucent' AS radiolucent
FROM stone k JOIN course c ON c.id = k.course_id
ORDER BY k.id
"""

AIMS = """
SELECT stone_id, treated_side_id AS side_id, aim AS aimed, recorded_before_access = 'yes' AS left_recorded_before_access
FROM stone_aim
ORDER BY stone_id, treated_side_id
"""

LOSSES = """
WITH told AS (
    SELECT id AS renal_unit_id, lost_on AS on_low, latest_day(lost_on, lost_on_precision) AS on_high
    FROM renal_unit WHERE lost_on IS NOT NULL
    UNION ALL
    SELECT renal_unit_id, occurred_on, latest_day(occurred_on, occurred_on_precision)
    FROM later_entry WHERE what = 'loss_of_kidney' AND renal_unit_id IS NOT NULL
)
SELECT renal_unit_id, on_low, on_high FROM told
QUALIFY row_number() OVER (PARTITION BY renal_unit_id ORDER BY on_high, on_low DESC) = 1
ORDER BY renal_unit_id
"""

DEATHS = """
SELECT id AS patient_id, died_on AS on_low, latest_day(died_on, died_on_precision) AS on_high
FROM patient WHERE died_on IS NOT NULL
ORDER BY id
"""

FRAMES = {
    "sides": SIDES,
    "treatments": TREATMENTS,
    "examinations": EXAMINATIONS,
    "fragments": FRAGMENTS,
    "stones": STONES,
    "aims": AIMS,
    "losses": LOSSES,
    "deaths": DEATHS,
}
