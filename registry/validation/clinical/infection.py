"""Rules of cultures, prophylaxis and observations."""

from __future__ import annotations

from registry.validation.clinical.rule import ERROR, QUESTION, ClinicalRule

OF_OPERATION = "LEFT JOIN operation o ON o.id = t.operation_id"


def _timing(day: str) -> str:
    """What is said of before and after contradicts the dates."""
    return (
        f"(t.timing = 'before' AND {day} > o.operated_on) OR (t.timing = 'after' AND {day} < o.operated_on) "
        f"OR (t.timing = 'during' AND abs(days({day}, o.operated_on)) > 1)"
    )


# Filtration rate of an adult from creatinine in umol/L, age and sex.
KAPPA = "(CASE p.sex WHEN 'female' THEN 61.9 ELSE 79.6 END)"
ALPHA = "(CASE p.sex WHEN 'female' THEN -0.241 ELSE -0.302 END)"
AGE = "(year(t.observed_on) - p.birth_year)"
RATE = (
    f"(142 * pow(least(t.creatinine_umol_l / {KAPPA}, 1), {ALPHA}) * "
    f"pow(greatest(t.creatinine_umol_l / {KAPPA}, 1), -1.2) "
    f"* pow(0.9938, {AGE}) * CASE p.sex WHEN 'female' THEN 1.012 ELSE 1 END)"
)
HIGHEST_RISE_G_L = 40

INFECTION = (
    ClinicalRule(
        id="culture.timing.fits_date",
        table="culture",
        fields=("timing", "taken_on"),
        severity=ERROR,
        sentence="before or after the operation agrees with the dates",
        rows=f"FROM culture t {OF_OPERATION} WHERE t.operation_id IS NOT NULL",
        needs="t.timing IS NOT NULL AND o.operated_on IS NOT NULL",
        broken=_timing("t.taken_on"),
        why="The culture is said to be {timing} the operation; by its dates it lies {days} days from it the other way.",
        shows={"timing": "t.timing", "days": "abs(days(t.taken_on, o.operated_on))"},
    ),
    ClinicalRule(
        id="observation_set.timing.fits_date",
        table="observation_set",
        fields=("timing", "observed_on"),
        severity=ERROR,
        sentence="before or after the operation agrees with the dates",
        rows=f"FROM observation_set t {OF_OPERATION} WHERE t.operation_id IS NOT NULL",
        needs="t.timing IS NOT NULL AND o.operated_on IS NOT NULL",
        broken=_timing("t.observed_on"),
        why="The set is said to be {timing} the operation; by its dates it lies {days} days from it the other way.",
        shows={"timing": "t.timing", "days": "abs(days(t.observed_on, o.operated_on))"},
    ),
    ClinicalRule(
        id="culture.treated_since.after_taken",
        table="culture",
        fields=("treated_since", "taken_on"),
        severity=QUESTION,
        sentence="a culture is taken before the treatment that it leads to",
        rows="FROM culture t WHERE t.treated_since IS NOT NULL OR t.treated_with <> 'none'",
        needs="t.treated_since IS NOT NULL",
        broken="t.treated_since < t.taken_on",
        why="Treatment began {days} days before the culture was taken.",
        shows={"days": "days(t.treated_since, t.taken_on)"},
    ),
    ClinicalRule(
        id="culture.result.organisms",
        table="culture",
        fields=("result",),
        severity=ERROR,
        sentence="a culture in which organisms grew is not negative",
        rows="FROM culture t JOIN (SELECT culture_id, count(*) AS organisms FROM culture_organism GROUP BY ALL) g "
        "ON g.culture_id = t.id",
        needs="t.result IS NOT NULL",
        broken="t.result = 'negative'",
        why="The culture is negative, and {organisms} is recorded as grown.",
        shows={"organisms": "g.organisms"},
    ),
    ClinicalRule(
        id="operation.prophylaxis.positive_culture",
        table="operation",
        fields=("prophylaxis",),
        severity=QUESTION,
        sentence="after a positive culture of urine in the month before, antibiotic is given",
        rows="FROM operation t JOIN (SELECT o.id, max(c.taken_on) AS taken_on FROM operation o JOIN culture c "
        "ON c.patient_id = o.patient_id AND c.result = 'positive' AND c.specimen IN ('urine', 'pelvic_urine') "
        "AND c.taken_on < o.operated_on AND days(c.taken_on, o.operated_on) <= 30 GROUP BY ALL) c ON c.id = t.id",
        needs="t.prophylaxis IS NOT NULL",
        broken="t.prophylaxis = 'none'",
        why="No prophylaxis was given, {days} days after a positive culture.",
        shows={"days": "days(c.taken_on, t.operated_on)"},
    ),
    ClinicalRule(
        id="operation.prophylaxis.none_given",
        table="operation",
        fields=("prophylaxis", "prophylaxis_doses", "prophylaxis_before_min"),
        severity=ERROR,
        sentence="where no prophylaxis was given it has no doses and no time",
        rows="FROM operation t WHERE t.prophylaxis_doses > 0 OR t.prophylaxis_before_min IS NOT NULL",
        needs="t.prophylaxis IS NOT NULL",
        broken="t.prophylaxis = 'none'",
        why="No prophylaxis was given, and its doses or its time are.",
    ),
    ClinicalRule(
        id="observation_set.systolic_mmhg.above_mean",
        table="observation_set",
        fields=("systolic_mmhg", "mean_pressure_mmhg"),
        severity=ERROR,
        sentence="the systolic pressure is above the mean pressure",
        rows="FROM observation_set t WHERE t.systolic_mmhg IS NOT NULL OR t.mean_pressure_mmhg IS NOT NULL",
        needs="t.systolic_mmhg IS NOT NULL AND t.mean_pressure_mmhg IS NOT NULL",
        broken="t.systolic_mmhg < t.mean_pressure_mmhg",
        why="The systolic pressure is {systolic} mmHg, the mean {mean} mmHg: were they swapped?",
        shows={"systolic": "t.systolic_mmhg", "mean": "t.mean_pressure_mmhg"},
    ),
    ClinicalRule(
        id="observation_set.haemoglobin_g_l.rise",
        table="observation_set",
        fields=("haemoglobin_g_l",),
        severity=QUESTION,
        sentence=f"haemoglobin after the operation is no more than {HIGHEST_RISE_G_L} g/L higher than before",
        rows="FROM observation_set t LEFT JOIN (SELECT operation_id, max(haemoglobin_g_l) AS "
        "before FROM observation_set "
        "WHERE timing = 'before' GROUP BY ALL) b ON b.operation_id = t.operation_id WHERE t.timing = 'after'",
        needs="t.haemoglobin_g_l IS NOT NULL AND b.before IS NOT NULL",
        broken=f"t.haemoglobin_g_l > b.before + {HIGHEST_RISE_G_L}",
        why="It was {before} g/L before and {later} g/L after: before and after swapped?",
        shows={"before": "b.before", "later": "t.haemoglobin_g_l"},
    ),
    ClinicalRule(
        id="observation_set.egfr_ml_min.fits_creatinine",
        table="observation_set",
        fields=("egfr_ml_min", "creatinine_umol_l"),
        severity=QUESTION,
        sentence="the reported filtration rate is within half and twice that worked out from creatinine, age and sex",
        rows="FROM observation_set t LEFT JOIN patient p ON p.id = t.patient_id WHERE t.egfr_ml_min IS NOT NULL",
        needs=f"t.creatinine_umol_l > 0 AND p.sex IN ('female', 'male') AND {AGE} >= 18",
        broken=f"t.egfr_ml_min NOT BETWEEN {RATE} / 2 AND {RATE} * 2",
        why="{given} is reported; creatinine makes {rate} mL/min: in other units?",
        shows={"given": "t.egfr_ml_min", "rate": f"round({RATE})"},
        source="Inker et al., N Engl J Med 2021;385:1737-1749 (from memory)",
    ),
    ClinicalRule(
        id="observation_set.noradrenaline_ug_kg_min.vasopressor",
        table="observation_set",
        fields=("noradrenaline_ug_kg_min", "vasopressor"),
        severity=ERROR,
        sentence="a dose of noradrenaline is a vasopressor",
        rows="FROM observation_set t WHERE t.noradrenaline_ug_kg_min > 0",
        needs="t.vasopressor IS NOT NULL",
        broken="t.vasopressor = 'no'",
        why="A dose of {dose} ug/kg/min is given, and no vasopressor.",
        shows={"dose": "t.noradrenaline_ug_kg_min"},
    ),
)
