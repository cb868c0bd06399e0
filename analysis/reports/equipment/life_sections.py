"""The sections about the lives of reusable pieces: uses, failures and repairs of each, and uses to the first failure.

They look at the whole registry, for a piece wears whoever it is used in: neither rules of inclusion nor the dates of
operations asked for leave a use out.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from analysis.outcomes.equipment_failure import FAILURE
from analysis.reports.equipment.asking import Equipment
from analysis.reports.equipment.first_failure import first_failure_sections
from analysis.reports.sections.report import Column, Section

WHOLE = "Whole life of each piece until the as-of date, over all patients; --rules, --since and --until do not apply."
POISSON = "exact Poisson limits (Garwood F, Biometrika 1936;28:437-442)"


def life_sections(found: Equipment) -> list[Section]:
    """Each piece; uses per repair and per failure; uses to the first failure. One section that says so if none."""
    if found.lives.empty:
        said = (
            "No reusable piece of this kind is in the registry (sheet Equipment item), so nothing is known of lives.",
        )
        return [Section(name="uses", title="Uses of reusable pieces", rows=(), columns=(), notes=said)]
    return [_pieces(found), _per_event(found), *first_failure_sections(found)]


def _pieces(found: Equipment) -> Section:
    rows = []
    for life in found.lives.sort_values(["model", "item_id"]).to_dict("records"):
        rows.append(
            {
                "group": {"model": life["model"], "piece": f"no. {life['item_id']}"},
                "acquired_on": _day(life["acquired_on"]),
                "retired_on": _day(life["retired_on"]) if life["retired"] else None,
                "last_used_on": _day(life["last_used_on"]),
                **{name: _whole(life[name]) for name in COUNTS},
            }
        )
    return Section(
        name="uses",
        title="Uses of reusable pieces",
        rows=rows,
        columns=(
            Column("acquired", "acquired_on"),
            Column("retired", "retired_on"),
            Column("uses before", "uses_before", "count"),
            Column("in registry", "registry_uses", "count"),
            Column("all", "total_uses", "count"),
            Column("failures", "failures", "count"),
            Column("repairs", "repairs", "count"),
            Column("repairs before", "earlier_repairs", "count"),
            Column("first failed at", "first_failure", "count"),
        ),
        definition={"failure": FAILURE},
        notes=(
            f"{WHOLE} Used several times in one operation is one use. A piece's number is the key of its row in the "
            "registry, for serial numbers do not enter a snapshot. First failed at: which of its uses in the registry.",
        ),
    )


COUNTS = (
    "uses_before",
    "registry_uses",
    "total_uses",
    "failures",
    "unjudged",
    "repairs",
    "earlier_repairs",
    "first_failure",
)


def _per_event(found: Equipment) -> Section:
    lives = found.lives
    rows = []
    groups = [("all", lives), *((str(model), own) for model, own in lives.groupby("model", sort=True))]
    for model, own in groups if len(groups) > 2 else groups[:1]:
        for event in ("repairs", "failures"):
            made = uses_per_event(int(own["registry_uses"].sum()), int(own[event].sum()), found.request.level)
            rows.append({"group": {"model": model, "per": event[:-1]}, "pieces": len(own), **made})
    unjudged = int(lives["unjudged"].sum())
    return Section(
        name="uses_per_event",
        title="Uses in the registry per repair and per failure",
        rows=rows,
        columns=(
            Column("pieces", "pieces", "count"),
            Column("uses", "n", "count"),
            Column("events", "events", "count"),
            Column("uses per event", "estimate", "number"),
            Column("from", "low", "number"),
            Column("to", "high", "number"),
        ),
        definition={"failure": FAILURE, "interval": POISSON, "level": found.request.level},
        notes=(
            f"Interval: {POISSON}, which take events as independent of each other. Without an event there is no "
            "estimate, only a lower limit. Repairs count from a piece's first use in the registry on.",
            *([f"Uses of them that cannot be told to be failures or none: {unjudged:,}."] if unjudged else []),
        ),
    )


def uses_per_event(uses: int, events: int, level: float) -> dict[str, Any]:
    """Uses per event with exact Poisson limits (Garwood 1936), as a row: n, events, estimate, low, high.

    No event gives no estimate and no upper limit; no use gives neither limit.
    """
    row: dict[str, Any] = {"n": uses, "unknown": 0, "events": events, "estimate": None, "low": None, "high": None}
    if uses:
        from statsmodels.stats.rates import confint_poisson

        fewest, most = confint_poisson(events, uses, method="exact-c", alpha=1 - level)
        row |= {"low": 1 / float(most)}
        if events:
            row |= {"estimate": uses / events, "high": 1 / float(fewest)}
    return row


def _day(value: Any) -> str | None:
    return None if pd.isna(value) else pd.Timestamp(value).strftime("%Y-%m-%d")


def _whole(value: Any) -> int | None:
    return None if value is None or pd.isna(value) or not np.isfinite(value) else int(value)
