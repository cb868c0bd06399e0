"""The answer as JSON: every number unrounded, null where there is none."""

from __future__ import annotations

import json
import math
from collections.abc import Hashable
from dataclasses import asdict
from typing import Any

from analysis.reports.stone_free.answer import Answer
from analysis.reports.stone_free.comparisons import WAYS, Comparison
from analysis.reports.stone_free.modelled import MODELLED
from analysis.reports.stone_free.packed import SEEN_BY

ROW_NUMBERS = (
    "eligible",
    "n",
    "unknown",
    "not_due",
    "died",
    "retreated_planned",
    "retreated_unplanned",
    "abandoned",
    "patients",
    "stone_free",
    "rate",
    "low",
    "high",
    "low_clustered",
    "high_clustered",
    "n_adequate",
    "rate_adequate",
    "low_adequate",
    "high_adequate",
    "failed_inadequate",
)
"""The numbers of a row, in their order."""


def as_json(answer: Answer) -> str:
    """The answer as one JSON object with definition, rows and comparisons."""
    whole = {
        "definition": answer.definition(),
        "rows": json_rows(answer),
        "comparisons": [comparison_record(one) for one in answer.comparisons],
    }
    return json.dumps(_clean(whole), indent=1, allow_nan=False, ensure_ascii=False) + "\n"


def json_rows(answer: Answer) -> list[dict[str, Any]]:
    """One record a row of rates."""
    groups = answer.grouping.as_dicts()
    return [
        {
            "group": groups[row["group"]],
            "threshold_mm": _millimetres(row["threshold_mm"]),
            "comparison": row["comparison"],
            "unscanned": row["unscanned"],
            **_numbers(row),
            "modalities": {name: row[f"modality_{name}"] for name in SEEN_BY if row[f"modality_{name}"]},
        }
        for row in answer.rows.to_dict("records")
    ]


def _numbers(row: dict[Hashable, Any]) -> dict[str, Any]:
    """The numbers of a row; those of a model also have what it alone can say."""
    made = {name: row[name] for name in ROW_NUMBERS}
    if row["unscanned"] == "weighted":
        made["n_effective"] = row["n_effective"]
    if row["unscanned"] in MODELLED:
        made["reason"] = row["reason"]
    return made


def comparison_record(one: Comparison) -> dict[str, Any]:
    """One comparison; what needs strata is null when none were asked for.

    groups: of index and comparator the counts compared, their rate, and the rate standardised to both groups' mix;
    adequate: the same two without failures known from inadequate studies alone, null unless of complete case.
    """
    effects = {way: _effects(one, way) for way in WAYS}
    test = one.homogeneity
    return {
        "column": one.column,
        "index": one.index,
        "comparator": one.comparator,
        "threshold_mm": _millimetres(one.threshold.threshold_mm),
        "comparison": one.threshold.comparison,
        "unscanned": one.unscanned,
        "groups": {**comparison_groups(one), "adequate": _adequate(one)},
        **effects,
        "homogeneity": test and {"test": test.test, "statistic": test.statistic, "df": test.df, "p": test.p},
        "strata_left_out": list(one.strata_left_out),
    }


def comparison_groups(one: Comparison) -> dict[str, dict[str, Any]]:
    """The two groups compared: their counts, rate and standardised rate; None where there is none."""
    index, comparator = one.standardised_rates or (None, None)
    return {
        side: {"stone_free": free, "n": n, "rate": one.rate_of(side), "rate_standardised": standardised}
        for side, free, n, standardised in (
            ("index", one.free_index, one.n_index, index),
            ("comparator", one.free_comparator, one.n_comparator, comparator),
        )
    }


def _adequate(one: Comparison) -> dict[str, Any] | None:
    kept = one.adequate
    if kept is None:
        return None
    made: dict[str, Any] = {
        side: {"stone_free": free, "n": n, "rate": free / n if n else None}
        for side, free, n in (
            ("index", kept.free_index, kept.n_index),
            ("comparator", kept.free_comparator, kept.n_comparator),
        )
    }
    effect = kept.difference
    shown = {name: getattr(effect, name) for name in ("estimate", "low", "high", "method")}
    return {**made, "failed_inadequate": kept.left_out, "difference": shown}


def _effects(one: Comparison, way: str) -> dict[str, Any] | None:
    if way not in one.effects:
        return None
    return {
        measure: {name: value for name, value in asdict(effect).items() if name != "reason"}
        for measure, effect in one.effects[way].items()
    }


def _millimetres(value: float) -> float:
    return int(value) if float(value).is_integer() else value


def _clean(value: Any) -> Any:
    """NaN becomes null, whatever it is nested in."""
    if isinstance(value, dict):
        return {str(key): _clean(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_clean(each) for each in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value.item() if hasattr(value, "item") else value
