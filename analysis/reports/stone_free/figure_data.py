"""The numbers behind the figure, and the same in words."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from typing import Any

import pandas as pd

from analysis.tables.rounding import percent
from analysis.tables.small_numbers import too_few, withheld


def figure_data(
    rows: pd.DataFrame, groups: Sequence[str], thresholds: Sequence[str], small_number: int
) -> pd.DataFrame:
    """What the figure shows, one row a group and threshold.

    rows: rates with the handlings complete, lower and upper; `group` is a place in `groups`, and each threshold's
    rows come in the order of `thresholds`. Columns: group, threshold, x (place of the threshold), n, free, eligible,
    rate, low, high, bottom and top (the bounds), n_adequate, free_adequate, rate_adequate, low_adequate and
    high_adequate (NaN where the rate is the one of all known, or from too few), failed_inadequate, and instead: what
    stands in the place of a rate from too few, whose rate, limits and bounds are NaN.
    """
    order = {code: at for at, code in enumerate(dict.fromkeys(rows["threshold"]))}
    cells = ["group", "threshold"]
    bounds = {
        mode: rows.loc[rows["unscanned"] == mode, [*cells, "rate"]].rename(columns={"rate": name})
        for mode, name in (("lower", "bottom"), ("upper", "top"))
    }
    complete = rows[rows["unscanned"] == "complete"]
    for bound in bounds.values():
        complete = complete.merge(bound, on=cells, validate="one_to_one")
    made = []
    for row in complete.to_dict("records"):
        few = too_few(row["n"], small_number) or too_few(row["eligible"], small_number)
        hidden = math.nan if few else 1.0
        made.append(
            {
                "group": groups[row["group"]],
                "threshold": thresholds[order[row["threshold"]]],
                "x": order[row["threshold"]],
                "n": int(row["n"]),
                "free": int(row["stone_free"]),
                "eligible": int(row["eligible"]),
                "rate": row["rate"] * hidden,
                "low": row["low"] * hidden,
                "high": row["high"] * hidden,
                "bottom": row["bottom"] * hidden,
                "top": row["top"] * hidden,
                **_adequate(row, small_number, hidden=few),
                "instead": f"{int(row['stone_free']):,} of {int(row['n']):,}, {withheld(small_number)}" if few else "",
            }
        )
    return pd.DataFrame(made)


def _adequate(row: Mapping[Hashable, Any], small_number: int, *, hidden: bool) -> dict[str, float]:
    """The rate without failures known from inadequate studies alone, where it is another."""
    n, rate = int(row["n_adequate"]), row["rate_adequate"]
    same = not row["failed_inadequate"] or rate == row["rate"]
    shown = math.nan if hidden or same or too_few(n, small_number) else 1.0
    return {
        "failed_inadequate": int(row["failed_inadequate"]),
        "n_adequate": n,
        "free_adequate": int(row["free_adequate"]),
        "rate_adequate": rate * shown,
        "low_adequate": row["low_adequate"] * shown,
        "high_adequate": row["high_adequate"] * shown,
    }


def in_words(data: pd.DataFrame) -> list[str]:
    """The figure's content as sentences, for people who cannot see it."""
    return [
        f"{row['group']}, {row['threshold']} mm: {row['free']:,} of {row['n']:,} known"
        + (
            ", no rate shown."
            if row["instead"]
            else f", {percent(row['rate'])} ({percent(row['low'])} to {percent(row['high'])}); with the unknown "
            f"{percent(row['bottom'])} to {percent(row['top'])}{_adequate_in_words(row)}."
        )
        for row in data.to_dict("records")
    ]


def _adequate_in_words(row: Mapping[Hashable, Any]) -> str:
    if not row["failed_inadequate"]:
        return ""
    said = f"; among the adequate {row['free_adequate']:,} of {row['n_adequate']:,}"
    if math.isnan(row["rate_adequate"]):
        return said
    limits = f"{percent(row['low_adequate'])} to {percent(row['high_adequate'])}"
    return f"{said}, {percent(row['rate_adequate'])} ({limits})"
