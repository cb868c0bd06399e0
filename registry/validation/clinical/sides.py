"""Rules of treated sides: which side, what was found before, how far it went."""

from __future__ import annotations

from registry.validation.clinical.dates import last
from registry.validation.clinical.rule import ERROR, QUESTION, ClinicalRule

OF_OPERATION = "FROM treated_side t LEFT JOIN operation o ON o.id = t.operation_id"
# Drains of the patient that were in place on the day before the operation, as far as is known.
IN_PLACE = (
    f"d.placed_on < o.operated_on AND (d.removed_on IS NULL OR {last('d.removed_on')} >= o.operated_on) "
    "AND d.kind = 'stent'"
)

SIDES = (
    ClinicalRule(
        id="treated_side.renal_unit_id.twice_within_a_day",
        table="treated_side",
        fields=("renal_unit_id",),
        severity=QUESTION,
        sentence="a side is operated on once within a day, unless the first was not started",
        rows=f"{OF_OPERATION} LEFT JOIN LATERAL (SELECT count(*) AS found FROM treated_side s JOIN operation p "
        "ON p.id = s.operation_id WHERE s.renal_unit_id = t.renal_unit_id AND s.id <> t.id "
        "AND s.conduct IS DISTINCT FROM 'not_started' AND abs(days(p.operated_on, o.operated_on)) <= 1 "
        "AND cited(o.operated_on, t.id, p.operated_on, s.id)) s ON true",
        needs="o.operated_on IS NOT NULL AND t.renal_unit_id IS NOT NULL",
        broken="s.found > 0",
        why="The same renal unit was operated on the same day or the day before: entered twice, or the other side?",
    ),
    ClinicalRule(
        id="treated_side.operation_id.entered_twice",
        table="treated_side",
        fields=("operation_id",),
        severity=QUESTION,
        sentence="two operations on one side within two days do not have the same minutes and the same energy",
        rows=f"{OF_OPERATION} LEFT JOIN (SELECT treated_side_id, sum(total_energy_kj) AS kj FROM lithotripsy_setting "
        "GROUP BY ALL) l ON l.treated_side_id = t.id LEFT JOIN LATERAL (SELECT count(*) AS found FROM treated_side s "
        "JOIN operation p ON p.id = s.operation_id JOIN (SELECT treated_side_id, sum(total_energy_kj) AS kj "
        "FROM lithotripsy_setting GROUP BY ALL) m ON m.treated_side_id = s.id WHERE s.renal_unit_id = t.renal_unit_id "
        "AND s.id <> t.id AND abs(days(p.operated_on, o.operated_on)) <= 2 AND p.operating_min = o.operating_min "
        "AND m.kj = l.kj AND cited(o.operated_on, t.id, p.operated_on, s.id)) s ON true",
        needs="o.operating_min IS NOT NULL AND l.kj IS NOT NULL",
        broken="s.found > 0",
        why="Another operation on this renal unit within two days has {minutes} minutes and "
        "{kj} kJ too: entered twice?",
        shows={"minutes": "o.operating_min", "kj": "l.kj"},
    ),
    ClinicalRule(
        id="treated_side.renal_unit_id.swap_suspected",
        table="treated_side",
        fields=("renal_unit_id",),
        severity=QUESTION,
        sentence="stones are removed from the side on which the last planning examination showed them",
        rows=f"{OF_OPERATION} LEFT JOIN LATERAL (SELECT e.id FROM examination e JOIN reading r ON "
        "r.examination_id = e.id "
        f"WHERE e.patient_id = o.patient_id AND e.not_done IS NULL AND e.purpose "
        f"IS DISTINCT FROM 'follow_up' AND {last('e.examined_on')} < o.operated_on "
        "AND days(e.examined_on, o.operated_on) <= 365 AND r.renal_unit_id = t.renal_unit_id "
        "ORDER BY e.examined_on DESC, e.id LIMIT 1) e ON true "
        "LEFT JOIN LATERAL (SELECT bool_and(r.finding = 'none_seen') FILTER (WHERE r.renal_unit_id = t.renal_unit_id) "
        "AS none_here, bool_or(r.finding = 'fragments') FILTER (WHERE r.renal_unit_id <> "
        "t.renal_unit_id AND NOT EXISTS "
        "(SELECT 1 FROM treated_side s WHERE s.operation_id = t.operation_id AND s.renal_unit_id = r.renal_unit_id)) "
        "AS seen_there FROM reading r WHERE r.examination_id = e.id) r ON true WHERE t.intent = 'stone_removal'",
        needs="r.none_here IS NOT NULL",
        broken="r.none_here AND coalesce(r.seen_there, false)",
        why="The last planning examination saw no stone here and stones on a side that was not treated: sides swapped?",
    ),
    ClinicalRule(
        id="treated_side.pre_stented.other_side",
        table="treated_side",
        fields=("pre_stented",),
        severity=QUESTION,
        sentence="a side that was stented before has the stent that is recorded",
        rows=f"{OF_OPERATION} JOIN LATERAL (SELECT count(*) FILTER (WHERE d.renal_unit_id = t.renal_unit_id) AS here, "
        "count(*) FILTER (WHERE d.renal_unit_id <> t.renal_unit_id AND NOT EXISTS (SELECT 1 FROM treated_side s "
        "WHERE s.operation_id = t.operation_id AND s.renal_unit_id = d.renal_unit_id)) AS there FROM drain d "
        f"JOIN renal_unit u ON u.id = d.renal_unit_id WHERE u.patient_id = o.patient_id AND {IN_PLACE}) d "
        "ON d.here + d.there > 0",
        needs="t.pre_stented IS NOT NULL",
        broken="t.pre_stented = 'yes' AND d.here = 0 AND d.there > 0",
        why="The only stent in place was in a side that was not treated: sides swapped?",
    ),
    ClinicalRule(
        id="treated_side.pre_stented_days.without_stent",
        table="treated_side",
        fields=("pre_stented_days", "pre_stented"),
        severity=ERROR,
        sentence="days are counted only where a stent was in place",
        rows="FROM treated_side t WHERE t.pre_stented_days IS NOT NULL",
        needs="t.pre_stented IS NOT NULL",
        broken="t.pre_stented = 'no' AND t.pre_stented_days > 0",
        why="The side was not stented before, and was so for {days} days.",
        shows={"days": "t.pre_stented_days"},
    ),
    ClinicalRule(
        id="treated_side.pre_stented_days.fits_stent",
        table="treated_side",
        fields=("pre_stented_days",),
        severity=QUESTION,
        sentence="the days stented before are those since the stent in place was placed, within two weeks",
        rows=f"{OF_OPERATION} JOIN drain d ON d.renal_unit_id = t.renal_unit_id AND {IN_PLACE} "
        "WHERE coalesce(d.placed_on_precision, 'day') = 'day'",
        needs="t.pre_stented_days IS NOT NULL",
        broken="abs(days(d.placed_on, o.operated_on) - t.pre_stented_days) > 14",
        why="{given} days are given; the stent was placed {days} days before.",
        shows={"given": "t.pre_stented_days", "days": "days(d.placed_on, o.operated_on)"},
    ),
    ClinicalRule(
        id="treated_side.infundibulopelvic_angle_deg.method",
        table="treated_side",
        fields=("infundibulopelvic_angle_deg", "angle_method"),
        severity=QUESTION,
        sentence="an angle is given with how it was measured, since the methods differ",
        rows="FROM treated_side t WHERE t.infundibulopelvic_angle_deg IS NOT NULL OR t.angle_method IS NOT NULL",
        needs="t.infundibulopelvic_angle_deg IS NOT NULL",
        broken="t.angle_method IS NULL",
        why="An angle of {angle} degrees is given, and not how it was measured.",
        shows={"angle": "t.infundibulopelvic_angle_deg"},
        source="Elbahnasy et al., J Urol 1998;159:676; Sampaio 1997 (from memory)",
    ),
    ClinicalRule(
        id="treated_side.conduct_reason.stopped",
        table="treated_side",
        fields=("conduct_reason", "conduct"),
        severity=QUESTION,
        sentence="only a side that was not started or was abandoned has a reason for it",
        rows="FROM treated_side t WHERE t.conduct_reason IS NOT NULL",
        needs="t.conduct IS NOT NULL",
        broken="t.conduct = 'completed'",
        why="The side was completed, and a reason for stopping is given: {reason}.",
        shows={"reason": "t.conduct_reason"},
    ),
    ClinicalRule(
        id="treated_side.surgeon_judgement.stopped",
        table="treated_side",
        fields=("surgeon_judgement", "conduct"),
        severity=QUESTION,
        sentence="a side that was abandoned or not started is not judged clear",
        rows="FROM treated_side t",
        needs="t.surgeon_judgement IS NOT NULL AND t.conduct IS NOT NULL",
        broken="t.surgeon_judgement IN ('nothing', 'dust') AND t.conduct IN ('abandoned', 'not_started')",
        why="The side was {conduct}, and is judged to have {left} left.",
        shows={"conduct": "t.conduct", "left": "t.surgeon_judgement"},
    ),
    ClinicalRule(
        id="treated_side.renal_unit_id.lost_before",
        table="treated_side",
        fields=("renal_unit_id",),
        severity=ERROR,
        sentence="no stone is removed from a kidney after it was lost",
        rows=f"{OF_OPERATION} JOIN renal_unit u ON u.id = t.renal_unit_id WHERE u.lost_on IS NOT NULL "
        "AND t.intent = 'stone_removal'",
        needs=f"o.operated_on > {last('u.lost_on')} OR o.operated_on <= u.lost_on",
        broken=f"o.operated_on > {last('u.lost_on')}",
        why="The kidney was lost {days} days before.",
        shows={"days": f"days({last('u.lost_on')}, o.operated_on)"},
    ),
    ClinicalRule(
        id="treated_side.exit_strategy.drain_placed",
        table="treated_side",
        fields=("exit_strategy",),
        severity=QUESTION,
        sentence="where drainage is recorded as placed in the operation, it is not 'none' at the end",
        rows="FROM treated_side t JOIN (SELECT operation_id, renal_unit_id, count(*) AS drains "
        "FROM drain GROUP BY ALL) d "
        "ON d.operation_id = t.operation_id AND d.renal_unit_id = t.renal_unit_id",
        needs="t.exit_strategy IS NOT NULL",
        broken="t.exit_strategy = 'none'",
        why="No drainage is said to be left, and {drains} is recorded as placed in the operation.",
        shows={"drains": "d.drains"},
    ),
    ClinicalRule(
        id="treated_side.wall_injury.sheath_used",
        table="treated_side",
        fields=("wall_injury",),
        severity=QUESTION,
        sentence="an injury by a sheath is graded where a sheath was used",
        rows="FROM treated_side t LEFT JOIN LATERAL (SELECT count(*) AS uses, count(*) FILTER "
        "(WHERE m.kind = 'access_sheath') AS sheaths FROM equipment_use q JOIN equipment_model m "
        "ON m.id = q.equipment_model_id WHERE q.treated_side_id = t.id) q ON true WHERE t.wall_injury IS NOT NULL",
        needs="q.uses > 0",
        broken="t.wall_injury <> '0' AND q.sheaths = 0",
        why="Grade {grade} is given, and no access sheath is among the equipment used.",
        shows={"grade": "t.wall_injury"},
        source="Traxer and Thomas, J Urol 2013;189:580-584 (from memory)",
    ),
    ClinicalRule(
        id="treated_side.sheath_furthest.sheath_used",
        table="treated_side",
        fields=("sheath_furthest",),
        severity=QUESTION,
        sentence="how far a sheath reached is said where a sheath was used",
        rows="FROM treated_side t LEFT JOIN LATERAL (SELECT count(*) AS uses, count(*) FILTER "
        "(WHERE m.kind IN ('access_sheath', 'percutaneous_sheath')) AS sheaths FROM equipment_use q "
        "JOIN equipment_model m ON m.id = q.equipment_model_id WHERE q.treated_side_id = t.id) q ON true "
        "WHERE t.sheath_furthest IS NOT NULL",
        needs="q.uses > 0",
        broken="q.sheaths = 0",
        why="A sheath reached as far as {furthest}, and none is among the equipment used.",
        shows={"furthest": "t.sheath_furthest"},
    ),
)
