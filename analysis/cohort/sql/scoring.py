"""What complexity scores and measures of burden and anatomy are worked out from, side by side.

The stones of a side are those of the cohort's own burden (see `stones`). A later stage that says of no stone that it
aimed at it has the stones of its whole course, of which some are gone: `by_aim` and `stage_number` let this be told.
"""

from __future__ import annotations

from analysis.cohort.sql.stones import STONES_OF_SIDE
from analysis.cohort.subjects import Subject

SIDES = """
SELECT s.id AS side_id, o.patient_id, s.stage_number, u.anatomy, o.spinal_disease, s.hydronephrosis,
       s.infundibulopelvic_angle_deg, s.angle_method, s.infundibular_length_mm, s.infundibular_width_mm,
       s.id IN (SELECT treated_side_id FROM stone_aim WHERE aim = 'aimed_at') AS by_aim,
       t.techniques
FROM treated_side s
JOIN operation o ON o.id = s.operation_id
JOIN renal_unit u ON u.id = s.renal_unit_id
LEFT JOIN (
    SELECT treated_side_id, string_agg(technique, '+' ORDER BY technique) AS techniques
    FROM side_technique GROUP BY treated_side_id
) t ON t.treated_side_id = s.id
ORDER BY s.id
"""

STONES = f"""
WITH {STONES_OF_SIDE}
SELECT of_side.side_id, k.id AS stone_id, k.stone_number, k.location, k.calyx_face, k.length_mm, k.width_mm, k.depth_mm,
       k.volume_mm3, k.attenuation_hu, k.attenuation_method, k.skin_to_stone_mm
FROM of_side JOIN stone k ON k.id = of_side.stone_id
ORDER BY of_side.side_id, k.stone_number, k.id
"""

SITES = "SELECT stone_id, site_filled FROM filled_site ORDER BY stone_id, site_filled"

SUBJECT = Subject(
    name="scoring",
    frames={"sides": SIDES, "stones": STONES, "sites": SITES},
    holds={
        "sides": {
            "side_id": "id",
            "patient_id": "id",
            "stage_number": "whole",
            "anatomy": "text",
            "spinal_disease": "text",
            "hydronephrosis": "text",
            "infundibulopelvic_angle_deg": "whole",
            "angle_method": "text",
            "infundibular_length_mm": "number",
            "infundibular_width_mm": "number",
            "by_aim": "flag",
            "techniques": "text",
        },
        "stones": {
            "side_id": "id",
            "stone_id": "id",
            "stone_number": "whole",
            "location": "text",
            "calyx_face": "text",
            "length_mm": "number",
            "width_mm": "number",
            "depth_mm": "number",
            "volume_mm3": "number",
            "attenuation_hu": "whole",
            "attenuation_method": "text",
            "skin_to_stone_mm": "number",
        },
        "sites": {"stone_id": "id", "site_filled": "text"},
    },
)
