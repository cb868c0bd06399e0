"""The score of organ failure, from the worst values of one day. Each system is known exactly, or between limits."""

from __future__ import annotations

import pandas as pd

from analysis.outcomes.infection.answers import named, number
from analysis.outcomes.published import Published

UMOL_PER_MG_DL_CREATININE = 88.4
UMOL_PER_MG_DL_BILIRUBIN = 17.1

SOFA = Published(
    id="sofa-1996",
    version="1",
    label="SOFA",
    rule=(
        "Six systems of 0 to 4 points, the worst of one calendar day: PaO2/FiO2 < 400, < 300, < 200 and < 100 mmHg "
        "(the last two with respiratory support); platelets < 150, < 100, < 50, < 20 x 10^9/L; bilirubin 1.2, 2.0, "
        "6.0, 12.0 mg/dL and over (17.1 umol/L each); mean pressure < 70 mmHg 1, a vasopressor 2 or more, "
        "noradrenaline up to 0.1 ug/kg/min 3, above it 4; coma scale 13-14, 10-12, 6-9, under 6; creatinine 1.2, 2.0, "
        "3.5, 5.0 mg/dL and over (88.4 umol/L each), or urine < 500 mL (3) or < 200 mL a day (4)"
    ),
    source="Vincent et al., Intensive Care Med 1996;22:707-710 (from memory)",
    assumed=(
        "doses of dopamine, dobutamine and adrenaline are not recorded: a vasopressor without a dose of noradrenaline "
        "is 2 to 4 points, never one number; beside a dose of noradrenaline no other one ran at a higher step",
        "a vasopressor was given for at least an hour",
        "creatinine decides its system alone where urine was not measured",
    ),
)

SYSTEMS = {
    "respiration": "PaO2/FiO2",
    "platelets": "platelets",
    "liver": "bilirubin",
    "circulation": "mean pressure or vasopressor",
    "coma": "coma scale",
    "kidney": "creatinine",
}
"""The six systems, and what is missing when they cannot be told."""

Limits = tuple[pd.Series, pd.Series]


def sofa(days: pd.DataFrame) -> pd.DataFrame:
    """Points of each day (definition `SOFA`).

    days: the columns of `days.worst_by_day` (creatinine and bilirubin in umol/L). Returns, with the same index, for
    each of `SYSTEMS` its `_low` and `_high` points (0 and 4 where nothing was measured); low and high, their sums;
    total, missing unless all six are known; missing (text), the systems that are not known exactly; seen, whether any
    system was measured.
    """
    limits = {
        "respiration": _respiration(days),
        "platelets": _falling(days["platelets_g_l"], (150, 100, 50, 20)),
        "liver": _rising(days["bilirubin_umol_l"], UMOL_PER_MG_DL_BILIRUBIN, (1.2, 2.0, 6.0, 12.0)),
        "circulation": _circulation(days),
        "coma": _falling(days["coma_scale"], (15, 13, 10, 6)),
        "kidney": _kidney(days),
    }
    made = {f"{name}_{end}": pair[at] for name, pair in limits.items() for at, end in enumerate(("low", "high"))}
    table = pd.DataFrame(made)
    low = table[[f"{name}_low" for name in SYSTEMS]].sum(axis=1)
    high = table[[f"{name}_high" for name in SYSTEMS]].sum(axis=1)
    open_systems = {said: table[f"{name}_low"] < table[f"{name}_high"] for name, said in SYSTEMS.items()}
    measured = [days[name].notna() for name in MEASURED]
    return table.assign(
        low=low,
        high=high,
        total=low.astype("Int64").mask(low < high),
        missing=named(open_systems),
        seen=pd.concat(measured, axis=1).any(axis=1),
    )


MEASURED = (
    "pao2_fio2_mmhg",
    "platelets_g_l",
    "bilirubin_umol_l",
    "mean_pressure_mmhg",
    "vasopressor",
    "coma_scale",
    "creatinine_umol_l",
    "urine_ml_24h",
)


def _falling(values: pd.Series, limits: tuple[float, ...]) -> Limits:
    """A point for each limit that the value is under."""
    value = number(values)
    return _known(sum(((value < limit).fillna(False).astype("int64") for limit in limits), _none(value)), value)


def _rising(values: pd.Series, factor: float, limits: tuple[float, ...]) -> Limits:
    """A point for each limit, in mg/dL, that the value in umol/L reaches."""
    value = (number(values) / factor).round(6)
    return _known(sum(((value >= limit).fillna(False).astype("int64") for limit in limits), _none(value)), value)


def _respiration(days: pd.DataFrame) -> Limits:
    """Without respiratory support no more than 2; where support is not said, 2 or what it would be with it."""
    low, high = _falling(days["pao2_fio2_mmhg"], (400, 300, 200, 100))
    supported = days["ventilated"].astype("boolean")
    with_cap = low.clip(upper=2)
    low = low.where(supported.fillna(False), with_cap)
    high = high.mask(days["pao2_fio2_mmhg"].notna() & ~supported.fillna(True), with_cap)
    return low, high


def _circulation(days: pd.DataFrame) -> Limits:
    dose, mean = number(days["noradrenaline_ug_kg_min"]), number(days["mean_pressure_mmhg"])
    given = days["vasopressor"].astype("boolean") | (dose > 0).fillna(False)
    low = (mean < 70).fillna(False).astype("int64")
    high = (mean < 70).fillna(True).astype("int64")
    low, high = low.mask(given.fillna(False), 2), high.mask(given.fillna(True), 4)
    low = low.mask((dose > 0).fillna(False), 3).mask((dose > 0.1).fillna(False), 4)
    # A dose up to 0.1 is 3 for certain only of noradrenaline; a second drug at a high dose is not recorded.
    high = high.mask(((dose > 0) & (dose <= 0.1)).fillna(False), 3)
    return low, high


def _kidney(days: pd.DataFrame) -> Limits:
    low, high = _rising(days["creatinine_umol_l"], UMOL_PER_MG_DL_CREATININE, (1.2, 2.0, 3.5, 5.0))
    urine = number(days["urine_ml_24h"])
    floor = (urine < 500).fillna(False).astype("int64") * 3 + (urine < 200).fillna(False).astype("int64")
    return low.where(low >= floor, floor), high.where(high >= floor, floor)


def _none(values: pd.Series) -> pd.Series:
    return pd.Series(0, index=values.index, dtype="int64")


def _known(score: pd.Series, value: pd.Series) -> Limits:
    return score.where(value.notna(), 0), score.where(value.notna(), 4)
