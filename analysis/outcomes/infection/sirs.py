"""Systemic inflammatory response and the quick organ-failure score, from the worst values of one day."""

from __future__ import annotations

import pandas as pd

from analysis.outcomes.infection.answers import named, number, points, reached
from analysis.outcomes.published import Published

SIRS = Published(
    id="sirs-1992",
    version="1",
    label="SIRS, 2 or more of 4",
    rule=(
        "At least two of: temperature > 38.0 or < 36.0 C; heart rate > 90 /min; respiratory rate > 20 /min or PaCO2 "
        "< 32 mmHg; white cells > 12 or < 4 x 10^9/L or > 10 % bands; all on one calendar day"
    ),
    source="Bone et al., Chest 1992;101:1644-1655",
    assumed=(
        "the respiratory rate and the white count decide their criterion alone where PaCO2 or bands were not measured",
        "the registry holds the highest temperature of a set: it stands for the lowest too",
    ),
)
QSOFA = Published(
    id="qsofa-2016",
    version="1",
    label="qSOFA, 2 or more of 3",
    rule=(
        "One point each: respiratory rate >= 22 /min; coma scale < 15; systolic pressure <= 100 mmHg; positive at 2 "
        "or more on one calendar day. It screens for risk and is no diagnosis"
    ),
    source="Singer et al., JAMA 2016;315:801-810",
)


def sirs(days: pd.DataFrame) -> pd.DataFrame:
    """The four criteria of each day and whether two are met (definition `SIRS`).

    days: the columns of `days.worst_by_day`. Returns, with the same index: temperature, heart_rate, respiration,
    white_cells (boolean, missing where not measured); low and high, the least and most criteria that may be met;
    state (boolean, missing where it may go either way); missing (text); seen, whether any criterion was measured.
    """
    temperature = (number(days["temperature_c"]) > 38.0) | (number(days["temperature_low_c"]) < 36.0)
    heart = number(days["heart_rate_min"]) > 90
    breath = _decided(number(days["respiratory_rate_min"]) > 20, number(days["paco2_mmhg"]) < 32)
    white = (number(days["white_cells_g_l"]) > 12) | (number(days["white_cells_low_g_l"]) < 4)
    white = _decided(white, number(days["bands_percent"]) > 10)
    return _scored(
        {"temperature": temperature, "heart_rate": heart, "respiration": breath, "white_cells": white},
        ("temperature", "heart rate", "respiratory rate", "white cells"),
    )


def qsofa(days: pd.DataFrame) -> pd.DataFrame:
    """The three points of each day and whether two are reached (definition `QSOFA`).

    days, and what is returned, as in `sirs`; the criteria are respiration, coma and pressure.
    """
    return _scored(
        {
            "respiration": number(days["respiratory_rate_min"]) >= 22,
            "coma": number(days["coma_scale"]) < 15,
            "pressure": number(days["systolic_mmhg"]) <= 100,
        },
        ("respiratory rate", "coma scale", "systolic pressure"),
    )


def _decided(first: pd.Series, other: pd.Series) -> pd.Series:
    """A criterion with an alternative: the alternative can meet it, but its absence leaves nothing open."""
    return (first | other).mask(first.notna() & ~first.fillna(False) & other.isna(), False)


def _scored(criteria: dict[str, pd.Series], spoken: tuple[str, ...]) -> pd.DataFrame:
    low, high = points(criteria.values())
    state = reached(low, high, 2)
    missing = named(dict(zip(spoken, (one.isna() for one in criteria.values()), strict=True)))
    seen = pd.concat([one.notna() for one in criteria.values()], axis=1).any(axis=1)
    return pd.DataFrame(
        {**criteria, "low": low, "high": high, "state": state, "missing": missing.where(state.isna(), ""), "seen": seen}
    )
