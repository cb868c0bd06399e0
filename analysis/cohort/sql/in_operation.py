"""Events in the operation, and what was written down as not applicable on each side."""

from analysis.cohort.subjects import Subject

EVENTS = """
SELECT treated_side_id AS side_id, event, location, converted_to FROM side_event
ORDER BY treated_side_id, event_number, id
"""

REASONS = """
SELECT id AS side_id,
       coalesce(contains(missing_reasons, 'ureteric_lesion=not_applicable;'), false) AS lesion_not_applicable,
       coalesce(contains(missing_reasons, 'wall_injury=not_applicable;'), false) AS wall_not_applicable,
       coalesce(contains(missing_reasons, 'satava=not_applicable;'), false) AS satava_not_applicable
FROM treated_side ORDER BY id
"""

SUBJECT = Subject(
    name="in_operation",
    frames={"events": EVENTS, "reasons": REASONS},
    holds={
        "events": {"side_id": "id", "event": "text", "location": "text", "converted_to": "text"},
        "reasons": {
            "side_id": "id",
            "lesion_not_applicable": "flag",
            "wall_not_applicable": "flag",
            "satava_not_applicable": "flag",
        },
    },
)
