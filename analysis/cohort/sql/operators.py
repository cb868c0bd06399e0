"""Technique of each side, who did it, and how many such cases that person had done before.

`side_technique_group`: technique (codes joined by + in the list's order), main_technique (the first of them).

`side_operator`: operator is the code of the first operator of that side (part left_side or right_side), else of
the operation; 'shared' when there are two. A code that two sites use is written site:code. Grade and supervision
are missing when two first operators differ in them. operator_cases_here counts the operations on earlier days in
which that person was first operator of a side of the same main technique (not started ones do not count);
operator_prior_cases adds the cases before the registry, and is missing when those are not recorded.
"""

from analysis.cohort.sql.order import rank
from registry.schema.lists_operation import Technique

TECHNIQUES = f"""
CREATE TABLE side_technique_group AS
SELECT treated_side_id AS side_id,
       string_agg(technique, '+' ORDER BY {rank(Technique, "technique")}) AS technique,
       arg_min(technique, {rank(Technique, "technique")}) AS main_technique
FROM (SELECT DISTINCT treated_side_id, technique FROM side_technique)
GROUP BY treated_side_id
"""

FIRST_OPERATORS = """
CREATE TABLE first_operator AS
WITH present AS (
    SELECT s.id AS side_id, p.operator_id, p.grade, p.supervision,
           coalesce((u.unit = 'left' AND p.part = 'left_side') OR (u.unit = 'right' AND p.part = 'right_side'), false)
               AS of_this_side,
           coalesce((u.unit = 'left' AND p.part = 'right_side') OR (u.unit = 'right' AND p.part = 'left_side'), false)
               AS of_other_side
    FROM treated_side s
    JOIN renal_unit u ON u.id = s.renal_unit_id
    JOIN operation_operator p ON p.operation_id = s.operation_id AND p.role = 'first'
)
SELECT side_id, operator_id, grade, supervision
FROM (SELECT *, bool_or(of_this_side) OVER (PARTITION BY side_id) AS has_own FROM present WHERE NOT of_other_side)
WHERE of_this_side OR NOT has_own
"""

OPERATORS = """
CREATE TABLE side_operator AS
WITH cases AS (
    SELECT f.operator_id, t.technique, o.operated_on,
           count(DISTINCT s.operation_id) FILTER (s.conduct IS DISTINCT FROM 'not_started') AS cases
    FROM first_operator f
    JOIN treated_side s ON s.id = f.side_id
    JOIN operation o ON o.id = s.operation_id
    JOIN side_technique t ON t.treated_side_id = s.id
    GROUP BY f.operator_id, t.technique, o.operated_on
),
earlier AS (
    SELECT operator_id, technique, operated_on,
           CAST(coalesce(sum(cases) OVER (
               PARTITION BY operator_id, technique ORDER BY operated_on
               ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
           ), 0) AS BIGINT) AS cases
    FROM cases
),
named AS (
    SELECT o.id, CASE WHEN count(*) OVER (PARTITION BY o.code) > 1 THEN w.code || ':' || o.code ELSE o.code END AS code
    FROM operator o JOIN site w ON w.id = o.site_id
),
one AS (
    SELECT side_id, count(DISTINCT operator_id) AS operators, min(operator_id) AS operator_id,
           CASE WHEN count(DISTINCT coalesce(grade, '')) = 1 THEN min(grade) END AS grade,
           CASE WHEN count(DISTINCT coalesce(supervision, '')) = 1 THEN min(supervision) END AS supervision
    FROM first_operator GROUP BY side_id
)
SELECT one.side_id,
       CASE WHEN one.operators > 1 THEN 'shared' ELSE named.code END AS operator,
       one.grade AS operator_grade,
       one.supervision,
       CASE WHEN one.operators = 1 THEN earlier.cases END AS operator_cases_here,
       CASE WHEN one.operators = 1 THEN earlier.cases + before.cases END AS operator_prior_cases
FROM one
JOIN treated_side s ON s.id = one.side_id
JOIN operation o ON o.id = s.operation_id
LEFT JOIN named ON named.id = one.operator_id
LEFT JOIN side_technique_group g ON g.side_id = one.side_id
LEFT JOIN earlier ON earlier.operator_id = one.operator_id AND earlier.technique = g.main_technique
                 AND earlier.operated_on = o.operated_on
LEFT JOIN operator_prior_cases before ON before.operator_id = one.operator_id AND before.technique = g.main_technique
"""
