"""What each therapy says of the grade of the complication it was given for.

Dindo D, Demartines N, Clavien PA, Ann Surg 2004;240:205-213; five years later Clavien PA et al., Ann Surg
2009;250:187-196.
"""

from __future__ import annotations

from dataclasses import dataclass

from registry.schema.lists_outcome import ClavienDindo, ComplicationKind, TherapyKind

GRADES: tuple[str, ...] = tuple(ClavienDindo.codes())
"""The grades from the mildest to death; grade number 1 is the first, number 0 is no complication."""

I, II, IIIA, IIIB, IVA, IVB, V = range(1, 8)  # noqa: E741

ALLOWED = frozenset(
    {
        TherapyKind.ANTIEMETIC,
        TherapyKind.ANTIPYRETIC,
        TherapyKind.ANALGESIC,
        TherapyKind.DIURETIC,
        TherapyKind.FLUIDS,
        TherapyKind.PHYSIOTHERAPY,
        TherapyKind.BEDSIDE_WOUND,
    }
)
"""What grade I allows."""

DRUGS = frozenset(
    {
        TherapyKind.ANTIBIOTIC,
        TherapyKind.ANTICOAGULANT,
        TherapyKind.VASOPRESSOR,
        TherapyKind.OTHER_DRUG,
        TherapyKind.TRANSFUSION,
        TherapyKind.PARENTERAL_NUTRITION,
    }
)
"""What makes grade II."""

INTERVENTIONS = frozenset(
    {
        TherapyKind.STENT_PLACED,
        TherapyKind.NEPHROSTOMY_PLACED,
        TherapyKind.URETEROSCOPY,
        TherapyKind.CLOT_EVACUATION,
        TherapyKind.EMBOLISATION,
        TherapyKind.DRAINAGE,
        TherapyKind.LAPAROSCOPY,
        TherapyKind.OPEN_SURGERY,
        TherapyKind.OTHER_INTERVENTION,
    }
)
"""What makes grade III, a or b by the anaesthesia."""

CARE = frozenset({TherapyKind.INTENSIVE_CARE, TherapyKind.INTERMEDIATE_CARE})
SUPPORT = frozenset({TherapyKind.VENTILATION, TherapyKind.DIALYSIS})
"""Where a failing organ is looked after, and what does its work."""

INFECTIONS = frozenset(
    {
        ComplicationKind.URINARY_INFECTION,
        ComplicationKind.FEBRILE_URINARY_INFECTION,
        ComplicationKind.SEPSIS,
        ComplicationKind.SEPTIC_SHOCK,
    }
)


@dataclass(frozen=True)
class LocalChoices:
    """What the published text leaves to the unit, printed with every figure.

    catheter: I, II or IIIa for a urethral catheter on the ward (often put at I; some teams II or IIIa).
    alpha_blocker: II (a drug that is not on the allowed list) or I.
    """

    catheter: str = "I"
    alpha_blocker: str = "II"

    def __post_init__(self) -> None:
        for name, allowed in CHOICES.items():
            if getattr(self, name) not in allowed:
                raise ValueError(f"{name} is {getattr(self, name)!r}; it can be {', '.join(allowed)}.")

    def in_words(self) -> str:
        """Both choices, as one sentence."""
        return (
            f"local choices: a urethral catheter on the ward is grade {self.catheter}, an alpha-blocker grade "
            f"{self.alpha_blocker}"
        )


CHOICES: dict[str, tuple[str, ...]] = {"catheter": ("I", "II", "IIIa"), "alpha_blocker": ("II", "I")}
"""What each local choice can be, the default first."""


def number_of(grade: str) -> int:
    """A grade's number, 1 for I to 7 for V. Raises ValueError for what is no grade."""
    return GRADES.index(grade) + 1


def is_intervention(what: str, choices: LocalChoices) -> bool:
    """Whether a therapy is a surgical, endoscopic or radiological intervention, as the unit sees it."""
    return what in INTERVENTIONS or (what == TherapyKind.URETHRAL_CATHETER and choices.catheter == "IIIa")


def drug_level(what: str, choices: LocalChoices) -> int:
    """The grade number of what is no intervention: 1 or 2; care and organ support are at least a deviation, 1."""
    if what == TherapyKind.URETHRAL_CATHETER:
        return number_of(choices.catheter)
    if what == TherapyKind.ALPHA_BLOCKER:
        return number_of(choices.alpha_blocker)
    return II if what in DRUGS else I
