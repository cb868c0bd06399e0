"""The equipment figure: failures per piece opened in each group, and how many uses reusable pieces last.

On the left a point is a share of the pieces that can be judged, its line the interval that allows for uses of one
piece or patient. On the right the curve of pieces without a failure over their uses; ticks are pieces whose uses end
there without one.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from analysis.figures.stone_free import SHADES, STYLE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_GROUPS = 30
INK, BLUE = "#333333", SHADES[0]


@dataclass(frozen=True, kw_only=True)
class Curve:
    """Uses to the first failure. steps: columns uses, share, low, high (NaN where unknown). ended: uses of pieces
    whose life ends there without a failure. pieces: how many there are, failed: of these."""

    steps: pd.DataFrame
    ended: Sequence[float]
    pieces: int
    failed: int


def draw(rates: pd.DataFrame, curve: Curve | None, *, title: str, notes: Sequence[str]) -> Figure:
    """The figure.

    rates: one row a group with group, n, events, rate, low, high, and instead: what is written where no rate is
    shown, else empty. curve: None where no piece can tell.

    Raises ValueError for no group, or more than MOST_GROUPS.
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure as Canvas

    if not 1 <= len(rates) <= MOST_GROUPS:
        raise ValueError(f"There are {len(rates)} groups; a figure shows 1 to {MOST_GROUPS}.")
    said = [line for note in notes for line in textwrap.wrap(note, 130)]
    foot = 0.25 + 0.155 * len(said)
    height = 0.9 + max(2.2, 0.34 * len(rates)) + 0.6 + foot
    with mpl.rc_context(STYLE):  # type: ignore[arg-type]
        figure = Canvas(figsize=(8.0, height))
        panels = figure.subplots(1, 2 if curve else 1, squeeze=False, width_ratios=[1.15, 1] if curve else [1])[0]
        figure.subplots_adjust(left=0.17, right=0.985, top=1 - 0.9 / height, bottom=(foot + 0.6) / height, wspace=0.22)
        _shares(panels[0], rates)
        if curve is not None:
            _lasting(panels[1], curve)
        figure.text(0.02, 1 - 0.3 / height, title, fontsize=11, fontweight="bold", va="center")
        figure.text(0.02, (foot - 0.1) / height, "\n".join(said), fontsize=7.2, va="top", color=INK, linespacing=1.35)
    return figure


def _shares(panel: Axes, rates: pd.DataFrame) -> None:
    places = range(len(rates))
    panel.set_ylim(len(rates) - 0.4, -0.6)
    panel.set_yticks(list(places), [textwrap.shorten(str(name), 26) for name in rates["group"]])
    shown = rates[rates["rate"].notna()]
    reach = float(max(shown["rate"].max(), shown["high"].max())) if len(shown) else 0.1
    most = min(1.0, max(0.02, 1.15 * reach))
    panel.set_xlim(0, most * 1.45)  # room for the counts on the right
    ticks = [tick for tick in panel.get_xticks() if 0 <= tick <= most]
    panel.set_xticks(ticks, [f"{100 * tick:g}" for tick in ticks])
    panel.grid(axis="x", color="#dddddd", linewidth=0.6)
    panel.set_axisbelow(True)
    for place, row in zip(places, rates.to_dict("records"), strict=True):
        if row["instead"]:
            panel.text(most * 0.02, place, row["instead"], va="center", fontsize=8, color=INK)
        else:
            panel.hlines(place, row["low"], row["high"], color=BLUE, linewidth=1.5)
            panel.scatter(row["rate"], place, s=34, facecolor="white", edgecolor=BLUE, linewidths=1.6, zorder=3)
        panel.text(
            most * 1.44, place, f"{row['events']:,} of {row['n']:,}", va="center", ha="right", fontsize=8, color=INK
        )
    panel.set_xlabel("failures per 100 pieces opened")


def _lasting(panel: Axes, curve: Curve) -> None:
    steps = curve.steps
    panel.fill_between(steps["uses"], steps["low"], steps["high"], step="post", color=BLUE, alpha=0.15, linewidth=0)
    panel.step(steps["uses"], steps["share"], where="post", color=BLUE, linewidth=1.5)
    shares = [float(steps.loc[steps["uses"] <= uses, "share"].iloc[-1]) for uses in curve.ended]
    panel.scatter(list(curve.ended), shares, marker="|", s=50, color=BLUE, linewidths=1.2, zorder=3)
    panel.set_ylim(0, 1.03)
    panel.set_xlim(left=0)
    panel.set_yticks([0, 0.25, 0.5, 0.75, 1.0], ["0", "25", "50", "75", "100 %"])
    panel.grid(axis="y", color="#dddddd", linewidth=0.6)
    panel.set_axisbelow(True)
    panel.set_xlabel("uses")
    panel.set_title(f"without a failure: {curve.pieces:,} new pieces, {curve.failed:,} failed", fontsize=8, loc="left")
