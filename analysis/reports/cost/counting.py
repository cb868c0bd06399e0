"""Which courses stand in n, by what is done about those whose stone-free status is not known."""

from __future__ import annotations

from typing import Any

import numpy as np

from analysis.reports.cost.gathered import BoolArray, Gathered

HANDLINGS = {
    "complete": "complete: courses whose status is known",
    "lower": "lower: every course of unknown status counted as failed, which gives the highest cost per case",
    "upper": "upper: every course of unknown status counted as stone-free, which gives the lowest",
}


def counted(held: Gathered, code: str, unscanned: str) -> tuple[BoolArray, BoolArray]:
    """Of each course, whether it counts as stone-free and whether it stands in n: status as handled, and cost known."""
    free, known = held.is_status(code, "free"), held.is_status(code, "free", "failed")
    unknown = held.is_status(code, "unknown")
    inside = known if unscanned == "complete" else known | unknown
    return (free | unknown if unscanned == "upper" else free), inside & held.costed


def left_out(held: Gathered, code: str, own: BoolArray, n: int) -> dict[str, Any]:
    """Of the courses `own`, why those of the denominator are not in n.

    unknown: eligible (free, failed, unknown) without n; of these status_unknown, cost_missing, cost_not_due by what is
    not known (a course may lack both). not_due, died: by the stone-free definition, neither eligible.
    """
    eligible = own & held.is_status(code, "free", "failed", "unknown")
    due = np.asarray(held.courses["due"], dtype=bool)
    return {
        "eligible": int(eligible.sum()),
        "unknown": int(eligible.sum()) - n,
        "status_unknown": int((eligible & held.is_status(code, "unknown")).sum()),
        "cost_missing": int((eligible & due & ~held.costed).sum()),
        "cost_not_due": int((eligible & ~due).sum()),
        "not_due": int((own & held.is_status(code, "not_due")).sum()),
        "died": int((own & held.is_status(code, "died")).sum()),
    }
