"""Uses of reusable pieces to their first failure, by Kaplan and Meier's estimator."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.outcomes.equipment_failure import FAILURE
from analysis.reports.equipment.asking import Equipment
from analysis.reports.sections.report import Column, Section

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
SURVIVAL = "Kaplan EL, Meier P, J Am Stat Assoc 1958;53:457-481, log-log limits"
MARKS = (5, 10, 20, 50, 100)
"""Numbers of uses at which the share without a failure is shown."""


def first_failure_sections(found: Equipment) -> list[Section]:
    """Pieces that were new when the registry met them: of others, earlier failures are not known."""
    level = found.request.level
    lives, new = _used_and_new(found)
    definition = {"failure": FAILURE, "estimator": SURVIVAL, "level": level}
    by_uses = Section(
        name="first_failure",
        title="Uses to the first failure",
        rows=_survival_rows(new, level),
        columns=(
            Column("still used", "at_risk", "count"),
            Column("failed by then", "events", "count"),
            Column("without failure", "estimate", "percent"),
            Column("interval", "low high", "percent_range"),
        ),
        definition=definition,
        notes=_survival_notes(lives, new),
    )
    if new.empty:
        return [by_uses]
    median = Section(
        name="median_uses",
        title="Median uses to the first failure",
        rows=[_median_row(new, level)],
        columns=(
            Column("pieces", "n", "count"),
            Column("failed", "events", "count"),
            Column("median", "estimate", "number"),
            Column("from", "low", "number"),
            Column("to", "high", "number"),
        ),
        definition=definition,
        notes=("- is a limit that the pieces have not reached.",),
    )
    return [by_uses, median]


def _survival_notes(lives: pd.DataFrame, new: pd.DataFrame) -> list[str]:
    failed = new["first_failure"].notna().to_numpy(dtype=bool)
    retired = int((new["retired"].to_numpy(dtype=bool) & ~failed).sum())
    notes = [
        f"Pieces that were new when they came (uses before: 0): {len(new)}, of which {int(failed.sum())} failed; the "
        f"others are censored at their last use, {retired} of these retired. If pieces are retired "
        "because they wear, the shares are too good. Where none has failed yet there is no interval."
    ]
    if len(lives) > len(new):
        notes.append(
            f"Left out: {len(lives) - len(new)} that were used before, or of which nobody recorded whether they were."
        )
    unjudged = int((new["unjudged"] > 0).sum())
    if unjudged:
        notes.append(
            f"Pieces with uses that cannot be told to be failures or none, which count as none here: {unjudged:,}."
        )
    return notes


def _curve(new: pd.DataFrame, level: float) -> tuple[Any, Floats, Bools]:
    """The Kaplan-Meier curve over uses, the use at which each piece failed or was last used, and whether it failed."""
    from lifelines import KaplanMeierFitter

    failed = new["first_failure"].notna().to_numpy(dtype=bool)
    last = new["first_failure"].fillna(new["registry_uses"]).to_numpy(dtype=np.float64)
    return KaplanMeierFitter(alpha=1 - level).fit(last, failed), last, failed


@dataclass(frozen=True, eq=False)
class FailureCurve:
    """steps: uses, share, low, high (NaN at a share of 1 or 0). last: the use at which each piece failed or ended."""

    steps: pd.DataFrame
    last: Floats
    failed: Bools


def first_failure_curve(found: Equipment) -> FailureCurve | None:
    """The Kaplan-Meier curve of pieces that came new, from 0 uses on; None when there is none."""
    _, new = _used_and_new(found)
    if new.empty:
        return None
    curve, last, failed = _curve(new, found.request.level)
    share = curve.survival_function_.iloc[:, 0].to_numpy(dtype=np.float64)
    known = (share > 0) & (share < 1)
    limits = curve.confidence_interval_.to_numpy(dtype=np.float64)
    low, high = (np.where(known, limits[:, side], np.nan) for side in (0, 1))
    uses = curve.survival_function_.index.to_numpy(dtype=np.float64)
    return FailureCurve(pd.DataFrame({"uses": uses, "share": share, "low": low, "high": high}), last, failed)


def _used_and_new(found: Equipment) -> tuple[pd.DataFrame, pd.DataFrame]:
    lives = found.lives[(found.lives["registry_uses"] > 0).to_numpy(dtype=bool)]
    return lives, lives[(lives["uses_before"] == 0).to_numpy(dtype=bool, na_value=False)]


def _survival_rows(new: pd.DataFrame, level: float) -> list[dict[str, Any]]:
    if new.empty:
        return []
    curve, last, failed = _curve(new, level)
    limits = curve.confidence_interval_
    rows: list[dict[str, Any]] = []
    for mark in (one for one in MARKS if one <= last.max()):
        low, high = limits.loc[limits.index <= mark].iloc[-1]
        share = float(curve.predict(mark))
        known = 0 < share < 1  # at 1 and at 0 the log-log limits fall together, which tells nothing
        rows.append(
            {
                "group": {"after": f"{mark} uses"},
                "n": len(new),
                "unknown": int((new["unjudged"] > 0).sum()),
                "at_risk": int((last >= mark).sum()),
                "events": int((failed & (last <= mark)).sum()),
                "estimate": share,
                "low": float(low) if known else None,
                "high": float(high) if known else None,
            }
        )
    return rows


def _median_row(new: pd.DataFrame, level: float) -> dict[str, Any]:
    from lifelines.utils import median_survival_times

    curve, _, failed = _curve(new, level)
    low, high = median_survival_times(curve.confidence_interval_).iloc[0]
    median = {"estimate": curve.median_survival_time_, "low": low, "high": high}
    finite = {name: float(value) if math.isfinite(value) else None for name, value in median.items()}
    unknown = int((new["unjudged"] > 0).sum())
    return {"group": {"pieces": "new"}, "n": len(new), "unknown": unknown, "events": int(failed.sum()), **finite}
