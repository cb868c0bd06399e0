"""Sets of observations to days: the worst value of each measure on one calendar day.

The registry knows the day of a set and not its hour, and vital signs and laboratory values may come as sets of their
own, so the scores (which ask for values of the same time) are worked out from the worst values of one calendar day.
"""

from __future__ import annotations

import pandas as pd

HIGHEST = (
    "temperature_c",
    "heart_rate_min",
    "respiratory_rate_min",
    "white_cells_g_l",
    "bands_percent",
    "lactate_mmol_l",
    "bilirubin_umol_l",
    "creatinine_umol_l",
    "noradrenaline_ug_kg_min",
)
LOWEST = (
    "systolic_mmhg",
    "mean_pressure_mmhg",
    "platelets_g_l",
    "pao2_fio2_mmhg",
    "paco2_mmhg",
    "coma_scale",
    "urine_ml_24h",
)
ALSO_LOWEST = {"temperature_c": "temperature_low_c", "white_cells_g_l": "white_cells_low_g_l"}
EITHER = ("ventilated", "vasopressor")
MEASURES = (*HIGHEST, *LOWEST, *ALSO_LOWEST.values(), *EITHER)


def contradictions(sets: pd.DataFrame) -> pd.DataFrame:
    """Sets that cannot be, named one by one.

    sets: operation_id, set_id, observed_on, phase and the measures. Returns operation_id, set_id, observed_on, what.
    """
    dose, mean, systolic = sets["noradrenaline_ug_kg_min"], sets["mean_pressure_mmhg"], sets["systolic_mmhg"]
    found = [
        (_unpressed(sets), "a dose of noradrenaline ({dose:g} ug/kg/min) and no vasopressor: neither is used"),
        (_swapped(sets), "systolic pressure {systolic} below mean pressure {mean} mmHg: neither is used"),
        (
            (sets["phase"] == "unsettled").fillna(False),
            "whether the set is before or after the operation is not said, or its date contradicts it: nothing is used",
        ),
    ]
    rows = [
        {
            "operation_id": sets.at[at, "operation_id"],
            "set_id": sets.at[at, "set_id"],
            "observed_on": sets.at[at, "observed_on"],
            "what": what.format(dose=dose[at], mean=mean[at], systolic=systolic[at]),
        }
        for wrong, what in found
        for at in sets.index[wrong]
    ]
    return pd.DataFrame(rows, columns=["operation_id", "set_id", "observed_on", "what"])


def worst_by_day(sets: pd.DataFrame) -> pd.DataFrame:
    """One row an operation, phase and day, with the worst of each measure; values that contradict are left out.

    sets: as `contradictions` takes them, with days_after. Returns operation_id, phase, days_after and `MEASURES`:
    the highest of most, the lowest where low is bad, both of temperature and white cells, true where any set of the
    day says so; missing where nobody measured.
    """
    kept = sets[sets["phase"].isin(["before", "after"])]
    unpressed, swapped = _unpressed(kept), _swapped(kept)
    pressed = kept["vasopressor"].mask(unpressed).astype("boolean")
    dose = kept["noradrenaline_ug_kg_min"].astype("Float64").mask(unpressed, 0).fillna(0)
    clean = kept.assign(
        noradrenaline_ug_kg_min=kept["noradrenaline_ug_kg_min"].mask(unpressed),
        systolic_mmhg=kept["systolic_mmhg"].mask(swapped),
        mean_pressure_mmhg=kept["mean_pressure_mmhg"].mask(swapped),
        # A dose above none is a vasopressor, said or not.
        vasopressor=pressed.mask(dose > 0, True).astype("Float64"),
        ventilated=kept["ventilated"].astype("Float64"),
    )
    grouped = clean.groupby(["operation_id", "phase", "days_after"], sort=True)
    made = {name: grouped[name].max() for name in (*HIGHEST, *EITHER)}
    made.update({name: grouped[name].min() for name in LOWEST})
    made.update({low: grouped[name].min() for name, low in ALSO_LOWEST.items()})
    days = pd.DataFrame({name: made[name] for name in MEASURES}).reset_index()
    for name in MEASURES:
        days[name] = days[name].astype("boolean" if name in EITHER else "Float64")
    return days


def _unpressed(sets: pd.DataFrame) -> pd.Series:
    """A dose of noradrenaline where no vasopressor was given."""
    dose = (sets["noradrenaline_ug_kg_min"].astype("Float64") > 0).fillna(False)
    return (dose & (~sets["vasopressor"].astype("boolean")).fillna(False)).astype(bool)


def _swapped(sets: pd.DataFrame) -> pd.Series:
    """A systolic pressure below the mean."""
    systolic, mean = sets["systolic_mmhg"].astype("Float64"), sets["mean_pressure_mmhg"].astype("Float64")
    return (systolic < mean).fillna(False).astype(bool)
