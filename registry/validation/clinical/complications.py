"""Rules of complications and what was done about them."""

from __future__ import annotations

from registry.validation.clinical.dates import decided, decided_after, last
from registry.validation.clinical.rule import ERROR, QUESTION, ClinicalRule

OF_OPERATION = "FROM complication t LEFT JOIN operation o ON o.id = t.operation_id"
OF_COMPLICATION = "LEFT JOIN complication c ON c.id = t.complication_id LEFT JOIN operation o ON o.id = c.operation_id"

COMPLICATIONS = (
    ClinicalRule(
        id="complication.onset_on.after_operation",
        table="complication",
        fields=("onset_on",),
        severity=ERROR,
        sentence="a complication begins no earlier than its operation",
        rows=OF_OPERATION,
        needs=f"t.onset_on IS NOT NULL AND {decided('t.onset_on', 'o.operated_on')}",
        broken=f"{last('t.onset_on')} < o.operated_on",
        why="The onset lies {days} days before the operation.",
        shows={"days": f"days({last('t.onset_on')}, o.operated_on)"},
    ),
    ClinicalRule(
        id="complication.died_of_it.died",
        table="complication",
        fields=("died_of_it",),
        severity=QUESTION,
        sentence="a patient who died of a complication has a date of death, if only the year",
        rows=f"{OF_OPERATION} LEFT JOIN patient p ON p.id = o.patient_id",
        needs="t.died_of_it IS NOT NULL",
        broken="t.died_of_it = 'yes' AND p.died_on IS NULL",
        why="The patient died of it, and has no date of death.",
    ),
    ClinicalRule(
        id="complication.present_at_discharge.onset",
        table="complication",
        fields=("present_at_discharge", "onset_on"),
        severity=ERROR,
        sentence="what was present at discharge began no later than that day",
        rows=f"{OF_OPERATION} LEFT JOIN admission a ON a.id = o.admission_id WHERE t.present_at_discharge = 'yes'",
        needs=f"t.onset_on IS NOT NULL AND a.discharged_on IS NOT NULL AND "
        f"{decided_after('t.onset_on', 'a.discharged_on')}",
        broken="t.onset_on > a.discharged_on",
        why="It began {days} days after the discharge at which it was present.",
        shows={"days": "days(a.discharged_on, t.onset_on)"},
    ),
    ClinicalRule(
        id="complication.readmission_id.after_operation",
        table="complication",
        fields=("readmission_id",),
        severity=ERROR,
        sentence="a readmission for a complication comes no earlier than the operation",
        rows=f"{OF_OPERATION} LEFT JOIN admission a ON a.id = t.readmission_id",
        needs="a.admitted_on IS NOT NULL AND o.operated_on IS NOT NULL",
        broken="a.admitted_on < o.operated_on",
        why="The readmission lies {days} days before the operation.",
        shows={"days": "days(a.admitted_on, o.operated_on)"},
    ),
    ClinicalRule(
        id="therapy.given_on.after_onset",
        table="therapy",
        fields=("given_on",),
        severity=QUESTION,
        sentence="what is done about a complication is done no earlier than its onset",
        rows=f"FROM therapy t {OF_COMPLICATION}",
        needs="t.given_on IS NOT NULL AND c.onset_on IS NOT NULL "
        "AND (t.given_on < c.onset_on OR t.given_on >= latest(c.onset_on, c.onset_on_precision))",
        broken="t.given_on < c.onset_on",
        why="It was done {days} days before the onset.",
        shows={"days": "days(t.given_on, c.onset_on)"},
    ),
    ClinicalRule(
        id="therapy.given_on.after_operation",
        table="therapy",
        fields=("given_on",),
        severity=ERROR,
        sentence="what is done about a complication is done no earlier than the operation",
        rows=f"FROM therapy t {OF_COMPLICATION}",
        needs="t.given_on IS NOT NULL AND o.operated_on IS NOT NULL",
        broken="t.given_on < o.operated_on",
        why="It was done {days} days before the operation.",
        shows={"days": "days(t.given_on, o.operated_on)"},
    ),
    ClinicalRule(
        id="grading.grade.death",
        table="grading",
        fields=("grade",),
        severity=ERROR,
        sentence="grade V is given where the patient died of the complication, and only there",
        rows="FROM grading t LEFT JOIN complication c ON c.id = t.complication_id",
        needs="c.died_of_it IS NOT NULL",
        broken="(t.grade = 'V') <> (c.died_of_it = 'yes')",
        why="The grade is {grade}; died of it: {died}.",
        shows={"grade": "t.grade", "died": "c.died_of_it"},
        source="Dindo, Demartines, Clavien, Ann Surg 2004;240:205-213",
    ),
)
