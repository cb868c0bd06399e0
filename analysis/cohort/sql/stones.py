"""Stone burden of each side.

The stones of a side are those it aimed at; where no aim is recorded, those of its course, less those that were
recorded before access as left on purpose. A measure of several stones is missing when that of one of them is.
Area: L x W x pi/4 a stone. Volume: as segmented, else pi/6 x L x W x D. Density is that of the largest stone. Whether a
staghorn or a stone in a diverticulum reaches the lower pole is known only when the sites it fills are recorded, but for
a complete staghorn.
"""

from analysis.cohort.sql.order import exact, rank
from registry.schema.lists_stone import StoneLocation

STONES_OF_SIDE = """
aimed AS (
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
)
"""
"""Tables `aimed` and `of_side` (side_id, stone_id), to stand after WITH."""

STONES = f"""
CREATE TABLE side_stones AS
WITH {STONES_OF_SIDE},
filled AS (
    SELECT stone_id, bool_or(starts_with(site_filled, 'inferior_')) AS inferior FROM filled_site GROUP BY stone_id
),
measured AS (
    SELECT of_side.side_id, k.id, k.stone_number, k.location, k.length_mm, k.attenuation_hu,
           k.length_mm * k.width_mm AS length_by_width,
           k.volume_mm3 AS segmented, k.attenuation_method,
           if(k.volume_mm3 IS NULL, k.length_mm * k.width_mm * k.depth_mm, NULL) AS by_depth,
           -- Of a staghorn or a diverticulum the place alone does not tell which calyx.
           CASE WHEN k.location IN ('lower_calyx', 'complete_staghorn') OR filled.inferior THEN true
                WHEN filled.inferior IS NULL
                     AND k.location IN ('not_said', 'partial_staghorn', 'diverticulum') THEN NULL
                WHEN k.location IS NOT NULL THEN false END AS in_lower_pole,
           k.radio_opacity = 'lucent' AS radiolucent
    FROM of_side JOIN stone k ON k.id = of_side.stone_id LEFT JOIN filled ON filled.stone_id = k.id
)
SELECT side_id,
       count(*) AS stone_count,
       CASE WHEN count(length_mm) = count(*) THEN max(length_mm) END AS largest_mm,
       CASE WHEN count(length_mm) = count(*) THEN {exact("length_mm")} END AS cumulative_mm,
       CASE WHEN count(length_by_width) = count(*) THEN {exact("length_by_width")} * pi() / 4 END AS area_mm2,
       CASE WHEN count(segmented) + count(by_depth) = count(*)
            THEN coalesce({exact("segmented")}, 0) + coalesce({exact("by_depth")}, 0) * pi() / 6 END AS volume_mm3,
       CASE WHEN count(segmented) = count(*) THEN 'segmented'
            WHEN count(by_depth) = count(*) THEN 'ellipsoid'
            WHEN count(segmented) + count(by_depth) = count(*) THEN 'mixed' END AS volume_method,
       CASE WHEN count(length_mm) = count(*) OR count(*) = 1
            THEN arg_min({{'hu': attenuation_hu}}, (-coalesce(length_mm, 0), stone_number, id))['hu'] END AS density_hu,
       CASE WHEN count(length_mm) = count(*) OR count(*) = 1
            THEN arg_min({{'by': attenuation_method}}, (-coalesce(length_mm, 0), stone_number, id))['by'] END
           AS density_method,
       CASE WHEN bool_or(in_lower_pole) THEN 'yes' WHEN count(in_lower_pole) = count(*) THEN 'no' END
           AS any_lower_pole,
       CASE WHEN bool_or(radiolucent) THEN 'yes' WHEN count(radiolucent) = count(*) THEN 'no' END AS any_radiolucent,
       string_agg(DISTINCT location, '+' ORDER BY {rank(StoneLocation, "location")}) AS locations
FROM measured
GROUP BY side_id
"""
