"""Rules of patients, their lives and their stays."""

from __future__ import annotations

from registry.validation.clinical.dates import decided, last
from registry.validation.clinical.rule import ERROR, QUESTION, ClinicalRule

DEATH = last("p.died_on")
BODY_MASS = "(t.weight_kg / pow(t.height_cm / 100, 2))"
SWAPPED = "(t.height_cm / pow(t.weight_kg / 100, 2))"
# What a small child may weigh and measure is left to the plausible ranges of the fields.
ADULT = "coalesce(t.age_years, 40) >= 16"


def _after_death(table: str, column: str, what: str, more: str = "true") -> ClinicalRule:
    """Something that happens to the living has a day after the patient's death."""
    return ClinicalRule(
        id=f"{table}.{column}.after_death",
        table=table,
        fields=(column,),
        severity=ERROR,
        sentence=f"{what} comes no later than the patient's death",
        rows=f"FROM {table} t LEFT JOIN patient p ON p.id = t.patient_id WHERE p.died_on IS NOT NULL AND {more}",
        needs=f"t.{column} > {DEATH} OR t.{column} <= p.died_on OR coalesce(p.died_on_precision, 'day') = 'day'",
        broken=f"t.{column} > {DEATH}",
        why="It lies {days} days after the patient's death.",
        shows={"days": f"days({DEATH}, t.{column})"},
    )


PEOPLE = (
    _after_death("operation", "operated_on", "an operation"),
    _after_death("examination", "examined_on", "an examination", "t.not_done IS NULL"),
    _after_death("observation_set", "observed_on", "a set of observations"),
    _after_death("admission", "admitted_on", "a stay in hospital"),
    ClinicalRule(
        id="patient.last_known_alive_on.before_death",
        table="patient",
        fields=("last_known_alive_on", "died_on"),
        severity=ERROR,
        sentence="a patient is known to be alive no later than the day of death",
        rows="FROM patient t WHERE t.last_known_alive_on IS NOT NULL AND t.died_on IS NOT NULL",
        needs=f"t.last_known_alive_on > {last('t.died_on')} OR {last('t.last_known_alive_on')} <= t.died_on",
        broken=f"t.last_known_alive_on > {last('t.died_on')}",
        why="The patient was known to be alive {days} days after the day of death.",
        shows={"days": f"days({last('t.died_on')}, t.last_known_alive_on)"},
    ),
    ClinicalRule(
        id="operation.age_years.birth_year",
        table="operation",
        fields=("age_years",),
        severity=ERROR,
        sentence="the age agrees with the year of birth",
        rows="FROM operation t LEFT JOIN patient p ON p.id = t.patient_id",
        needs="t.age_years IS NOT NULL AND p.birth_year IS NOT NULL",
        broken="year(t.operated_on) - p.birth_year - t.age_years NOT IN (0, 1)",
        why="The age is {off} years off the year of birth.",
        shows={"off": "abs(year(t.operated_on) - p.birth_year - t.age_years)"},
    ),
    ClinicalRule(
        id="operation.operated_on.after_birth",
        table="operation",
        fields=("operated_on",),
        severity=ERROR,
        sentence="an operation comes after the patient's birth",
        rows="FROM operation t LEFT JOIN patient p ON p.id = t.patient_id",
        needs="p.birth_year IS NOT NULL",
        broken="year(t.operated_on) < p.birth_year",
        why="The operation is dated {years} years before the year of birth.",
        shows={"years": "p.birth_year - year(t.operated_on)"},
    ),
    ClinicalRule(
        id="operation.gestation_weeks.sex",
        table="operation",
        fields=("gestation_weeks",),
        severity=ERROR,
        sentence="a man has no weeks of gestation",
        rows="FROM operation t LEFT JOIN patient p ON p.id = t.patient_id WHERE t.gestation_weeks IS NOT NULL",
        needs="p.sex IS NOT NULL",
        broken="p.sex = 'male'",
        why="Weeks of gestation are given, and the patient is male.",
    ),
    ClinicalRule(
        id="operation.height_cm.swapped_with_weight",
        table="operation",
        fields=("height_cm", "weight_kg"),
        severity=QUESTION,
        sentence="height and weight stand each in its own field",
        rows="FROM operation t",
        needs="t.height_cm IS NOT NULL AND t.weight_kg IS NOT NULL",
        broken=f"{ADULT} AND {BODY_MASS} > 80 AND {SWAPPED} BETWEEN 12 AND 70",
        why="{height} cm and {weight} kg: swapped?",
        shows={"height": "t.height_cm", "weight": "t.weight_kg"},
    ),
    ClinicalRule(
        id="operation.weight_kg.body_mass",
        table="operation",
        fields=("weight_kg", "height_cm"),
        severity=QUESTION,
        sentence="an adult's body mass index is 12 to 80 kg/m2",
        rows="FROM operation t",
        needs=f"t.height_cm IS NOT NULL AND t.weight_kg IS NOT NULL AND {ADULT}",
        broken=f"{BODY_MASS} NOT BETWEEN 12 AND 80 AND NOT ({SWAPPED} BETWEEN 12 AND 70)",
        why="{height} cm and {weight} kg make {index} kg/m2: pounds, or inches?",
        shows={"height": "t.height_cm", "weight": "t.weight_kg", "index": f"round({BODY_MASS}, 1)"},
    ),
    ClinicalRule(
        id="operation.asa_class.urgency",
        table="operation",
        fields=("asa_class", "urgency"),
        severity=QUESTION,
        sentence="a moribund patient is not operated on electively",
        rows="FROM operation t",
        needs="t.asa_class IS NOT NULL AND t.urgency IS NOT NULL",
        broken="t.asa_class = '5' AND t.urgency = 'elective'",
        why="ASA class V, and elective.",
        source="American Society of Anesthesiologists physical status classification",
    ),
    ClinicalRule(
        id="operation.anticoagulant_handling.none",
        table="operation",
        fields=("anticoagulant_handling", "anticoagulant"),
        severity=ERROR,
        sentence="where the patient takes no drug against clotting, nothing was done about it",
        rows="FROM operation t WHERE t.anticoagulant_handling IS NOT NULL",
        needs="t.anticoagulant IS NOT NULL",
        broken="t.anticoagulant = 'none'",
        why="No drug is taken, and it was {handling}.",
        shows={"handling": "t.anticoagulant_handling"},
    ),
    ClinicalRule(
        id="operation.admission_id.within_stay",
        table="operation",
        fields=("admission_id", "operated_on"),
        severity=ERROR,
        sentence="an operation lies within its stay",
        rows="FROM operation t LEFT JOIN admission a ON a.id = t.admission_id",
        needs="a.admitted_on IS NOT NULL AND (t.operated_on < a.admitted_on OR a.discharged_on IS NOT NULL)",
        broken="t.operated_on < a.admitted_on OR t.operated_on > a.discharged_on",
        why="The operation lies {days} days outside its stay.",
        shows={
            "days": "CASE WHEN t.operated_on < a.admitted_on THEN days(t.operated_on, a.admitted_on) "
            "ELSE days(a.discharged_on, t.operated_on) END"
        },
    ),
    ClinicalRule(
        id="admission.discharged_on.after_admitted",
        table="admission",
        fields=("discharged_on", "admitted_on"),
        severity=ERROR,
        sentence="a patient is discharged no earlier than admitted",
        rows="FROM admission t",
        needs="t.discharged_on IS NOT NULL",
        broken="t.discharged_on < t.admitted_on",
        why="The discharge lies {days} days before the admission.",
        shows={"days": "days(t.discharged_on, t.admitted_on)"},
    ),
    ClinicalRule(
        id="admission.stay_after_operation_h.fits_dates",
        table="admission",
        fields=("stay_after_operation_h", "discharged_on"),
        severity=QUESTION,
        sentence="the hours after the operation agree with the days from the last operation to discharge",
        rows="FROM admission t JOIN (SELECT admission_id, max(operated_on) AS operated FROM operation GROUP BY ALL) o "
        "ON o.admission_id = t.id WHERE t.stay_after_operation_h IS NOT NULL",
        needs="t.discharged_on IS NOT NULL",
        broken="abs(t.stay_after_operation_h / 24 - days(o.operated, t.discharged_on)) > 1",
        why="{hours} hours are given; {days} days lie between the last operation and discharge.",
        shows={"hours": "t.stay_after_operation_h", "days": "days(o.operated, t.discharged_on)"},
    ),
    ClinicalRule(
        id="contact.complications_known_to.up_to_contact",
        table="contact",
        fields=("complications_known_to", "stone_events_known_to"),
        severity=ERROR,
        sentence="what had happened is known up to the day of the contact at most",
        rows="FROM contact t",
        needs="t.complications_known_to IS NOT NULL OR t.stone_events_known_to IS NOT NULL",
        broken="greatest(t.complications_known_to, t.stone_events_known_to) > t.contacted_on",
        why="It is said to be known up to {days} days after the contact.",
        shows={"days": "days(t.contacted_on, greatest(t.complications_known_to, t.stone_events_known_to))"},
    ),
    ClinicalRule(
        id="later_entry.occurred_on.after_operation",
        table="later_entry",
        fields=("occurred_on",),
        severity=QUESTION,
        sentence="what happened after discharge happened after the patient's first operation",
        rows="FROM later_entry t LEFT JOIN (SELECT patient_id, min(operated_on) AS first FROM "
        "operation GROUP BY ALL) o "
        "ON o.patient_id = t.patient_id",
        needs=f"o.first IS NOT NULL AND {decided('t.occurred_on', 'o.first')}",
        broken=f"{last('t.occurred_on')} < o.first",
        why="It lies {days} days before the patient's first operation.",
        shows={"days": f"days({last('t.occurred_on')}, o.first)"},
    ),
    ClinicalRule(
        id="later_entry.what.kidney_lost",
        table="later_entry",
        fields=("what",),
        severity=QUESTION,
        sentence="a kidney whose loss is recorded has the day it was lost",
        rows="FROM later_entry t LEFT JOIN renal_unit u ON u.id = t.renal_unit_id WHERE t.what = 'loss_of_kidney'",
        needs="u.id IS NOT NULL",
        broken="u.lost_on IS NULL",
        why="The loss of a kidney is recorded, and the renal unit counts as there.",
    ),
    ClinicalRule(
        id="renal_unit.solitary.other_treated",
        table="renal_unit",
        fields=("solitary",),
        severity=QUESTION,
        sentence="a patient with a solitary kidney has no stone removed from the other one",
        rows="FROM renal_unit t JOIN (SELECT u.patient_id, list(u.id) AS units FROM renal_unit u "
        "WHERE u.lost_on IS NULL "
        "AND EXISTS (SELECT 1 FROM treated_side s WHERE s.renal_unit_id = u.id AND s.intent = 'stone_removal') "
        "GROUP BY ALL) u ON u.patient_id = t.patient_id WHERE t.unit <> 'transplant'",
        needs="t.solitary IS NOT NULL",
        broken="t.solitary = 'yes' AND len(list_filter(u.units, lambda unit: unit <> t.id)) > 0",
        why="The kidney is solitary, and another of this patient was treated.",
    ),
)
