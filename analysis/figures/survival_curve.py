"""The survival figure: a step curve a group with its band, and under it how many are still at risk.

For survival (from 1 downwards) or for cumulative incidence (from 0 upwards). A curve ends at the last time somebody
is at risk. Groups differ by dashes as well as by shade.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from analysis.figures.page import DASHES, Wording, page_of
from analysis.figures.stone_free import SHADES, STYLE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_GROUPS = len(SHADES)
WIDTH, LEFT, PLOT_WIDTH, PLOT = 8.4, 1.75, 6.3, 3.4
LINE = 0.2
WITHIN, BESIDE = 3, 2.3
"""Up to so many groups are named within the panel, more beside it, on so many inches."""


@dataclass(frozen=True)
class SurvivalWording(Wording):
    """time, value: what the axes are, with units. group: what the groups are. at_risk: heading of the numbers below.
    shown: sentences within the panel, as the result of a test."""

    time: str
    value: str
    group: str
    at_risk: str = "at risk"
    shown: Sequence[str] = ()


def draw(curves: pd.DataFrame, at_risk: pd.DataFrame, wording: SurvivalWording) -> Figure:
    """The figure.

    curves: group, time, estimate, low, high: the value from that time on until the next (a step), the first row of a
    group at time 0; low and high NaN where there are no limits. Where estimates slope between two times rather than
    step (`sloped` True, a column that may be absent), nothing is known in between and a thin line joins them.
    at_risk: group, time, n, at the times that are to be ticked.

    Raises ValueError for no group or more than MOST_GROUPS.
    """
    import matplotlib as mpl

    groups = list(dict.fromkeys(curves["group"]))
    if not 1 <= len(groups) <= MOST_GROUPS:
        raise ValueError(f"There are {len(groups)} groups; a survival figure shows 1 to {MOST_GROUPS}.")
    names = {group: textwrap.wrap(str(group), 22) or [""] for group in groups}
    table = LINE * sum(len(words) for words in names.values()) + 0.3 if len(at_risk) else 0.0
    with mpl.rc_context(STYLE):  # type: ignore[arg-type]
        page = page_of(
            wording, width=WIDTH + (BESIDE if len(groups) > WITHIN else 0), body=table + 0.5 + PLOT, left=0.2
        )
        panel = page.panel(left=LEFT, low=table + 0.5, width=PLOT_WIDTH, height=PLOT)
        _frame(panel, curves, at_risk, wording)
        for place, group in enumerate(groups):
            _curve(panel, curves[curves["group"] == group], place)
        _legend(panel, curves, groups, wording)
        if len(at_risk):
            _numbers(panel, at_risk, names, wording)
    return page.figure


def _frame(panel: Axes, curves: pd.DataFrame, at_risk: pd.DataFrame, wording: SurvivalWording) -> None:
    rising = rises(curves)
    last = float(max(curves["time"].max(), at_risk["time"].max() if len(at_risk) else 0))
    panel.set_xlim(0, last * 1.02)
    top = float(np.nanmax(curves[["estimate", "high"]].to_numpy(float))) if rising else 1.0
    panel.set_ylim(0, min(1.02, max(1.1 * top, 0.05)) if rising else 1.02)
    if len(at_risk):
        times = sorted(set(at_risk["time"].astype(float)))
        panel.set_xticks(times, [f"{time:g}" for time in times])
    panel.tick_params(axis="x", length=3)
    panel.yaxis.set_major_formatter(lambda value, _: f"{100 * value:g} %")
    panel.set_xlabel(wording.time, fontsize=9)
    panel.set_ylabel(wording.value, fontsize=9)
    panel.grid(axis="y", color="#e6e6e6", linewidth=0.6)
    panel.set_axisbelow(True)


def rises(curves: pd.DataFrame) -> bool:
    """Whether the curves are cumulative incidences, from 0 upwards."""
    return bool((curves.groupby("group", sort=False)["estimate"].first() == 0).all())


def _curve(panel: Axes, part: pd.DataFrame, place: int) -> None:
    shade = SHADES[place]
    x, y = part["time"].to_numpy(float), part["estimate"].to_numpy(float)
    low, high = part["low"].to_numpy(float), part["high"].to_numpy(float)
    sloped = "sloped" in part and bool(part["sloped"].any())
    style = None if sloped else "post"
    panel.fill_between(x, low, high, step=style, color=shade, alpha=0.13, linewidth=0)  # type: ignore[arg-type]
    draw_style = "default" if sloped else "steps-post"
    for edge in (low, high):
        panel.plot(x, edge, color=shade, linewidth=0.5, alpha=0.6, drawstyle=draw_style)
    panel.plot(
        x, y, color=shade, linewidth=1.9, linestyle=DASHES[place], drawstyle=draw_style, zorder=3,
    )  # fmt: skip


def _legend(panel: Axes, curves: pd.DataFrame, groups: Sequence[str], wording: SurvivalWording) -> None:
    from matplotlib.lines import Line2D

    rising = rises(curves)
    if len(groups) > 1 or wording.group:
        marks = [
            Line2D([], [], color=shade, linestyle=dash, linewidth=1.9)
            for _, shade, dash in zip(groups, SHADES, DASHES, strict=False)
        ]
        panel.legend(
            marks, [textwrap.fill(str(group), 30) for group in groups], title=wording.group, fontsize=8,
            title_fontsize=8.5, alignment="left", handlelength=3.2, framealpha=0.85, edgecolor="none",
            **({"loc": "upper left", "bbox_to_anchor": (1.0, 1.0)} if len(groups) > WITHIN else
               {"loc": "upper left" if rising else "lower left"}),
        )  # fmt: skip
    if wording.shown:
        panel.text(
            0.985, 0.975 if not rising else 0.03, "\n".join(wording.shown), transform=panel.transAxes, ha="right",
            va="top" if not rising else "bottom", fontsize=8, color="#333333", linespacing=1.4,
            bbox={"facecolor": "white", "alpha": 0.8, "edgecolor": "none", "pad": 2},
        )  # fmt: skip


def _numbers(panel: Axes, at_risk: pd.DataFrame, names: dict[str, list[str]], wording: SurvivalWording) -> None:
    """A line a group under the curves, each number below its time."""
    lowest = -0.56 / PLOT
    panel.text(
        (0.2 - LEFT) / PLOT_WIDTH, lowest, wording.at_risk, transform=panel.transAxes, fontsize=8, fontweight="bold",
        va="center", clip_on=False,
    )  # fmt: skip
    line = 1.0
    for place, (group, words) in enumerate(names.items()):
        middle = lowest - LINE * (line + (len(words) - 1) / 2) / PLOT
        panel.text(
            (0.2 - LEFT) / PLOT_WIDTH, middle, "\n".join(words), transform=panel.transAxes, fontsize=8, va="center",
            color=SHADES[place], clip_on=False,
        )  # fmt: skip
        for row in at_risk[at_risk["group"] == group].to_dict("records"):
            panel.text(
                row["time"], middle, f"{int(row['n']):,}", transform=panel.get_xaxis_transform(), ha="center",
                va="center", fontsize=8, color=SHADES[place], clip_on=False,
            )  # fmt: skip
        line += len(words)
