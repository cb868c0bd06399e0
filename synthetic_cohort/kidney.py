"""Filtration rate and creatinine of an adult, both ways.

Source: Inker et al., N Engl J Med 2021;385:1737-1749 (from memory), 1 mg/dL being 88.4 umol/L.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

UMOL_L_IN_MG_DL = 88.4


def filtration_rate(creatinine_umol_l: float, age: float, female: bool) -> float:
    """mL/min/1.73 m2 from creatinine in umol/L, age in years and sex."""
    kappa, alpha = (0.7, -0.241) if female else (0.9, -0.302)
    ratio = creatinine_umol_l / UMOL_L_IN_MG_DL / kappa
    rate: float = _level(age, female) * (ratio**alpha if ratio < 1 else ratio**-1.2)
    return rate


def creatinine_umol_l(rate: float, age: float, female: bool) -> float:
    """Creatinine in umol/L that ``filtration_rate`` turns into ``rate``."""
    kappa, alpha = (0.7, -0.241) if female else (0.9, -0.302)
    level = _level(age, female)
    # The curve falls throughout and bends where creatinine is kappa.
    ratio: float = (rate / level) ** (1 / (alpha if rate > level else -1.2))
    return ratio * kappa * UMOL_L_IN_MG_DL


def bend(age: NDArray[Any], female: NDArray[np.bool_]) -> NDArray[np.float64]:
    """The rate at which the curve bends: 0.7 mg/dL in women, 0.9 in men. Above it creatinine falls steeply."""
    rates: NDArray[np.float64] = 142 * 0.9938**age * np.where(female, 1.012, 1.0)
    return rates


def _level(age: float, female: bool) -> float:
    level: float = 142 * 0.9938**age * (1.012 if female else 1.0)
    return level
