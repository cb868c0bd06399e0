"""Which definitions stand in the map, and which of them can show a success at all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from analysis.outcomes.adequacy import MODALITIES, is_adequate
from analysis.outcomes.definition import Definition
from analysis.outcomes.thresholds import Threshold

THRESHOLDS = ("0", "lt2", "2", "3", "lt4", "4")
IMAGINGS = ("any", "ct", "us", "kub", "us+kub")
WINDOWS = ("14:60", "14:90", "61:120")
UNITS = (("side", "single"), ("course", "planned"), ("patient", "planned"))
BOUNDED = ("complete", "lower", "upper")
MODELLED = {"weighted": THRESHOLDS, "imputed": ("0", "2", "4")}
"""Ways that fit a model, at which thresholds; asked at the definition asked for alone."""

SWEPT = ("threshold", "imaging", "window", "unit", "sessions", "unscanned")
STUDIES: dict[str, tuple[str, ...]] = {
    "any": MODALITIES,
    "ct": ("ct",),
    "us": ("ultrasound",),
    "kub": ("kub",),
    "us+kub": ("us+kub",),
    "second-look": ("second_look",),
}
"""Kinds of study under each imaging policy."""


@dataclass(frozen=True)
class Combination:
    """One imaging policy, window, unit and sessions; its thresholds are worked out together."""

    imaging: str
    window: str
    unit: str
    sessions: str

    def options(self) -> dict[str, str]:
        """As typed on the command line."""
        return {"imaging": self.imaging, "window": self.window, "unit": self.unit, "sessions": self.sessions}


def combinations() -> Iterator[Combination]:
    """Every combination of the map: by unit, window, imaging."""
    for unit, sessions in UNITS:
        for window in WINDOWS:
            for imaging in IMAGINGS:
                yield Combination(imaging, window, unit, sessions)


def combination_of(definition: Definition) -> Combination:
    """Where a definition stands."""
    first, last = definition.window
    return Combination(definition.imaging, f"{first}:{last}", definition.unit, definition.sessions)


def can_clear(definition: Definition, threshold: Threshold) -> bool:
    """Whether some study of the imaging policy can show that nothing larger than the threshold is there."""
    table = definition.adequacy
    if table.switched_off:
        return True
    kinds = STUDIES[definition.imaging]
    import numpy as np

    lines = np.array([row.from_mm for row in table.rows if row.modality in kinds], dtype=np.float64)
    return bool(is_adequate(lines, threshold).any())
