"""Rules of stents and nephrostomies."""

from __future__ import annotations

from registry.validation.clinical.dates import decided, last
from registry.validation.clinical.rule import ERROR, QUESTION, ClinicalRule

DRAINS = (
    ClinicalRule(
        id="drain.removed_on.after_placed",
        table="drain",
        fields=("removed_on", "placed_on"),
        severity=ERROR,
        sentence="a stent or nephrostomy is removed no earlier than it was placed",
        rows="FROM drain t WHERE t.removed_on IS NOT NULL",
        needs=f"{last('t.removed_on')} < t.placed_on OR t.removed_on >= {last('t.placed_on')} "
        "OR (t.removed_on >= t.placed_on AND t.removed_on_precision IS NULL)",
        broken=f"{last('t.removed_on')} < t.placed_on",
        why="It was removed {days} days before it was placed.",
        shows={"days": f"days({last('t.removed_on')}, t.placed_on)"},
    ),
    ClinicalRule(
        id="drain.planned_removal_on.after_placed",
        table="drain",
        fields=("planned_removal_on", "placed_on"),
        severity=ERROR,
        sentence="the removal is planned for a day after the placement",
        rows="FROM drain t WHERE t.planned_removal_on IS NOT NULL",
        needs=f"t.planned_removal_on < t.placed_on OR t.planned_removal_on >= {last('t.placed_on')}",
        broken="t.planned_removal_on < t.placed_on",
        why="The removal is planned for {days} days before the placement.",
        shows={"days": "days(t.planned_removal_on, t.placed_on)"},
    ),
    ClinicalRule(
        id="drain.placed_on.day_of_operation",
        table="drain",
        fields=("placed_on",),
        severity=ERROR,
        sentence="what was placed in an operation was placed on its day",
        rows="FROM drain t LEFT JOIN operation o ON o.id = t.operation_id",
        needs="o.operated_on IS NOT NULL",
        broken=f"o.operated_on < t.placed_on - 1 OR o.operated_on > {last('t.placed_on')} + 1",
        why="The day of placement lies {days} days from the operation in which it was placed.",
        shows={"days": "abs(days(o.operated_on, t.placed_on))"},
    ),
    ClinicalRule(
        id="drain.renal_unit_id.side_operated",
        table="drain",
        fields=("renal_unit_id",),
        severity=QUESTION,
        sentence="what was placed in an operation lies in a side that was treated in it",
        rows="FROM drain t LEFT JOIN (SELECT operation_id, list(renal_unit_id) AS units FROM "
        "treated_side GROUP BY ALL) s "
        "ON s.operation_id = t.operation_id WHERE t.operation_id IS NOT NULL",
        needs="s.units IS NOT NULL",
        broken="NOT list_contains(s.units, t.renal_unit_id)",
        why="The operation did not treat this side: was the wrong side entered?",
    ),
    ClinicalRule(
        id="drain.removed_where.when",
        table="drain",
        fields=("removed_where", "removed_on"),
        severity=QUESTION,
        sentence="where it was removed is said with the day, if only the month or year",
        rows="FROM drain t WHERE t.removed_where IS NOT NULL OR t.removed_on IS NOT NULL",
        needs="t.removed_where IS NOT NULL",
        broken="t.removed_on IS NULL",
        why="It was removed ({where}), and no day is given: it counts as still in place.",
        shows={"where": "t.removed_where"},
    ),
    ClinicalRule(
        id="drain.on_string.stent",
        table="drain",
        fields=("on_string", "kind"),
        severity=ERROR,
        sentence="only a stent or catheter is left on a string",
        rows="FROM drain t",
        needs="t.on_string IS NOT NULL",
        broken="t.on_string = 'yes' AND t.kind = 'nephrostomy'",
        why="A nephrostomy is said to be on a string.",
    ),
    ClinicalRule(
        id="drain.placed_on.kidney_there",
        table="drain",
        fields=("placed_on",),
        severity=ERROR,
        sentence="nothing is placed in a kidney after it was removed",
        rows="FROM drain t JOIN renal_unit u ON u.id = t.renal_unit_id WHERE u.lost_on IS NOT NULL "
        "AND u.loss_reason IS DISTINCT FROM 'no_function'",
        needs=f"u.loss_reason IS NOT NULL AND {decided('u.lost_on', 't.placed_on')}",
        broken=f"{last('u.lost_on')} < t.placed_on",
        why="The kidney was lost {days} days before the placement.",
        shows={"days": f"days({last('u.lost_on')}, t.placed_on)"},
    ),
)
