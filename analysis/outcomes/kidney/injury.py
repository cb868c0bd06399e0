"""Acute kidney injury after the operation, by creatinine."""

from __future__ import annotations

import pandas as pd

from analysis.outcomes.kidney.filtration import UMOL_PER_MG_DL
from analysis.outcomes.published import Published

RISE_MG_DL, HIGH_MG_DL = 0.3, 4.0
RISE_DAYS, RATIO_DAYS = 2, 7

KDIGO_2012 = Published(
    id="kdigo-aki-2012-creatinine",
    version="1",
    label="Acute kidney injury, KDIGO",
    rule=(
        "Stage 1: creatinine at least 1.5 times the baseline within 7 days, or a rise of at least 0.3 mg/dL (26.5 "
        "umol/L) within 48 h; stage 2: 2.0 times; stage 3: 3.0 times, or at least 4.0 mg/dL (353.6 umol/L) with such "
        "a rise, or renal replacement. Baseline: the last value before the operation. By creatinine alone"
    ),
    source="KDIGO, Kidney Int Suppl 2012;2:1-138 (from memory)",
    assumed=("48 h are two calendar days: the registry knows the day of a value, not its hour",),
)


def kdigo_stage(
    operation_id: pd.Index, baseline_umol_l: pd.Series, values: pd.DataFrame, replaced: pd.Series
) -> pd.DataFrame:
    """Stage 0 to 3 of each operation by `KDIGO_2012`.

    operation_id: the operations asked about. baseline_umol_l: by operation, missing where there is none. values:
    operation_id, days_after, creatinine_umol_l, of the days -2 to 7: those before count towards a rise within 48 h
    alone. replaced: by operation, whether renal replacement was given in the first 7 days. Returns stage (whole,
    missing when not computable), any_stage (boolean: known to be there even where its stage is not), reason (text).
    """
    kept = values.dropna(subset=["creatinine_umol_l"])
    own = kept[kept["operation_id"].isin(operation_id) & kept["days_after"].between(-RISE_DAYS, RATIO_DAYS)]
    own = own.assign(mg_dl=own["creatinine_umol_l"].astype("float64") / UMOL_PER_MG_DL)
    after = own[own["days_after"] >= 0]
    peak = after.groupby("operation_id")["mg_dl"].max().reindex(operation_id)
    base = baseline_umol_l.reindex(operation_id).astype("Float64") / UMOL_PER_MG_DL
    ratio = (peak.astype("Float64") / base).round(6)
    rise = pd.Series(operation_id.isin(_risen(own)), index=operation_id)
    given = replaced.reindex(operation_id).fillna(False).astype(bool)
    qualifying = rise | (ratio >= 1.5).fillna(False).astype(bool)
    high = qualifying & (peak.round(6) >= HIGH_MG_DL).fillna(False)
    stage = pd.Series(0, index=operation_id, dtype="Int64")
    stage = stage.mask((ratio >= 1.5).fillna(False) | rise, 1).mask((ratio >= 2.0).fillna(False), 2)
    stage = stage.mask((ratio >= 3.0).fillna(False) | high | given, 3)
    computable = ratio.notna() | high | given
    present = pd.Series(pd.NA, index=operation_id, dtype="boolean")
    present = present.mask(ratio.notna(), False).mask(qualifying | given, True)
    reason = pd.Series("", index=operation_id, dtype="string")
    reason = reason.mask(peak.isna(), "creatinine in the 7 days after").mask(base.isna(), "creatinine before")
    reason = reason.mask(peak.isna() & base.isna(), "creatinine before, creatinine in the 7 days after")
    return pd.DataFrame({"stage": stage.where(computable), "any_stage": present, "reason": reason.mask(computable, "")})


def _risen(values: pd.DataFrame) -> set[int]:
    """Operations in which a value after lies 0.3 mg/dL or more above one of the two days before it."""
    pairs = values.merge(values, on="operation_id", suffixes=("", "_earlier"))
    gap = pairs["days_after"] - pairs["days_after_earlier"]
    rise = (pairs["mg_dl"] - pairs["mg_dl_earlier"]).round(6)
    held = (pairs["days_after"] >= 0) & gap.between(1, RISE_DAYS) & (rise >= RISE_MG_DL)
    return set(pairs.loc[held, "operation_id"].tolist())
