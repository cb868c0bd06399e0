"""Infection and kidney function by hand: definitions of Bone 1992, Singer 2016, Vincent 1996, Inker 2021, KDIGO 2012.

Each story is one patient with one operation; the columns named are those of the list of cases.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from tests.golden.outcomes.story_book import Book, day

Set = dict[str, Any]
YES, NO, OPEN = "yes", "no", "not computable"
# SOFA 0: PaO2/FiO2 400, platelets 150, bilirubin 20 umol/L = 1.17 mg/dL, mean pressure 70, coma 15, creatinine 1.199.
WELL: Set = {
    "pao2_fio2_mmhg": 400,
    "platelets_g_l": 150,
    "bilirubin_umol_l": 20,
    "mean_pressure_mmhg": 70,
    "vasopressor": "no",
    "coma_scale": 15,
    "creatinine_umol_l": 106,
    "ventilated": "no",
}
CALM: Set = {"temperature_c": 37.0, "heart_rate_min": 80, "respiratory_rate_min": 16, "white_cells_g_l": 8}


@dataclass(frozen=True)
class Story:
    """sets: days after the operation and what was measured. said: what the list of cases has to hold, by column.

    infected: a febrile urinary infection with an antibiotic is recorded. reviewed: a contact on day 100.
    """

    ref: str
    sets: tuple[tuple[int, Set], ...]
    said: tuple[tuple[str, str], ...]
    options: tuple[str, ...] = ()
    infected: bool = False
    reviewed: bool = True
    kidney_disease: bool = False
    cultures: tuple[tuple[str, str, float | None], ...] = ()


def story(ref: str, *sets: tuple[int, Set], said: dict[str, str], **more: Any) -> Story:
    return Story(ref, sets, tuple(said.items()), **more)


FEVER, OVER, FEBRILE = "fever-from-38.0", "fever-over-38.0", "febrile-urinary-infection-culture-5"
SIRS, QSOFA, SEPSIS, SHOCK = "sirs-1992", "qsofa-2016", "sepsis-3-2016", "septic-shock-2016"
STRICT = ("--fever-strict", "yes")
ILL = {**WELL, "platelets_g_l": 90}  # 2 points

STORIES = (
    story("38.0", (1, {"temperature_c": 38.0}), said={FEVER: YES}),
    story("38.0-strict", (1, {"temperature_c": 38.0}), said={OVER: NO}, options=STRICT),
    story("38.1-strict", (1, {"temperature_c": 38.1}), said={OVER: YES}, options=STRICT),
    story("37.9", (1, {"temperature_c": 37.9}), said={FEVER: NO}),
    story("38.4-of-38.5", (1, {"temperature_c": 38.4}), said={"fever-from-38.5": NO}, options=("--fever-c", "38.5")),
    story("day-30-fever", (30, {"temperature_c": 39.0}), said={FEVER: YES}),
    story("day-31-fever", (31, {"temperature_c": 39.0}), said={FEVER: OPEN}),
    story("before-only", (-1, {"temperature_c": 39.0}), said={FEVER: OPEN}),
    story("nothing", said={FEVER: OPEN, f"{FEVER}_missing": "temperature", SIRS: OPEN, QSOFA: OPEN}),
    # Febrile urinary infection.
    story("10^5", (1, {"temperature_c": 38.5}), cultures=(("urine", "positive", 5.0),), said={FEBRILE: YES}),
    story("10^4", (1, {"temperature_c": 38.5}), cultures=(("urine", "positive", 4.0),), said={FEBRILE: NO}),
    story(
        "10^4-local",
        (1, {"temperature_c": 38.5}),
        cultures=(("urine", "positive", 4.0),),
        said={"febrile-urinary-infection-culture-4": YES},
        options=("--culture-log10", "4"),
    ),
    story("uncounted", (1, {"temperature_c": 38.5}), cultures=(("urine", "positive", None),), said={FEBRILE: OPEN}),
    story("no-culture", (1, {"temperature_c": 38.5}), said={FEBRILE: OPEN}),
    story("no-culture-cool", (1, {"temperature_c": 37.0}), said={FEBRILE: NO}),
    # SIRS: temperature > 38 or < 36, heart rate > 90, breaths > 20 or PaCO2 < 32, white cells > 12 or < 4 or bands.
    story("sirs-2-with-gaps", (1, {"temperature_c": 38.1, "heart_rate_min": 91}), said={SIRS: YES}),
    story(
        "sirs-borders",
        (1, {"temperature_c": 38.0, "heart_rate_min": 90, "respiratory_rate_min": 20, "white_cells_g_l": 12}),
        said={SIRS: NO, "sirs_high": "0"},
    ),
    story(
        "sirs-open",
        (1, {"temperature_c": 37.0, "heart_rate_min": 95}),
        said={SIRS: OPEN, f"{SIRS}_missing": "respiratory rate, white cells"},
    ),
    story("sirs-one-gap", (1, {"temperature_c": 37.0, "heart_rate_min": 80, "white_cells_g_l": 9}), said={SIRS: NO}),
    story("sirs-cold", (1, {"temperature_c": 35.9, "white_cells_g_l": 3.9}), said={SIRS: YES}),
    story(
        "sirs-other-ways",
        (1, {"respiratory_rate_min": 18, "paco2_mmhg": 31, "white_cells_g_l": 8, "bands_percent": 11}),
        said={SIRS: YES},
    ),
    story(
        "sirs-two-days",
        (1, {**CALM, "temperature_c": 38.5}),
        (2, {**CALM, "heart_rate_min": 100}),
        said={SIRS: NO},
    ),
    # qSOFA: breaths >= 22, coma scale < 15, systolic <= 100.
    story("qsofa-borders", (1, {"respiratory_rate_min": 22, "systolic_mmhg": 100}), said={QSOFA: YES}),
    story("qsofa-one", (1, {"respiratory_rate_min": 21, "systolic_mmhg": 100, "coma_scale": 15}), said={QSOFA: NO}),
    story("qsofa-101", (1, {"respiratory_rate_min": 22, "systolic_mmhg": 101, "coma_scale": 15}), said={QSOFA: NO}),
    story("qsofa-open", (1, {"coma_scale": 14}), said={QSOFA: OPEN}),
    story(
        "qsofa-gap",
        (1, {"respiratory_rate_min": 22, "coma_scale": 15}),
        said={QSOFA: OPEN, f"{QSOFA}_missing": "systolic pressure"},
    ),
    # SOFA: 1.2, 2.0, 6.0, 12.0 mg/dL of bilirubin are 20.5, 34.2, 102.6, 205.2 umol/L; 1.2, 2.0, 3.5, 5.0 of creatinine
    # 106.1, 176.8, 309.4, 442.
    story("sofa-0", (1, WELL), said={"sofa_total": "0"}),
    story(
        "sofa-6",
        (1, dict(zip(WELL, (399, 149, 21, 69, "no", 14, 107, "no"), strict=True))),
        said={"sofa_total": "6"},
    ),
    story(
        "sofa-13",
        (1, {**dict(zip(WELL, (299, 99, 35, 60, "yes", 12, 177, "no"), strict=True)), "noradrenaline_ug_kg_min": 0.1}),
        said={"sofa_total": "13", "sofa_circulation_low": "3"},
    ),
    story(
        "sofa-19",
        (
            1,
            {**dict(zip(WELL, (199, 49, 103, 60, "yes", 9, 310, "yes"), strict=True)), "noradrenaline_ug_kg_min": 0.11},
        ),
        said={"sofa_total": "19", "sofa_circulation_low": "4"},
    ),
    story(
        "sofa-24",
        (1, {**dict(zip(WELL, (99, 19, 206, 50, "yes", 5, 443, "yes"), strict=True)), "noradrenaline_ug_kg_min": 0.5}),
        said={"sofa_total": "24"},
    ),
    story("sofa-unsupported", (1, {**WELL, "pao2_fio2_mmhg": 150}), said={"sofa_total": "2"}),
    story("sofa-urine-499", (1, {**WELL, "urine_ml_24h": 499}), said={"sofa_total": "3"}),
    story("sofa-urine-199", (1, {**WELL, "urine_ml_24h": 199}), said={"sofa_total": "4"}),
    story("sofa-pressor", (1, {**WELL, "vasopressor": "yes"}), said={"sofa_low": "2", "sofa_high": "4"}),
    story("sofa-gap", (1, {**WELL, "coma_scale": None}), said={"sofa_total": "", "sofa_low": "0", "sofa_high": "4"}),
    # Sepsis-3: infection and a rise of 2 over the baseline, which is 0 where unknown without earlier trouble.
    story("sepsis-no-baseline", (2, ILL), infected=True, said={SEPSIS: YES, SHOCK: NO}),
    story("sepsis-rise-1", (2, {**WELL, "pao2_fio2_mmhg": 350}), infected=True, said={SEPSIS: NO}),
    story(
        "sepsis-from-1",
        (-5, {"creatinine_umol_l": 110}),
        (2, {**WELL, "creatinine_umol_l": 180}),
        infected=True,
        said={SEPSIS: NO},
    ),
    story(
        "sepsis-ill-kidneys",
        (2, {**WELL, "creatinine_umol_l": 180}),
        infected=True,
        kidney_disease=True,
        said={SEPSIS: OPEN},
    ),
    story("sepsis-no-infection", (2, ILL), said={SEPSIS: NO}),
    story("sepsis-unreviewed", (2, ILL), reviewed=False, said={SEPSIS: OPEN}),
    story("sepsis-one-measured", (2, {"platelets_g_l": 90}), infected=True, said={SEPSIS: YES}),
    story("sepsis-open", (2, {"platelets_g_l": 149}), infected=True, said={SEPSIS: OPEN}),
    story("shock", (2, {**WELL, "vasopressor": "yes", "lactate_mmol_l": 2.1}), infected=True, said={SHOCK: YES}),
    story("shock-2.0", (2, {**WELL, "vasopressor": "yes", "lactate_mmol_l": 2.0}), infected=True, said={SHOCK: NO}),
    story("shock-no-lactate", (2, {**WELL, "vasopressor": "yes"}), infected=True, said={SHOCK: OPEN}),
)


def write(book: Book) -> None:
    for one in STORIES:
        person = book.person(one.ref)
        operation = person.operation(chronic_kidney_disease="yes" if one.kidney_disease else "no")
        for at, measured in one.sets:
            operation.observed(at, **measured)
        for specimen, result, log10 in one.cultures:
            operation.culture(1, specimen, result, log10)
        if one.infected:
            operation.complication("febrile_urinary_infection", 2, "antibiotic")
        if one.reviewed:
            person.contact(day(100))


@dataclass(frozen=True)
class Kidney:
    """One operation in a year of its own, so that `--by year` shows it alone. values: creatinine, umol/L, by day."""

    year: int
    why: str
    values: tuple[tuple[int, float], ...]
    stage: int | None = None
    before: float | None = None
    change: float | None = None
    person: tuple[tuple[str, Any], ...] = (("sex", "male"),)
    operation: tuple[tuple[str, Any], ...] = (("age_years", 50),)
    dialysis: bool = False


STEADY = ((-5, 88.4), (30, 88.4))  # 1.0 mg/dL
KIDNEYS = (
    Kidney(2001, "1.49 times, no rise within two days", ((-5, 80), (3, 119)), stage=0),
    Kidney(2002, "1.5 times", ((-5, 80), (3, 120)), stage=1),
    Kidney(2003, "2.0 times", ((-5, 80), (3, 160)), stage=2),
    Kidney(2004, "3.0 times", ((-5, 80), (3, 240)), stage=3),
    Kidney(2005, "4.0 mg/dL with a rise of 0.38 in a day", ((-5, 300), (1, 320), (2, 354)), stage=3),
    Kidney(2006, "4.0 mg/dL without a rise that counts", ((-5, 340), (2, 354)), stage=0),
    Kidney(2007, "0.305 mg/dL within two days", ((-1, 80), (1, 107)), stage=1),
    Kidney(2008, "0.294 mg/dL is too little", ((-1, 80), (1, 106)), stage=0),
    Kidney(2009, "no baseline", ((3, 120),)),
    Kidney(2010, "nothing within 7 days", ((-5, 80), (8, 240))),
    Kidney(2011, "dialysis", ((-5, 80),), stage=3, dialysis=True),
    Kidney(2012, "a man of 50", STEADY, before=91.7, change=0),
    Kidney(2013, "a woman of 50", STEADY, before=68.6, change=0, person=(("sex", "female"),)),
    Kidney(2014, "a child", STEADY, operation=(("age_years", 17),)),
    Kidney(
        2015,
        "pregnant",
        STEADY,
        person=(("sex", "female"),),
        operation=(("age_years", 30), ("gestation_weeks", 20)),
    ),
    Kidney(2016, "no third sex in the equation", STEADY, person=(("sex", "other"),)),
    Kidney(2017, "age not recorded", STEADY, operation=()),
    Kidney(
        2018,
        "doubled after: 142 x (2/0.9)^-1.2 x 0.9938^50 = 39.9",
        ((-5, 88.4), (30, 176.8)),
        before=91.7,
        change=-51.8,
    ),
)


def write_kidneys(book: Book) -> None:
    for one in KIDNEYS:
        on = dt.date(one.year, 3, 1)
        person = book.person(f"kidney {one.year}", **dict(one.person))
        operation = person.operation(on, **dict(one.operation))
        for at, value in one.values:
            operation.observed(at, creatinine_umol_l=value)
        if one.dialysis:
            operation.complication("acute_kidney_injury", 3, "dialysis", organs_failing=1)
        person.contact(day(100, on))
