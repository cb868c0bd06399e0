"""Every treatment in which a stone was gone for, here or elsewhere, and what it was to its course.

Here: a side with stone removal intended, started, and with a stone found. Elsewhere: a retreatment told later, with
its renal unit. A stage is planned only if it was written down as a planned stage, decided no later than the day of
the operation before it in its course (of several, the latest; a day known to the month counts by its first day).
Anything else but an index is unplanned. An unplanned treatment between the index of a course and `auxiliary_days`
after its planned end (its last planned treatment, else its index) is auxiliary to it; it belongs to the latest
course begun before it on that renal unit. What dates known to the month or year do not settle is not auxiliary.
"""

LATEST_DAY = """
CREATE MACRO latest_day(day, exactness) AS
    CASE exactness WHEN 'month' THEN CAST(last_day(day) AS DATE)
                   WHEN 'year' THEN make_date(year(day), 12, 31) ELSE day END
"""

AUXILIARY_DAYS = """
CREATE TABLE unit_days AS
SELECT u.id AS renal_unit_id, CAST(d.days AS INTEGER) AS days
FROM renal_unit u JOIN patient p ON p.id = u.patient_id JOIN site_days d ON d.site_id = p.site_id
"""

# The index of a course is its first side of stage 0; a second one would be an entry slip, and begins nothing.
DATED_SIDE = """
CREATE TABLE dated_side AS
SELECT s.id AS side_id, o.id AS operation_id, o.patient_id, s.renal_unit_id, s.course_id, o.operated_on, o.day_number,
       s.intent, s.conduct, s.access_gained, s.stage_number,
       s.stage_number = 0 AND s.course_id IS NOT NULL AND row_number() OVER (
           PARTITION BY s.course_id, s.stage_number ORDER BY o.operated_on, o.day_number, s.id
       ) = 1 AS is_index,
       s.intent = 'stone_removal' AND coalesce(s.conduct, 'completed') NOT IN ('not_started', 'no_stone_found')
           AS is_treatment
FROM treated_side s JOIN operation o ON o.id = s.operation_id
"""

COURSE_EVENT = """
CREATE TABLE course_event AS
WITH happened AS (
    SELECT side_id, CAST(NULL AS BIGINT) AS entry_id, course_id, stage_number,
           operated_on AS on_low, operated_on AS on_high, day_number
    FROM dated_side WHERE course_id IS NOT NULL
    UNION ALL
    SELECT NULL, e.id, p.course_id, p.stage_number, e.occurred_on, latest_day(e.occurred_on, e.occurred_on_precision),
           NULL
    FROM later_entry e JOIN planned_stage p ON p.id = e.planned_stage_id
    WHERE e.what = 'retreatment'
),
followed AS (
    SELECT *, lag(on_low) OVER (
               PARTITION BY course_id ORDER BY on_low, day_number NULLS LAST, side_id NULLS LAST, entry_id
           ) AS previous_on
    FROM happened
)
SELECT f.side_id, f.entry_id, f.course_id,
       coalesce(f.stage_number >= 1 AND p.decided_on <= f.previous_on, false) AS is_planned
FROM followed f LEFT JOIN planned_stage p ON p.course_id = f.course_id AND p.stage_number = f.stage_number
"""

TREATMENTS = """
CREATE TABLE treatment AS
WITH every AS (
    SELECT 2 * s.side_id AS treatment_id, s.patient_id, s.renal_unit_id, s.side_id, s.operated_on AS on_low,
           s.operated_on AS on_high, s.day_number,
           coalesce(s.is_index OR (s.stage_number = 0 AND s.course_id IS NULL), false) AS is_index,
           coalesce(c.is_planned, false) AS is_planned, s.course_id
    FROM dated_side s LEFT JOIN course_event c ON c.side_id = s.side_id
    WHERE s.is_treatment
    UNION ALL
    SELECT 2 * e.id + 1, e.patient_id, e.renal_unit_id, NULL, e.occurred_on,
           latest_day(e.occurred_on, e.occurred_on_precision), NULL, false,
           coalesce(c.is_planned, false), c.course_id
    FROM later_entry e LEFT JOIN course_event c ON c.entry_id = e.id
    WHERE e.what = 'retreatment' AND e.renal_unit_id IS NOT NULL
),
begun AS (
    SELECT course_id, renal_unit_id, side_id, operated_on, day_number FROM dated_side WHERE is_index
),
ended AS (
    SELECT course_id, max(on_low) AS planned_end FROM every
    WHERE course_id IS NOT NULL AND (is_index OR is_planned) GROUP BY course_id
),
course_span AS (
    SELECT b.*, coalesce(greatest(e.planned_end, b.operated_on), b.operated_on) + d.days AS last_on
    FROM begun b LEFT JOIN ended e ON e.course_id = b.course_id
    JOIN unit_days d ON d.renal_unit_id = b.renal_unit_id
),
followed AS (
    SELECT t.treatment_id,
           arg_max(c.course_id, (c.operated_on, c.day_number, c.side_id)) AS course_id,
           arg_max(c.last_on, (c.operated_on, c.day_number, c.side_id)) AS last_on
    FROM every t JOIN course_span c ON c.renal_unit_id = t.renal_unit_id
     AND (c.operated_on < t.on_low
          OR (c.operated_on = t.on_low AND t.on_high = t.on_low
              AND (t.day_number IS NULL OR c.day_number < t.day_number)))
    WHERE NOT t.is_index AND NOT t.is_planned
    GROUP BY t.treatment_id
)
SELECT t.treatment_id, t.patient_id, t.renal_unit_id, t.side_id, t.on_low, t.on_high, t.day_number,
       CASE WHEN t.is_index THEN 'index' WHEN t.is_planned THEN 'planned'
            WHEN t.on_high <= f.last_on THEN 'auxiliary' ELSE 'unplanned' END AS kind,
       CASE WHEN t.is_index OR t.is_planned THEN t.course_id
            WHEN t.on_high <= f.last_on THEN f.course_id END AS course_id
FROM every t LEFT JOIN followed f ON f.treatment_id = t.treatment_id
"""
