"""Who read which examination, and what was listed: for agreement of readers and grades that count fragments."""

from __future__ import annotations

from analysis.cohort.subjects import Subject

READINGS = """
SELECT r.id AS reading_id, r.examination_id, r.renal_unit_id, r.reading_number, r.reader, r.blinded = 'yes' AS blinded,
       r.finding, e.modality
FROM reading r JOIN examination e ON e.id = r.examination_id AND e.not_done IS NULL
ORDER BY r.examination_id, r.renal_unit_id, r.reading_number, r.id
"""

FRAGMENTS = """
SELECT f.reading_id, f.kind, f.fragment_count AS number, f.diameter_low_mm AS low_mm, f.diameter_high_mm AS high_mm,
       coalesce(f.larger_than_low = 'yes', false) AS above,
       coalesce(f.origin, if(f.stone_id IS NULL, 'not_said', 'stone')) AS source
FROM fragment f JOIN reading r ON r.id = f.reading_id
ORDER BY f.id
"""

READINGS_SUBJECT = Subject(
    name="readings",
    frames={"readings": READINGS, "fragments": FRAGMENTS},
    holds={
        "readings": {
            "reading_id": "id",
            "examination_id": "id",
            "renal_unit_id": "id",
            "reading_number": "id",
            "reader": "text",
            "blinded": "flag",
            "finding": "text",
            "modality": "text",
        },
        "fragments": {
            "reading_id": "id",
            "kind": "text",
            "number": "whole",
            "low_mm": "number",
            "high_mm": "number",
            "above": "flag",
            "source": "text",
        },
    },
)
