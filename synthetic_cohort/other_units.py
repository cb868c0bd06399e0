"""Here and there a value typed in another unit, as happens when figures are copied from other systems."""

from __future__ import annotations

import random
from collections.abc import Callable

from synthetic_cohort.story import Rows

SHARE = 0.01

_WAYS: tuple[tuple[str, str, Callable[[float], str]], ...] = (
    ("operation", "height_cm", lambda cm: f"{cm / 100:.2f} m"),
    ("operation", "weight_kg", lambda kg: f"{kg / 0.45359237:.0f} lb"),
    ("stone", "length_mm", lambda mm: f"{mm / 10:g} cm"),
    ("treated_side", "suction_level_kpa", lambda kpa: f"{round(kpa / 0.133322):.0f} mmHg"),
    ("observation_set", "creatinine_umol_l", lambda umol: f"{umol / 88.4:.1f} mg/dL"),
    ("observation_set", "haemoglobin_g_l", lambda g: f"{g / 10:.1f} g/dL"),
    ("observation_set", "temperature_c", lambda c: f"{c * 1.8 + 32:.1f} F"),
    ("treated_side", "pressure_highest_cmh2o", lambda cm: f"{cm / 1.35951:.0f} mmHg"),
)
"""Sheet, heading, and how the value reads in another unit, written after the number."""


def type_otherwise(rows: Rows, chance: random.Random, share: float = SHARE) -> None:
    """Type a share of some measurements in another unit; sizes that a reader compares keep their value exactly."""
    for table, heading, way in _WAYS:
        for row in rows.get(table, []):
            value = row.get(heading)
            if isinstance(value, int | float) and chance.random() < share:
                row[heading] = way(value)
