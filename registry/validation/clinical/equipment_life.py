"""Rules of single pieces of equipment: bought, used, mended, retired."""

from __future__ import annotations

from registry.validation.clinical.flow import ROUNDING_MIN
from registry.validation.clinical.rule import ERROR, QUESTION, ClinicalRule

OF_OPERATION = (
    "FROM equipment_use t LEFT JOIN treated_side s ON s.id = t.treated_side_id "
    "LEFT JOIN operation o ON o.id = s.operation_id LEFT JOIN equipment_item i ON i.id = t.equipment_item_id"
)
# A piece is known by its row, or by what was scanned of it.
PIECES = (
    "(SELECT x.id, y.operation_id, z.operated_on, CASE WHEN n.single_use = 'yes' THEN coalesce('row ' || "
    "x.equipment_item_id, n.id || ' ' || x.serial_as_scanned) END AS piece FROM equipment_use x "
    "JOIN equipment_model n ON n.id = x.equipment_model_id "
    "JOIN treated_side y ON y.id = x.treated_side_id JOIN operation z ON z.id = y.operation_id)"
)

EQUIPMENT_LIFE = (
    ClinicalRule(
        id="equipment_use.equipment_item_id.single_use_again",
        table="equipment_use",
        fields=("equipment_item_id", "serial_as_scanned"),
        severity=ERROR,
        sentence="a single-use piece is used in one operation",
        rows="FROM equipment_use t LEFT JOIN equipment_model m ON m.id = t.equipment_model_id "
        f"LEFT JOIN {PIECES} o ON o.id = t.id LEFT JOIN {PIECES} p ON p.piece = o.piece "
        "AND p.operation_id <> o.operation_id AND cited(o.operated_on, t.id, p.operated_on, p.id) "
        "WHERE t.equipment_item_id IS NOT NULL OR t.serial_as_scanned IS NOT NULL",
        needs="m.single_use IS NOT NULL AND o.operated_on IS NOT NULL",
        broken="p.id IS NOT NULL",
        why="This very piece is single-use, and was used in another operation {days} days before.",
        shows={"days": "days(p.operated_on, o.operated_on)"},
    ),
    ClinicalRule(
        id="equipment_use.equipment_item_id.model",
        table="equipment_use",
        fields=("equipment_item_id", "equipment_model_id"),
        severity=ERROR,
        sentence="the piece is of the model that was used",
        rows="FROM equipment_use t LEFT JOIN equipment_item i ON i.id = t.equipment_item_id",
        needs="i.equipment_model_id IS NOT NULL",
        broken="i.equipment_model_id <> t.equipment_model_id",
        why="The piece is of another model.",
    ),
    ClinicalRule(
        id="equipment_use.equipment_item_id.retired",
        table="equipment_use",
        fields=("equipment_item_id",),
        severity=ERROR,
        sentence="equipment is not used after it was retired",
        rows=f"{OF_OPERATION} WHERE i.retired_on IS NOT NULL",
        needs="o.operated_on IS NOT NULL",
        broken="o.operated_on > i.retired_on",
        why="The piece was retired {days} days before.",
        shows={"days": "days(i.retired_on, o.operated_on)"},
    ),
    ClinicalRule(
        id="equipment_use.equipment_item_id.acquired",
        table="equipment_use",
        fields=("equipment_item_id",),
        severity=ERROR,
        sentence="equipment is not used before it was acquired",
        rows=f"{OF_OPERATION} WHERE i.acquired_on IS NOT NULL",
        needs="o.operated_on IS NOT NULL",
        broken="o.operated_on < i.acquired_on",
        why="The piece was acquired {days} days later.",
        shows={"days": "days(o.operated_on, i.acquired_on)"},
    ),
    ClinicalRule(
        id="equipment_use.minutes.within_operating",
        table="equipment_use",
        fields=("minutes",),
        severity=QUESTION,
        sentence="equipment is in use no longer than the operation takes",
        rows=OF_OPERATION,
        needs="t.minutes IS NOT NULL AND o.operating_min IS NOT NULL",
        broken=f"t.minutes > o.operating_min + {ROUNDING_MIN}",
        why="The piece was in use for {part} minutes, the operation took {whole} minutes.",
        shows={"part": "t.minutes", "whole": "o.operating_min"},
    ),
    ClinicalRule(
        id="equipment_use.most_of_lithotripsy.one",
        table="equipment_use",
        fields=("most_of_lithotripsy",),
        severity=QUESTION,
        sentence="one access sheath, and one scope, was in place for most of the lithotripsy of a side",
        rows="FROM equipment_use t JOIN equipment_model m ON m.id = t.equipment_model_id "
        "AND m.kind IN ('access_sheath', 'scope') LEFT JOIN (SELECT q.treated_side_id, n.kind, count(*) AS found, "
        "max(q.use_number) AS last_use FROM equipment_use q JOIN equipment_model n ON n.id = q.equipment_model_id "
        "WHERE q.most_of_lithotripsy = 'yes' GROUP BY ALL) p ON p.treated_side_id = "
        "t.treated_side_id AND p.kind = m.kind",
        needs="t.most_of_lithotripsy IS NOT NULL",
        broken="t.most_of_lithotripsy = 'yes' AND p.found > 1 AND t.use_number = p.last_use",
        why="{found} pieces of this kind are said to have been in place for most of it.",
        shows={"found": "p.found"},
    ),
    ClinicalRule(
        id="equipment_use.reported_on.after_operation",
        table="equipment_use",
        fields=("reported_on",),
        severity=ERROR,
        sentence="a failure is reported no earlier than it happened",
        rows=f"{OF_OPERATION} WHERE t.reported_on IS NOT NULL",
        needs="o.operated_on IS NOT NULL",
        broken="t.reported_on < o.operated_on",
        why="The report lies {days} days before the operation.",
        shows={"days": "days(t.reported_on, o.operated_on)"},
    ),
    ClinicalRule(
        id="equipment_item.retired_on.after_acquired",
        table="equipment_item",
        fields=("retired_on", "acquired_on"),
        severity=ERROR,
        sentence="a piece is retired after it was acquired",
        rows="FROM equipment_item t WHERE t.retired_on IS NOT NULL",
        needs="t.acquired_on IS NOT NULL",
        broken="t.retired_on < t.acquired_on",
        why="The piece was retired {days} days before it was acquired.",
        shows={"days": "days(t.retired_on, t.acquired_on)"},
    ),
    ClinicalRule(
        id="repair.repaired_on.after_acquired",
        table="repair",
        fields=("repaired_on",),
        severity=ERROR,
        sentence="a piece is repaired after it was acquired",
        rows="FROM repair t LEFT JOIN equipment_item i ON i.id = t.equipment_item_id",
        needs="i.acquired_on IS NOT NULL",
        broken="t.repaired_on < i.acquired_on",
        why="The repair lies {days} days before the piece was acquired.",
        shows={"days": "days(t.repaired_on, i.acquired_on)"},
    ),
)
