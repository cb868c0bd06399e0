"""The cohort frame itself: one row per treated side, all that is worked out or lies in another table than its own.

What is recorded of the operation and of the side is laid beside it unchanged (see `build`), so it is not named here.
"""

SIDES = """
SELECT s.id AS side_id, p.id AS patient_id, p.study_number, w.code AS site, o.id AS operation_id, o.operated_on,
       o.day_number, year(o.operated_on) AS year, s.renal_unit_id, u.unit, s.course_id, s.stage_number,
       if(only_side, 'no', 'yes') AS bilateral,
       u.anatomy, u.solitary, u.prior_stone_surgery,
       p.sex, p.stone_history, p.research_use,
       coalesce(o.age_years, if(year(o.operated_on) >= p.birth_year, year(o.operated_on) - p.birth_year, NULL))
           AS age_years,
       o.weight_kg / ((o.height_cm / 100) * (o.height_cm / 100)) AS bmi,
       coalesce(g.technique, 'not recorded') AS technique,
       coalesce(r.operator, 'not recorded') AS operator,
       r.operator_grade, r.supervision, r.operator_prior_cases, r.operator_cases_here, c.positive_culture_before,
       k.* EXCLUDE (side_id),
       e.* EXCLUDE (side_id), l.* EXCLUDE (side_id),
       -- What is said of the operation is that of the side when there was only one.
       coalesce(s.side_operating_min, if(only_side, o.operating_min, NULL)) AS side_operating_min,
       coalesce(s.side_fluoroscopy_s, if(only_side, o.fluoroscopy_s, NULL)) AS side_fluoroscopy_s,
       coalesce(s.side_dose_area_product_gy_cm2, if(only_side, o.dose_area_product_gy_cm2, NULL))
           AS side_dose_area_product_gy_cm2
FROM (SELECT *, count(*) OVER (PARTITION BY operation_id) = 1 AS only_side FROM treated_side) s
JOIN operation o ON o.id = s.operation_id
JOIN patient p ON p.id = o.patient_id
JOIN site w ON w.id = p.site_id
JOIN renal_unit u ON u.id = s.renal_unit_id
LEFT JOIN side_technique_group g ON g.side_id = s.id
LEFT JOIN side_operator r ON r.side_id = s.id
LEFT JOIN operation_culture c ON c.operation_id = o.id
LEFT JOIN side_stones k ON k.side_id = s.id
LEFT JOIN side_equipment e ON e.side_id = s.id
LEFT JOIN side_lithotripsy l ON l.side_id = s.id
ORDER BY s.id
"""
