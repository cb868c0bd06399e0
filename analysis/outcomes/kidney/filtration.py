"""Filtration rate estimated from creatinine, age and sex."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.outcomes.published import Published

UMOL_PER_MG_DL = 88.4

CKD_EPI_2021 = Published(
    id="ckd-epi-2021-creatinine",
    version="1",
    label="eGFR, CKD-EPI 2021",
    rule=(
        "142 x min(Scr/k, 1)^a x max(Scr/k, 1)^-1.200 x 0.9938^age, x 1.012 if female; k 0.7 and a -0.241 in women, "
        "0.9 and -0.302 in men; Scr in mg/dL (88.4 umol/L each); mL/min/1.73 m2; without race; from 18 years, not in "
        "pregnancy"
    ),
    source="Inker et al., N Engl J Med 2021;385:1737-1749 (from memory)",
    assumed=("creatinine was steady: in the first days after an operation it may not be",),
)


def ckd_epi_2021(
    creatinine_umol_l: pd.Series, age_years: pd.Series, sex: pd.Series, pregnant: pd.Series
) -> pd.DataFrame:
    """Filtration rate by `CKD_EPI_2021`.

    creatinine_umol_l: umol/L. age_years: whole years. sex: female or male; any other word is not computable, for the
    equation has no third. pregnant: boolean. All with one index. Returns egfr in mL/min/1.73 m2, missing where it
    cannot be worked out, and reason (text, empty where it can).
    """
    scr = creatinine_umol_l.astype("Float64").to_numpy(np.float64, na_value=np.nan) / UMOL_PER_MG_DL
    age = age_years.astype("Float64").to_numpy(np.float64, na_value=np.nan)
    female = (sex == "female").fillna(False).to_numpy(bool)
    expecting = pregnant.astype("boolean").fillna(False).to_numpy(bool)
    known_sex = sex.isin(["female", "male"]).to_numpy(bool)
    with np.errstate(invalid="ignore"):
        reason = np.select(
            [np.isnan(age), age < 18, expecting, ~known_sex, np.isnan(scr), scr <= 0],
            ["age", "under 18 years", "pregnant", "sex", "creatinine", "creatinine"],
            default="",
        )
    usable = reason == ""
    k, a = np.where(female, 0.7, 0.9), np.where(female, -0.241, -0.302)
    relative = np.where(usable, scr, 1.0) / k
    rate = 142 * np.minimum(relative, 1) ** a * np.maximum(relative, 1) ** -1.2
    rate = rate * 0.9938 ** np.where(usable, age, 50.0) * np.where(female, 1.012, 1.0)
    return pd.DataFrame(
        {"egfr": np.where(usable, rate, np.nan), "reason": pd.array(reason, dtype="string")},
        index=creatinine_umol_l.index,
    )
