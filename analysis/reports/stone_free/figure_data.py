"""The numbers behind the figure, and the same in words."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pandas as pd

from analysis.tables.rounding import percent
from analysis.tables.small_numbers import too_few, withheld


def figure_data(
    rows: pd.DataFrame, groups: Sequence[str], thresholds: Sequence[str], small_number: int
) -> pd.DataFrame:
    """What the figure shows, one row a group and threshold.

    rows: rates with the handlings complete, lower and upper; `group` is a place in `groups`, and each threshold's
    rows come in the order of `thresholds`. Columns: group, threshold, x (place of the threshold), n, free, eligible,
    rate, low, high, bottom and top (the bounds), and instead: what stands in the place of a rate from too few, whose
    rate, limits and bounds are NaN.
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
                "instead": f"{int(row['stone_free'])} of {int(row['n'])}, {withheld(small_number)}" if few else "",
            }
        )
    return pd.DataFrame(made)


def in_words(data: pd.DataFrame) -> list[str]:
    """The figure's content as sentences, for people who cannot see it."""
    return [
        f"{row['group']}, {row['threshold']} mm: {row['free']} of {row['n']} known"
        + (
            ", no rate shown."
            if row["instead"]
            else f", {percent(row['rate'])} ({percent(row['low'])} to {percent(row['high'])}); with the unknown "
            f"{percent(row['bottom'])} to {percent(row['top'])}."
        )
        for row in data.to_dict("records")
    ]
