"""Stone burden of each side.

The stones of a side are those it aimed at; where no aim is recorded, those of its course, less those that were
recorded before access as left on purpose. A measure of several stones is missing when that of one of them is.
Area: L x W x pi/4 a stone. Volume: as segmented, else pi/6 x L x W x D.
"""

from analysis.cohort.sql.order import exact, rank
from registry.schema.lists_stone import StoneLocation

STONES = f"""
CREATE TABLE side_stones AS
WITH aimed AS (
    SELECT treated_side_id AS side_id, stone_id FROM stone_aim WHERE aim = 'aimed_at'
),
of_side AS (
    SELECT side_id, stone_id FROM aimed
    UNION ALL
    SELECT s.id, k.id
    FROM treated_side s
    JOIN stone k ON k.course_id = s.course_id
    ANTI JOIN aimed ON aimed.side_id = s.id
    ANTI JOIN (
        SELECT treated_side_id, stone_id FROM stone_aim
        WHERE aim = 'left_on_purpose' AND recorded_before_access = 'yes'
    ) kept ON kept.treated_side_id = s.id AND kept.stone_id = k.id
),
inferior AS (
    SELECT DISTINCT stone_id FROM filled_site WHERE starts_with(site_filled, 'inferior_')
),
measured AS (
    SELECT of_side.side_id, k.id, k.stone_number, k.location, k.length_mm, k.attenuation_hu,
           k.length_mm * k.width_mm AS length_by_width,
           k.volume_mm3 AS segmented,
           if(k.volume_mm3 IS NULL, k.length_mm * k.width_mm * k.depth_mm, NULL) AS by_depth,
           CASE WHEN k.location = 'lower_calyx' OR inferior.stone_id IS NOT NULL THEN true
                WHEN k.location <> 'not_said' THEN false END AS in_lower_pole,
           k.radio_opacity = 'lucent' AS radiolucent
    FROM of_side JOIN stone k ON k.id = of_side.stone_id LEFT JOIN inferior ON inferior.stone_id = k.id
)
SELECT side_id,
       count(*) AS stone_count,
       CASE WHEN count(length_mm) = count(*) THEN max(length_mm) END AS largest_mm,
       CASE WHEN count(length_mm) = count(*) THEN {exact("length_mm")} END AS cumulative_mm,
       CASE WHEN count(length_by_width) = count(*) THEN {exact("length_by_width")} * pi() / 4 END AS area_mm2,
       CASE WHEN count(segmented) + count(by_depth) = count(*)
            THEN coalesce({exact("segmented")}, 0) + coalesce({exact("by_depth")}, 0) * pi() / 6 END AS volume_mm3,
       CASE WHEN count(length_mm) = count(*) OR count(*) = 1
            THEN arg_min({{'hu': attenuation_hu}}, (-coalesce(length_mm, 0), stone_number, id))['hu'] END AS density_hu,
       CASE WHEN bool_or(in_lower_pole) THEN 'yes' WHEN count(in_lower_pole) = count(*) THEN 'no' END
           AS any_lower_pole,
       CASE WHEN bool_or(radiolucent) THEN 'yes' WHEN count(radiolucent) = count(*) THEN 'no' END AS any_radiolucent,
       string_agg(DISTINCT location, '+' ORDER BY {rank(StoneLocation, "location")}) AS locations
FROM measured
GROUP BY side_id
"""
