"""Rules of examinations, readings and fragments."""

from __future__ import annotations

from registry.validation.clinical.dates import decided, decided_after, last
from registry.validation.clinical.rule import ERROR, QUESTION, ClinicalRule

IN_KIDNEY = (
    "('upper_calyx', 'middle_calyx', 'lower_calyx', 'pelvis', 'junction', 'diverticulum', 'partial_staghorn', "
    "'complete_staghorn', 'not_said')"
)
LONGEST_GAP_DAYS = 3 * 365

IMAGING = (
    ClinicalRule(
        id="examination.examined_on.follow_up_after_operation",
        table="examination",
        fields=("examined_on", "purpose"),
        severity=ERROR,
        sentence="a follow-up examination comes no earlier than the patient's first operation, unless a side was "
        "operated on before the registry",
        rows="FROM examination t LEFT JOIN (SELECT patient_id, min(operated_on) AS first FROM "
        "operation GROUP BY ALL) o "
        "ON o.patient_id = t.patient_id WHERE t.purpose = 'follow_up' AND t.not_done IS NULL AND NOT EXISTS (SELECT 1 "
        "FROM renal_unit u WHERE u.patient_id = t.patient_id AND u.prior_stone_surgery = 'yes')",
        needs=f"o.first IS NOT NULL AND {decided('t.examined_on', 'o.first')}",
        broken=f"{last('t.examined_on')} < o.first",
        why="The follow-up lies {days} days before the patient's first operation.",
        shows={"days": f"days({last('t.examined_on')}, o.first)"},
    ),
    ClinicalRule(
        id="examination.examined_on.done_not_ahead",
        table="examination",
        fields=("examined_on", "not_done"),
        severity=ERROR,
        sentence="an examination that lies ahead is not done yet: it says why it is not done (pending)",
        rows="FROM examination t WHERE t.not_done IS NULL",
        needs=decided_after("t.examined_on", "current_date"),
        broken="t.examined_on > current_date",
        why="The examination counts as done and lies {days} days ahead.",
        shows={"days": "days(current_date, t.examined_on)"},
    ),
    ClinicalRule(
        id="examination.examined_on.first_scan_late",
        table="examination",
        fields=("examined_on",),
        severity=QUESTION,
        sentence="the first follow-up examination after an operation comes within three years",
        rows="FROM examination t LEFT JOIN LATERAL (SELECT max(o.operated_on) AS before FROM operation o "
        "WHERE o.patient_id = t.patient_id AND o.operated_on <= t.examined_on) o ON true "
        "WHERE t.purpose = 'follow_up' AND t.not_done IS NULL AND NOT EXISTS (SELECT 1 FROM examination e "
        "WHERE e.patient_id = t.patient_id AND e.id <> t.id AND e.not_done IS NULL "
        "AND e.examined_on > o.before AND e.examined_on < t.examined_on)",
        needs="o.before IS NOT NULL",
        broken=f"days(o.before, t.examined_on) > {LONGEST_GAP_DAYS}",
        why="{days} days lie between the operation and the first examination after it: is the year right?",
        shows={"days": "days(o.before, t.examined_on)"},
    ),
    ClinicalRule(
        id="examination.slice_mm.ct_only",
        table="examination",
        fields=("slice_mm", "modality"),
        severity=ERROR,
        sentence="only a CT has a slice thickness",
        rows="FROM examination t WHERE t.not_done IS NULL AND (t.slice_mm IS NOT NULL OR t.modality = 'ct')",
        needs="t.slice_mm IS NOT NULL",
        broken="t.modality <> 'ct'",
        why="An examination of the kind {modality} has a slice thickness of {slice} mm.",
        shows={"modality": "t.modality", "slice": "t.slice_mm"},
    ),
    ClinicalRule(
        id="reading.finding.not_done",
        table="reading",
        fields=("finding",),
        severity=ERROR,
        sentence="an examination that was not done has no finding",
        rows="FROM reading t JOIN examination e ON e.id = t.examination_id",
        needs="t.finding IS NOT NULL OR e.not_done IS NULL",
        broken="e.not_done IS NOT NULL",
        why="The examination was not done ({reason}), and has a finding.",
        shows={"reason": "e.not_done"},
    ),
    ClinicalRule(
        id="reading.renal_unit_id.side_treated",
        table="reading",
        fields=("renal_unit_id",),
        severity=QUESTION,
        sentence="a follow-up examination reads the side that was treated",
        rows="FROM reading t JOIN examination e ON e.id = t.examination_id AND e.purpose = 'follow_up' "
        "LEFT JOIN LATERAL (SELECT count(*) AS sides, count(*) FILTER (WHERE s.renal_unit_id = "
        "t.renal_unit_id OR EXISTS "
        "(SELECT 1 FROM reading r WHERE r.examination_id = t.examination_id AND r.renal_unit_id = s.renal_unit_id)) "
        "AS read FROM operation o JOIN treated_side s ON s.operation_id = o.id WHERE o.patient_id = e.patient_id "
        "AND o.operated_on <= latest(e.examined_on, e.examined_on_precision)) s ON true",
        needs="s.sides > 0",
        broken="s.read = 0",
        why="The renal unit that was read was never treated before, and none that was treated was read: was the wrong "
        "side entered?",
    ),
    ClinicalRule(
        id="reading.finding.none_seen",
        table="reading",
        fields=("finding",),
        severity=ERROR,
        sentence="where fragments are recorded, the finding is not that none were seen",
        rows="FROM reading t JOIN (SELECT reading_id, count(*) AS fragments FROM fragment "
        "WHERE origin IS DISTINCT FROM 'no_stone' GROUP BY ALL) f ON f.reading_id = t.id",
        needs="t.finding IS NOT NULL",
        broken="t.finding = 'none_seen'",
        why="The reading says that none were seen, and lists {fragments}.",
        shows={"fragments": "f.fragments"},
    ),
    ClinicalRule(
        id="reading.finding.fragments_listed",
        table="reading",
        fields=("finding",),
        severity=QUESTION,
        sentence="where fragments were seen, each is recorded, without a size if none was given",
        rows="FROM reading t JOIN examination e ON e.id = t.examination_id AND e.purpose IS DISTINCT FROM 'diagnosis' "
        "AND e.not_done IS NULL WHERE NOT EXISTS (SELECT 1 FROM fragment f WHERE f.reading_id = t.id)",
        needs="t.finding IS NOT NULL",
        broken="t.finding = 'fragments'",
        why="Fragments were seen, and none is recorded.",
    ),
    ClinicalRule(
        id="reading.every_calyx_seen.second_look_only",
        table="reading",
        fields=("every_calyx_seen",),
        severity=ERROR,
        sentence="whether every calyx was seen is said of an endoscopic second look only",
        rows="FROM reading t JOIN examination e ON e.id = t.examination_id "
        "WHERE t.every_calyx_seen IS NOT NULL OR (e.modality = 'second_look' AND e.not_done IS NULL)",
        needs="t.every_calyx_seen IS NOT NULL",
        broken="e.modality <> 'second_look'",
        why="The examination is of the kind {modality}.",
        shows={"modality": "e.modality"},
    ),
    ClinicalRule(
        id="fragment.diameter_high_mm.above_zero",
        table="fragment",
        fields=("diameter_high_mm", "diameter_low_mm"),
        severity=ERROR,
        sentence="a fragment has a size; where none was given both diameters are blank",
        rows="FROM fragment t",
        needs="t.diameter_high_mm IS NOT NULL",
        broken="t.diameter_high_mm = 0",
        why="The fragment is 0 mm long: a zero in place of a missing size, or no fragment.",
    ),
    ClinicalRule(
        id="fragment.diameter_low_mm.within_stone",
        table="fragment",
        fields=("diameter_low_mm",),
        severity=QUESTION,
        sentence="a fragment is no larger than the largest stone that was treated on that side",
        rows="FROM fragment t JOIN reading r ON r.id = t.reading_id JOIN examination e ON e.id = r.examination_id "
        "JOIN (SELECT c.renal_unit_id, max(s.length_mm) AS largest, count(*) - count(s.length_mm) AS unknown "
        "FROM stone s JOIN course c ON c.id = s.course_id GROUP BY ALL) s ON s.renal_unit_id = r.renal_unit_id "
        "WHERE e.purpose IS DISTINCT FROM 'diagnosis' AND (t.origin IS NULL OR t.origin IN ('stone', 'not_said'))",
        needs="t.diameter_low_mm IS NOT NULL AND s.unknown = 0",
        broken="t.diameter_low_mm > s.largest",
        why="The fragment is {size} mm long, the largest stone {largest} mm.",
        shows={"size": "t.diameter_low_mm", "largest": "s.largest"},
    ),
    ClinicalRule(
        id="fragment.location.kidney_there",
        table="fragment",
        fields=("location",),
        severity=ERROR,
        sentence="nothing is seen in a kidney after it was removed",
        rows="FROM fragment t JOIN reading r ON r.id = t.reading_id JOIN examination e ON e.id = r.examination_id "
        "JOIN renal_unit u ON u.id = r.renal_unit_id WHERE u.lost_on IS NOT NULL",
        needs="t.location IS NOT NULL AND u.loss_reason IS NOT NULL "
        f"AND {decided_after('e.examined_on', last('u.lost_on'))}",
        broken=f"u.loss_reason IN ('nephrectomy', 'graft_loss') AND t.location IN {IN_KIDNEY} "
        f"AND e.examined_on > {last('u.lost_on')}",
        why="The kidney was lost {days} days before the examination.",
        shows={"days": f"days({last('u.lost_on')}, e.examined_on)"},
    ),
)
