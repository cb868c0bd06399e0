"""The kinds of complication that the invented unit meets: what is done about each, and the grade that follows.

Grades follow from the therapies by Dindo, Demartines, Clavien, Ann Surg 2004;240:205-213: intensive care for
observation alone does not count, intervention under regional anaesthesia or sedation is not general anaesthesia.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from synthetic_cohort.parameters import Parameters

GRADES = ("none", "I", "II", "IIIa", "IIIb", "IVa", "IVb", "V")
"""Grades in order; a complication's grade is a place in this list. ``none`` is no complication."""

NONE, I, II, IIIA, IIIB, IVA, IVB, V = range(8)  # noqa: E741


@dataclass(frozen=True)
class Kind:
    """One kind.

    name: of its parameters, ``share_<name>_scope`` and ``share_<name>_puncture``.
    what: code of the complication.
    therapies: codes, in order.
    anaesthesia: of the intervention among them.
    grade: place in ``GRADES``.
    first_day, last_day: onset, every day alike.
    organs: failing.
    """

    name: str
    what: str
    therapies: tuple[str, ...]
    anaesthesia: str
    grade: int
    first_day: int
    last_day: int
    organs: int = 0


KINDS = (
    Kind("nausea", "other", ("antiemetic",), "none", I, 0, 1),
    Kind("fever", "fever", ("antipyretic",), "none", I, 0, 2),
    Kind("colic", "colic", ("analgesic",), "none", I, 1, 16),
    Kind("retention", "urinary_retention", ("urethral_catheter",), "none", I, 0, 3),
    Kind("haematoma", "haematoma", ("none",), "none", I, 0, 5),
    Kind("kidney_injury", "acute_kidney_injury", ("fluids",), "none", I, 1, 4),
    Kind("stent_symptoms", "stent_symptoms", ("alpha_blocker",), "none", II, 1, 16),
    Kind("late_infection", "urinary_infection", ("antibiotic",), "none", II, 8, 75),
    Kind("transfused", "bleeding", ("transfusion", "fluids"), "none", II, 0, 2),
    Kind("thrombosis", "thrombosis", ("anticoagulant",), "none", II, 2, 25),
    Kind("watched", "cardiac", ("other_drug", "intensive_care"), "none", II, 0, 2),
    Kind("stent_migration", "stent_migration", ("stent_placed",), "local", IIIA, 2, 14),
    Kind("urinoma", "urinoma", ("drainage", "antibiotic"), "local", IIIA, 2, 12),
    Kind("obstruction", "obstruction", ("analgesic", "nephrostomy_placed"), "sedation", IIIA, 3, 20),
    Kind("embolised", "bleeding", ("transfusion", "embolisation"), "local", IIIA, 0, 10),
    Kind("clot", "clot_retention", ("clot_evacuation",), "regional", IIIA, 0, 5),
    Kind("steinstrasse", "steinstrasse", ("analgesic", "ureteroscopy"), "general", IIIB, 3, 40),
    Kind("stented_again", "obstruction", ("stent_placed",), "general", IIIB, 5, 60),
    Kind("ureter_repaired", "ureteric_injury", ("open_surgery",), "general", IIIB, 0, 6),
    Kind("organ_injured", "adjacent_organ", ("laparoscopy", "antibiotic"), "general", IIIB, 0, 3),
    Kind("ventilated", "pulmonary", ("antibiotic", "ventilation", "intensive_care"), "none", IVA, 0, 4, 1),
    Kind("dialysis", "acute_kidney_injury", ("fluids", "dialysis"), "none", IVA, 1, 6, 1),
    Kind("organs_failed", "cardiac", ("vasopressor", "ventilation", "intensive_care"), "none", IVB, 0, 3, 2),
    Kind("died", "pulmonary_embolism", ("anticoagulant", "intensive_care"), "none", V, 1, 20, 1),
    Kind("prophylaxis", "other", ("prolonged_prophylaxis",), "none", NONE, 0, 1),
)
"""Each but the last is a complication; prophylaxis prolonged without an infection is written down and is none."""

INTERVENTIONS = frozenset(
    {
        "stent_placed", "nephrostomy_placed", "ureteroscopy", "clot_evacuation", "embolisation", "drainage",
        "laparoscopy", "open_surgery",
    }
)  # fmt: skip
"""The therapies that are given under the kind's anaesthesia; others need none."""

INFECTION = len(KINDS)
"""The kind's number of an infection, which has its own equation."""

INFECTION_DAYS = (0, 1, 1, 1, 2, 2, 3, 5)
"""Onset of an infection, every entry alike."""

FATAL = next(number for number, kind in enumerate(KINDS) if kind.grade == V)


def base_shares(parameters: Parameters) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Share of each kind (row) after ureteroscopy and after percutaneous surgery (column), average patient."""
    same = {"died": parameters.share_died_of_complication, "prophylaxis": parameters.share_prolonged_prophylaxis}
    return np.array(
        [
            [same[k.name]] * 2
            if k.name in same
            else [getattr(parameters, f"share_{k.name}_{route}") for route in ("scope", "puncture")]
            for k in KINDS
        ]
    )
