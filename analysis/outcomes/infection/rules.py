"""What a unit may set about infection, and the definitions that follow from it."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.outcomes.published import Published

OTHER_FOCUS = ("pulmonary", "wound")
URINARY_KINDS = ("urinary_infection", "febrile_urinary_infection")
INFECTION_KINDS = (*URINARY_KINDS, "sepsis", "septic_shock")


@dataclass(frozen=True, kw_only=True)
class InfectionRules:
    """Thresholds in force.

    fever_c: degrees Celsius. fever_strict: above it, not from it. culture_log10: log10 of colony-forming units per mL
    from which a culture of urine counts. baseline_days: how long before the operation a value may be the baseline.
    """

    fever_c: float = 38.0
    fever_strict: bool = False
    culture_log10: float = 5.0
    baseline_days: int = 90

    @property
    def fever_word(self) -> str:
        return f"{'>' if self.fever_strict else '>='} {self.fever_c:.1f} C"

    def fever(self) -> Published:
        return Published(
            id=f"fever-{'over' if self.fever_strict else 'from'}-{self.fever_c:.1f}",
            version="1",
            label=f"Fever {self.fever_word}",
            rule=f"Any recorded temperature {self.fever_word}; no when a temperature is recorded and none is",
            source="no single standard: papers use > 38, >= 38 and >= 38.5 C (from memory)",
        )

    def febrile_infection(self) -> Published:
        return Published(
            id=f"febrile-urinary-infection-culture-{self.culture_log10:g}",
            version="1",
            label="Febrile urinary infection, by culture",
            rule=(
                f"Fever {self.fever_word}, a culture of urine after the operation with at least "
                f"10^{self.culture_log10:g} cfu/mL, and no other focus recorded (chest, wound) by who reviewed the case"
            ),
            source="definitions vary; components from memory",
        )

    def febrile_infection_recorded(self) -> Published:
        return Published(
            id=f"febrile-urinary-infection-either-{self.culture_log10:g}",
            version="1",
            label="Febrile urinary infection, either",
            rule=(
                f"Fever {self.fever_word}, and either a culture of urine after the operation with at least "
                f"10^{self.culture_log10:g} cfu/mL or a urinary infection recorded as a complication; no other focus"
            ),
            source="definitions vary; components from memory",
        )


SEPSIS_1991 = Published(
    id="sepsis-1991",
    version="1",
    label="Sepsis of 1991/2001",
    rule="Infection, suspected or documented, and at least two SIRS criteria",
    source=(
        "Bone et al., Chest 1992;101:1644-1655; Levy et al., Crit Care Med 2003;31:1250-1256 (the latter from memory)"
    ),
)
SEPSIS_3 = Published(
    id="sepsis-3-2016",
    version="1",
    label="Sepsis-3 (2016)",
    rule=(
        "Infection, suspected or documented, and SOFA on a day after the operation at least 2 points above its "
        "baseline, the last value of each system in the days before"
    ),
    source="Singer et al., JAMA 2016;315:801-810 (rule of the baseline from memory)",
    assumed=(
        "the baseline of a system that was not measured before is 0, unless chronic kidney disease is recorded and "
        "creatinine is not: then the kidney's baseline is unknown",
    ),
)
SEPTIC_SHOCK = Published(
    id="septic-shock-2016",
    version="1",
    label="Septic shock of 2016",
    rule="Sepsis-3 with a vasopressor and lactate > 2 mmol/L on that day",
    source="Singer et al., JAMA 2016;315:801-810",
    assumed=("the vasopressor kept the mean pressure at 65 mmHg, and fluids had been given: neither is recorded",),
)
INFECTION = Published(
    id="infection-evidence-1",
    version="1",
    label="Infection, suspected or documented",
    rule=(
        "An infection of the urinary tract, sepsis or septic shock recorded as a complication, an antibiotic given to "
        "treat one, or a culture after the operation: blood with growth, others from the count that is set. No "
        "culture taken counts as no growth; no record counts as no infection only once the case was reviewed"
    ),
    source="house rule, no published source",
)
RECORDED = {
    "fever": ("Recorded: fever", ("fever", "febrile_urinary_infection")),
    "urinary_infection": ("Recorded: any urinary infection", URINARY_KINDS),
    "febrile_urinary_infection": ("Recorded: febrile urinary infection", ("febrile_urinary_infection",)),
    "sepsis": ("Recorded: sepsis or shock", ("sepsis", "septic_shock")),
    "septic_shock": ("Recorded: septic shock", ("septic_shock",)),
}
"""Diagnoses that somebody recorded: label, and the kinds of complication that count. Never mixed with computed ones."""
