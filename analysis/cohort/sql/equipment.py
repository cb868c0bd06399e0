"""Scope and ureteric sheath of each side, and how they fit.

A piece was in place when its use passed or was exchanged later, when nothing says how the use went, or when it is
said to have been in place for most of the lithotripsy. Going through the uses in their order, each sheath in place
pairs with the scope in place at that time. The pair that counts is that of sheath and scope in place for most of
the lithotripsy, else the last. Sizes are whole tenths of Fr; bands compare cross-multiplied whole numbers, so that
7.5 in 10 Fr is exactly 0.75.
"""

IN_PLACE = """
CREATE TABLE in_place AS
SELECT u.treated_side_id AS side_id, u.use_number AS place, u.id AS use_id, m.kind, m.id AS model_id,
       coalesce(u.most_of_lithotripsy = 'yes', false) AS most
FROM equipment_use u
JOIN equipment_model m ON m.id = u.equipment_model_id
WHERE m.kind IN ('scope', 'access_sheath')
  AND (u.result IN ('passed', 'exchanged') OR u.result IS NULL OR u.most_of_lithotripsy = 'yes')
"""

PAIRS = """
CREATE TABLE side_pair AS
WITH walked AS (
    SELECT side_id, place,
           last_value(CASE WHEN kind = 'access_sheath' THEN use_id END IGNORE NULLS) OVER so_far AS sheath_use,
           last_value(CASE WHEN kind = 'scope' THEN use_id END IGNORE NULLS) OVER so_far AS scope_use
    FROM in_place
    WINDOW so_far AS (PARTITION BY side_id ORDER BY place, use_id ROWS UNBOUNDED PRECEDING)
),
paired AS (
    SELECT side_id, sheath_use, scope_use, max(place) AS place
    FROM walked WHERE sheath_use IS NOT NULL AND scope_use IS NOT NULL
    GROUP BY side_id, sheath_use, scope_use
    UNION ALL
    SELECT a.side_id, a.use_id, b.use_id, greatest(a.place, b.place)
    FROM in_place a JOIN in_place b ON b.side_id = a.side_id
    WHERE a.kind = 'access_sheath' AND a.most AND b.kind = 'scope' AND b.most
)
SELECT p.side_id,
       arg_max(p.sheath_use, (CAST(a.most AS INTEGER) + CAST(b.most AS INTEGER), p.place, p.sheath_use, p.scope_use))
           AS sheath_use,
       arg_max(p.scope_use, (CAST(a.most AS INTEGER) + CAST(b.most AS INTEGER), p.place, p.sheath_use, p.scope_use))
           AS scope_use,
       count(DISTINCT (a.model_id, b.model_id)) AS pairs
FROM paired p
JOIN in_place a ON a.use_id = p.sheath_use
JOIN in_place b ON b.use_id = p.scope_use
GROUP BY p.side_id
"""

ATTEMPTS = """
CREATE TABLE side_sheath_attempts AS
SELECT u.treated_side_id AS side_id,
       CASE WHEN coalesce(bool_or(u.result = 'failed'), false) THEN 'yes' ELSE 'no' END AS sheath_failed,
       arg_min(u.equipment_model_id, (u.first_intended IS DISTINCT FROM 'yes', u.use_number)) AS first_model_id
FROM equipment_use u JOIN equipment_model m ON m.id = u.equipment_model_id
WHERE m.kind = 'access_sheath'
GROUP BY u.treated_side_id
"""

EQUIPMENT = """
CREATE TABLE side_equipment AS
WITH best AS (
    SELECT side_id,
           arg_max(use_id, (most, place, use_id)) FILTER (kind = 'access_sheath') AS sheath_use,
           arg_max(use_id, (most, place, use_id)) FILTER (kind = 'scope') AS scope_use
    FROM in_place GROUP BY side_id
),
recorded AS (SELECT treated_side_id AS side_id FROM equipment_use GROUP BY treated_side_id),
chosen AS (
    SELECT s.id AS side_id,
           recorded.side_id IS NOT NULL AS recorded,
           regexp_matches(g.technique, '(^|[+])(flexible|combined)($|[+])') AS may_have_sheath,
           coalesce(p.sheath_use, best.sheath_use) AS sheath_use,
           coalesce(p.scope_use, best.scope_use) AS scope_use,
           p.pairs
    FROM treated_side s
    LEFT JOIN recorded ON recorded.side_id = s.id
    LEFT JOIN side_technique_group g ON g.side_id = s.id
    LEFT JOIN best ON best.side_id = s.id
    LEFT JOIN side_pair p ON p.side_id = s.id
),
sized AS (
    SELECT c.*, sheath.model_code AS sheath_model, scope.model_code AS scope_model,
           scope.shaft_tenths_fr AS shaft, scope.single_use AS scope_single_use,
           sheath.inner_tenths_fr AS inner_size, sheath.outer_tenths_fr AS outer_size,
           sheath.length_cm AS sheath_length_cm, sheath.suction AS sheath_suction,
           sheath.steerable_tip AS sheath_steerable,
           first.inner_tenths_fr AS first_inner, first.outer_tenths_fr AS first_outer,
           a.sheath_failed
    FROM chosen c
    LEFT JOIN in_place su ON su.use_id = c.sheath_use
    LEFT JOIN in_place sc ON sc.use_id = c.scope_use
    LEFT JOIN equipment_model sheath ON sheath.id = su.model_id
    LEFT JOIN equipment_model scope ON scope.id = sc.model_id
    LEFT JOIN side_sheath_attempts a ON a.side_id = c.side_id
    LEFT JOIN equipment_model first ON first.id = a.first_model_id
),
fitted AS (
    SELECT *,
           CASE WHEN sheath_use IS NULL AND NOT recorded AND may_have_sheath THEN 'missing'
                WHEN sheath_use IS NULL THEN 'not applicable'
                WHEN shaft IS NULL OR inner_size IS NULL THEN 'missing'
                WHEN shaft >= inner_size THEN 'impossible'
                ELSE 'known' END AS ratio_state
    FROM sized
)
SELECT side_id, scope_model, shaft / 10.0::DOUBLE AS scope_fr, scope_single_use,
       sheath_model, inner_size / 10.0::DOUBLE AS sheath_inner_fr, outer_size / 10.0::DOUBLE AS sheath_outer_fr,
       sheath_length_cm, sheath_suction, sheath_steerable,
       CASE WHEN ratio_state = 'known' THEN inner_size::DOUBLE / shaft END AS sheath_to_scope_ratio,
       CASE WHEN ratio_state = 'known' THEN shaft::DOUBLE / inner_size END AS scope_to_sheath_ratio,
       ratio_state,
       CASE WHEN ratio_state <> 'known' THEN NULL
            WHEN 100 * shaft < 75 * inner_size THEN 'under 0.75'
            WHEN 100 * shaft < 85 * inner_size THEN '0.75 to under 0.85'
            ELSE '0.85 and over' END AS scope_to_sheath_band,
       CASE WHEN ratio_state <> 'known' THEN NULL
            WHEN 100 * shaft <= 85 * inner_size THEN '0.85 and under'
            ELSE 'over 0.85' END AS scope_to_sheath_split,
       CASE WHEN recorded THEN coalesce(pairs, 0) END AS ratio_pairs,
       sheath_failed,
       CASE WHEN sheath_failed IS NULL THEN NULL
            WHEN sheath_use IS NULL THEN 'no'
            WHEN first_inner <> inner_size THEN if(first_inner > inner_size, 'yes', 'no')
            WHEN first_outer <> outer_size THEN if(first_outer > outer_size, 'yes', 'no')
            WHEN first_inner = inner_size OR first_outer = outer_size THEN 'no' END AS sheath_downsized
FROM fitted
"""
