"""Sets of observations: before operations, on the day after, and creatinine weeks later."""

from __future__ import annotations

import random
from datetime import date, timedelta
from typing import Any

from synthetic_cohort.kidney import creatinine_umol_l
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.story import OperationStory, Row

FOLLOWED_DAYS = (21, 80)
FEVER_C = 38.0


def observations(
    parameters: Parameters, made: OperationStory, chance: random.Random, of: dict[str, Any], person: dict[str, Any]
) -> None:
    """Values before most operations, of the day after infections and some others, creatinine weeks after some.

    Args:
        parameters: shares observed and missing.
        made: the operation.
        chance: a source of its own.
        of: the operation's values in the cohort, with organs (failing by infection) and feverish (without infection).
        person: the patient's.
    """
    p, on = parameters, of["on"]
    female, age = person["female"], of["age"]
    haemoglobin = min(max(chance.gauss(134 if female else 146, 11), 95), 180)
    platelets = max(chance.gauss(250, 45), 155)
    before = of["egfr_before"]
    creatinine = creatinine_umol_l(before, age, female)
    known = chance.random() < p.share_observed_before
    if known:
        values = _well(chance)
        values |= {"haemoglobin_g_l": round(haemoglobin), "platelets_g_l": round(platelets), "coma_scale": 15}
        values |= {"bilirubin_umol_l": round(chance.uniform(5, 17))}
        kept = _some(p, chance, values) | {"creatinine_umol_l": round(creatinine, 1)}
        made.story.observations(on - timedelta(days=chance.randint(1, 10)), made, timing="before", **kept)
    infected = of["infection_known"]
    if infected or of["feverish"] or chance.random() < p.share_observed_after:
        day = max(of["infection_day"], of["feverish_day"], 0) if infected or of["feverish"] else 1
        day = min(max(day, 1), of["days_ahead"] - 1) if of["days_ahead"] > 1 else 0
        values = _well(chance)
        values |= {"haemoglobin_g_l": round(haemoglobin - 4), "coma_scale": 15}
        values |= {"platelets_g_l": round(platelets - 10)}
        values["creatinine_umol_l"] = round(creatinine_umol_l(_after(of), age, female), 1)
        if infected:
            values |= _ill(chance)
            values |= _septic(chance, creatinine, of["organs"]) if of["sepsis"] else {}
        elif of["feverish"]:
            values["temperature_c"] = round(chance.uniform(FEVER_C, 38.8), 1)
        always = ("temperature_c",) if infected or of["feverish"] else ()
        made.story.observations(on + timedelta(days=day), made, timing="after", **_some(p, chance, values, always))
    _weeks_after(p, made, chance, of, female, known)


def _weeks_after(
    parameters: Parameters, made: OperationStory, chance: random.Random, of: dict[str, Any], female: bool, known: bool
) -> None:
    day = chance.randint(*FOLLOWED_DAYS)
    if not known or chance.random() >= parameters.share_kidney_followed or day >= of["days_ahead"]:
        return
    on: date = of["on"] + timedelta(days=day)
    age = of["age"] + on.year - of["on"].year
    rate = _after(of)
    values: Row = {"creatinine_umol_l": round(creatinine_umol_l(rate, age, female), 1)}
    if chance.random() < 0.4:
        values["egfr_ml_min"] = round(rate)
    made.story.observations(on, made, timing="after", **values)


def _after(of: dict[str, Any]) -> float:
    """Filtration after the operation; the days of a sepsis are worse than this."""
    rate: float = max(of["egfr_before"] + of["egfr_change"], 5.0)
    return rate


def _well(chance: random.Random) -> Row:
    systolic = round(min(max(chance.gauss(128, 10), 105), 170))
    return {
        "temperature_c": round(chance.uniform(36.1, 37.5), 1),
        "heart_rate_min": round(min(max(chance.gauss(76, 9), 48), 112)),
        "respiratory_rate_min": round(min(max(chance.gauss(15, 2), 10), 22)),
        "systolic_mmhg": systolic,
        "mean_pressure_mmhg": round(systolic * 0.73),
        "white_cells_g_l": round(min(max(chance.gauss(8.3, 2), 3.2), 14), 1),
    }


def _ill(chance: random.Random) -> Row:
    return {
        "temperature_c": round(chance.uniform(FEVER_C, 39.6), 1),
        "heart_rate_min": round(min(max(chance.gauss(103, 9), 78), 135)),
        "respiratory_rate_min": round(min(max(chance.gauss(18, 2), 13), 26)),
        "white_cells_g_l": round(min(max(chance.gauss(13.5, 2.5), 5), 25), 1),
        "bands_percent": chance.randint(2, 14) if chance.random() < 0.5 else None,
        "c_reactive_protein_mg_l": chance.randint(60, 260),
    }


def _septic(chance: random.Random, creatinine: float, organs: int) -> Row:
    """Values of sepsis: at least two points more of organ dysfunction when all are there; worse in shock."""
    shock = organs > 0
    systolic = chance.randint(78, 92) if shock else chance.randint(92, 104)
    values: Row = {
        "respiratory_rate_min": chance.randint(22, 30),
        "systolic_mmhg": systolic,
        "mean_pressure_mmhg": round(systolic * 0.68),
        "lactate_mmol_l": round(chance.uniform(2.2, 6) if shock else chance.uniform(1.1, 3), 1),
        "platelets_g_l": chance.randint(70, 120) if shock else chance.randint(95, 145),
        "bilirubin_umol_l": chance.randint(14, 40),
        "creatinine_umol_l": round(creatinine * chance.uniform(1.4, 2.4), 1),
        "coma_scale": chance.choice((13, 14, 14, 15)),
        "paco2_mmhg": chance.randint(28, 36),
        "pao2_fio2_mmhg": chance.randint(150, 290) if organs > 1 else chance.randint(260, 420),
        "ventilated": "yes" if organs > 1 else "no",
        "urine_ml_24h": chance.randint(350, 900) if shock else chance.randint(700, 1900),
        "vasopressor": "yes" if shock else "no",
    }
    if shock:
        values["noradrenaline_ug_kg_min"] = round(chance.uniform(0.04, 0.35), 2)
    return values


def _some(parameters: Parameters, chance: random.Random, values: Row, always: tuple[str, ...] = ()) -> Row:
    """The values without those that nobody recorded."""
    lost = parameters.share_value_missing
    return {name: value for name, value in values.items() if name in always or chance.random() >= lost}
