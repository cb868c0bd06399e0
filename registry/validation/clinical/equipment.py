"""Rules of the catalogue and of what fits into what."""

from __future__ import annotations

from registry.validation.clinical.rule import ERROR, QUESTION, ClinicalRule

SHEATHS, THROUGH_SKIN = "'access_sheath'", "'percutaneous_sheath'"
SCOPES = "'scope', 'semirigid_scope', 'nephroscope'"
INNER = "inner_tenths_fr"
OF_MODEL = "FROM equipment_use t LEFT JOIN equipment_model m ON m.id = t.equipment_model_id"
USED = "q.result IS NULL OR q.result IN ('passed', 'exchanged')"
THIS_USED = "t.result IS NULL OR t.result IN ('passed', 'exchanged')"


def _beside(kinds: str, column: str) -> str:
    """What is known of a dimension of the pieces of some kinds that were used on the same side."""
    return (
        f"LEFT JOIN (SELECT q.treated_side_id, count(*) AS pieces, count(n.{column}) AS known, "
        f"max(n.{column}) AS most, "
        f"min(n.{column}) AS least FROM equipment_use q JOIN equipment_model n ON n.id = q.equipment_model_id "
        f"WHERE n.kind IN ({kinds}) AND ({USED}) GROUP BY ALL) b ON b.treated_side_id = t.treated_side_id"
    )


EQUIPMENT = (
    ClinicalRule(
        id="equipment_use.equipment_model_id.scope_in_sheath",
        table="equipment_use",
        fields=("equipment_model_id",),
        severity=ERROR,
        sentence="a flexible scope is no wider than the widest sheath used on the side",
        rows=f"{OF_MODEL} {_beside(SHEATHS, INNER)} WHERE m.kind = 'scope' AND ({THIS_USED}) AND b.pieces > 0",
        needs="m.shaft_tenths_fr IS NOT NULL AND b.known = b.pieces",
        broken="m.shaft_tenths_fr > b.most",
        why="The scope's shaft is {shaft} Fr wide, the widest sheath's inner diameter {inner} Fr.",
        shows={"shaft": "m.shaft_tenths_fr / 10", "inner": "b.most / 10"},
    ),
    ClinicalRule(
        id="equipment_use.equipment_model_id.nephroscope_in_sheath",
        table="equipment_use",
        fields=("equipment_model_id",),
        severity=ERROR,
        sentence="a nephroscope is no wider than the widest percutaneous sheath used on the side",
        rows=f"{OF_MODEL} {_beside(THROUGH_SKIN, INNER)} WHERE m.kind = 'nephroscope' "
        f"AND ({THIS_USED}) AND b.pieces > 0",
        needs="m.shaft_tenths_fr IS NOT NULL AND b.known = b.pieces",
        broken="m.shaft_tenths_fr > b.most",
        why="The nephroscope's shaft is {shaft} Fr wide, the widest sheath's inner diameter {inner} Fr.",
        shows={"shaft": "m.shaft_tenths_fr / 10", "inner": "b.most / 10"},
    ),
    ClinicalRule(
        id="equipment_use.equipment_model_id.scope_beyond_sheath",
        table="equipment_use",
        fields=("equipment_model_id",),
        severity=QUESTION,
        sentence="a flexible scope is longer than the shortest sheath used on the side",
        rows=f"{OF_MODEL} {_beside(SHEATHS, 'length_cm')} WHERE m.kind = 'scope' AND ({THIS_USED}) AND b.pieces > 0",
        needs="m.length_cm IS NOT NULL AND b.known = b.pieces",
        broken="m.length_cm <= b.least",
        why="The scope is {scope} cm long, the shortest sheath {sheath} cm.",
        shows={"scope": "m.length_cm", "sheath": "b.least"},
    ),
    ClinicalRule(
        id="equipment_use.equipment_model_id.fibre_in_channel",
        table="equipment_use",
        fields=("equipment_model_id",),
        severity=ERROR,
        sentence="a laser fibre is thinner than the widest channel of the scopes used on the side",
        rows=f"{OF_MODEL} {_beside(SCOPES, 'channel_tenths_fr')} "
        f"WHERE m.kind = 'laser_fibre' AND ({THIS_USED}) AND b.pieces > 0",
        needs="m.fibre_core_um IS NOT NULL AND b.known = b.pieces",
        broken="m.fibre_core_um >= b.most * 1000 / 30",  # a French is a third of a millimetre
        why="The fibre's core is {core} um thick, the widest channel {channel} um.",
        shows={"core": "m.fibre_core_um", "channel": "round(b.most * 1000 / 30)"},
    ),
    ClinicalRule(
        id="equipment_model.inner_tenths_fr.within_outer",
        table="equipment_model",
        fields=("inner_tenths_fr", "outer_tenths_fr"),
        severity=ERROR,
        sentence="the inner diameter is less than the outer",
        rows="FROM equipment_model t WHERE t.inner_tenths_fr IS NOT NULL OR t.outer_tenths_fr IS NOT NULL",
        needs="t.inner_tenths_fr IS NOT NULL AND t.outer_tenths_fr IS NOT NULL",
        broken="t.inner_tenths_fr >= t.outer_tenths_fr",
        why="The inner diameter is {inner} Fr and the outer {outer} Fr: were they swapped?",
        shows={"inner": "t.inner_tenths_fr / 10", "outer": "t.outer_tenths_fr / 10"},
    ),
    ClinicalRule(
        id="equipment_model.tip_tenths_fr.within_shaft",
        table="equipment_model",
        fields=("tip_tenths_fr", "shaft_tenths_fr"),
        severity=QUESTION,
        sentence="the shaft is the largest diameter that lies within the sheath: the tip is no wider",
        rows="FROM equipment_model t WHERE t.tip_tenths_fr IS NOT NULL OR t.shaft_tenths_fr IS NOT NULL",
        needs="t.tip_tenths_fr IS NOT NULL AND t.shaft_tenths_fr IS NOT NULL",
        broken="t.tip_tenths_fr > t.shaft_tenths_fr",
        why="The tip is {tip} Fr and the shaft {shaft} Fr: were they swapped?",
        shows={"tip": "t.tip_tenths_fr / 10", "shaft": "t.shaft_tenths_fr / 10"},
    ),
    ClinicalRule(
        id="equipment_model.channel_tenths_fr.within_shaft",
        table="equipment_model",
        fields=("channel_tenths_fr", "shaft_tenths_fr"),
        severity=ERROR,
        sentence="the working channel is narrower than the shaft",
        rows="FROM equipment_model t WHERE t.channel_tenths_fr IS NOT NULL",
        needs="t.shaft_tenths_fr IS NOT NULL",
        broken="t.channel_tenths_fr >= t.shaft_tenths_fr",
        why="The channel is {channel} Fr and the shaft {shaft} Fr.",
        shows={"channel": "t.channel_tenths_fr / 10", "shaft": "t.shaft_tenths_fr / 10"},
    ),
)
