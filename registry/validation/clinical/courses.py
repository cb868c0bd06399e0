"""Rules of courses and their planned stages."""

from __future__ import annotations

from registry.validation.clinical.rule import ERROR, QUESTION, ClinicalRule

OF_OPERATION = "FROM treated_side t LEFT JOIN operation o ON o.id = t.operation_id"
STAGES = (
    "(SELECT s.id, s.course_id, s.stage_number, p.operated_on FROM treated_side s "
    "JOIN operation p ON p.id = s.operation_id)"
)
PLANS = "(SELECT 1 FROM planned_stage n WHERE n.course_id = t.course_id)"
SAID = (
    "(SELECT 1 FROM treated_side b JOIN operation o ON o.id = b.operation_id WHERE b.course_id = t.course_id "
    "AND b.stage_number < t.stage_number AND o.planned_staged IS NOT NULL)"
)
# A course is asked about once, at the first side on which stones were meant to be removed.
FIRST_REMOVAL = (
    "(SELECT s.course_id, "
    "arg_min(s.id, (p.operated_on, abs(s.id))) FILTER (s.intent = 'stone_removal') AS side_id, "
    "coalesce(bool_or(s.stage_number = 0), false) AS has_index, "
    "coalesce(bool_or(s.stage_number >= 1), false) AS later, "
    "bool_or(coalesce(';' || s.missing_reasons, '') LIKE '%;stage_number=%') AS reasoned "
    "FROM treated_side s JOIN operation p ON p.id = s.operation_id WHERE s.course_id IS NOT NULL GROUP BY s.course_id)"
)
ELSEWHERE = (
    "(coalesce(u.prior_stone_surgery = 'yes', false) OR EXISTS "
    "(SELECT 1 FROM later_entry e WHERE e.renal_unit_id = t.renal_unit_id "
    "AND e.what = 'retreatment' AND e.occurred_on <= o.operated_on))"
)

COURSES = (
    ClinicalRule(
        id="planned_stage.decided_on.before_previous",
        table="planned_stage",
        fields=("decided_on",),
        severity=ERROR,
        sentence="a stage counts as planned if it was decided no later than the day of the operation before it",
        rows=f"FROM planned_stage t LEFT JOIN (SELECT course_id, stage_number, min(operated_on) AS operated_on "
        f"FROM {STAGES} GROUP BY ALL) s ON s.course_id = t.course_id AND s.stage_number = t.stage_number - 1",
        needs="s.operated_on IS NOT NULL",
        broken="t.decided_on > s.operated_on",
        why="The stage was decided {days} days after the operation before it.",
        shows={"days": "days(s.operated_on, t.decided_on)"},
    ),
    ClinicalRule(
        id="planned_stage.dropped_on.after_decided",
        table="planned_stage",
        fields=("dropped_on", "decided_on"),
        severity=ERROR,
        sentence="a stage is dropped no earlier than it was decided",
        rows="FROM planned_stage t",
        needs="t.dropped_on IS NOT NULL",
        broken="t.dropped_on < t.decided_on",
        why="The stage was dropped {days} days before it was decided.",
        shows={"days": "days(t.dropped_on, t.decided_on)"},
    ),
    ClinicalRule(
        id="treated_side.stage_number.planned",
        table="treated_side",
        fields=("stage_number", "course_id"),
        severity=QUESTION,
        sentence="a further stage of a course was planned; an unplanned retreatment has no stage number",
        rows="FROM treated_side t WHERE t.stage_number >= 1",
        # A log that numbers stages and never says what was planned cannot be asked.
        needs=f"t.course_id IS NOT NULL AND (EXISTS {PLANS} OR EXISTS {SAID})",
        broken="NOT EXISTS (SELECT 1 FROM planned_stage p WHERE p.course_id = t.course_id "
        "AND p.stage_number = t.stage_number)",
        why="The side is stage {stage}, and no such stage was planned.",
        shows={"stage": "t.stage_number"},
    ),
    ClinicalRule(
        id="treated_side.stage_number.order",
        table="treated_side",
        fields=("stage_number",),
        severity=ERROR,
        sentence="the stages of a course follow one another",
        rows=f"{OF_OPERATION} LEFT JOIN (SELECT a.id, max(b.operated_on) AS earlier FROM {STAGES} a JOIN {STAGES} b "
        "ON b.course_id = a.course_id AND b.stage_number < a.stage_number GROUP BY ALL) e ON e.id = t.id "
        "WHERE t.course_id IS NOT NULL",
        needs="t.stage_number IS NOT NULL AND o.operated_on IS NOT NULL",
        broken="o.operated_on < e.earlier",
        why="Stage {stage} was operated on {days} days before an earlier stage.",
        shows={"stage": "t.stage_number", "days": "days(o.operated_on, e.earlier)"},
    ),
    ClinicalRule(
        id="treated_side.stage_number.one_index",
        table="treated_side",
        fields=("stage_number",),
        severity=ERROR,
        sentence="a course has one index operation (stage 0)",
        rows=f"{OF_OPERATION} LEFT JOIN {STAGES} e ON e.course_id = t.course_id AND e.stage_number = 0 "
        "AND t.stage_number = 0 AND e.id <> t.id AND cited(o.operated_on, t.id, e.operated_on, e.id) "
        "WHERE t.course_id IS NOT NULL",
        needs="t.stage_number IS NOT NULL AND o.operated_on IS NOT NULL",
        broken="e.id IS NOT NULL",
        why="The course has another index operation {days} days before.",
        shows={"days": "days(e.operated_on, o.operated_on)"},
    ),
    ClinicalRule(
        id="treated_side.stage_number.has_index",
        table="treated_side",
        fields=("stage_number", "course_id"),
        severity=QUESTION,
        sentence="a course has an index operation (stage 0); blank is an unplanned retreatment, which begins no course",
        rows=f"FROM {FIRST_REMOVAL} c JOIN treated_side t ON t.id = c.side_id "
        "LEFT JOIN operation o ON o.id = t.operation_id LEFT JOIN renal_unit u ON u.id = t.renal_unit_id",
        # Stages that begin at 1 may go on from an index before the registry, unless it is said that there was none.
        needs="c.has_index OR (NOT c.reasoned AND (NOT c.later OR u.prior_stone_surgery IS NOT NULL))",
        broken=f"NOT c.has_index AND NOT {ELSEWHERE}",
        why="No side of the course has stage 0, so that it has no index operation and is counted as no course.",
    ),
    ClinicalRule(
        id="treated_side.course_id.same_side",
        table="treated_side",
        fields=("course_id",),
        severity=ERROR,
        sentence="a side belongs to a course of the same renal unit",
        rows="FROM treated_side t LEFT JOIN course c ON c.id = t.course_id",
        needs="c.id IS NOT NULL",
        broken="c.renal_unit_id <> t.renal_unit_id",
        why="The course is of another renal unit.",
    ),
    ClinicalRule(
        id="treated_side.intent.operation",
        table="treated_side",
        fields=("intent",),
        severity=QUESTION,
        sentence="in an operation for drainage or a stent alone, no side is meant to be cleared of stones",
        rows=OF_OPERATION,
        needs="o.purpose IS NOT NULL",
        broken="o.purpose IN ('drainage', 'stent', 'diagnostic') AND t.intent = 'stone_removal'",
        why="The side is meant for stone removal, the operation for: {purpose}.",
        shows={"purpose": "o.purpose"},
    ),
)
