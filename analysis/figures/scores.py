"""The figure of complexity scores: the observed rate at each value of each score, a panel a score.

A point is the rate among those with a known outcome, its line the interval, the number under it how many they are. A
flat bar is a rate that was published; a dashed one is from memory. All panels share the scale of rates.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_PANELS = 8
SHADE, PUBLISHED, FAINT = "#1b2a41", "#c2571a", "#666666"
STYLE = {
    "font.family": "DejaVu Sans",
    "font.size": 9,
    "svg.hashsalt": "gravelbook",
    "text.parse_math": False,
    "svg.fonttype": "path",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": "#555555",
    "axes.linewidth": 0.8,
    "xtick.major.size": 0,
    "ytick.major.size": 3,
}


@dataclass(frozen=True)
class Wording:
    """title: above the figure. notes: sentences below it."""

    title: str
    notes: Sequence[str]


def draw(observed: pd.DataFrame, published: pd.DataFrame, wording: Wording) -> Figure:
    """The figure.

    observed: one row a score and value, with panel (the score's label), area (a line under it), lowest and highest
    (the score's range), value, n, rate, low, high, and instead: what is written in the place of a rate that is not
    shown, else empty (then rate and limits are NaN). published: panel, low, high (values it speaks of), rate,
    from_memory; may be empty.

    Raises ValueError for no panel, or more than MOST_PANELS.
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure as Canvas

    names = list(dict.fromkeys(observed["panel"]))
    if not 1 <= len(names) <= MOST_PANELS:
        raise ValueError(f"There are {len(names)} scores; a figure shows 1 to {MOST_PANELS}.")
    columns = min(3, len(names))
    lines = math.ceil(len(names) / columns)
    notes = [line for note in wording.notes for line in textwrap.wrap(note, 138)]
    foot, head = 0.25 + 0.155 * len(notes), 0.75
    height = head + 2.6 * lines + 0.45 + foot
    with mpl.rc_context(STYLE):  # type: ignore[arg-type]
        figure = Canvas(figsize=(8.6, height))
        panels = figure.subplots(lines, columns, squeeze=False, sharey=True).ravel()
        figure.subplots_adjust(
            left=0.075,
            right=0.985,
            top=1 - (head + 0.35) / height,
            bottom=(foot + 0.62) / height,
            hspace=0.48,
            wspace=0.1,
        )
        for panel, name in zip(panels, names, strict=False):
            _panel(panel, observed[observed["panel"] == name], published[published["panel"] == name])
        for panel in panels[len(names) :]:
            panel.set_visible(False)
        figure.text(0.075, 1 - 0.22 / height, wording.title, fontsize=11, fontweight="bold", va="center")
        _legend(figure, height, with_published=len(published) > 0)
        figure.supxlabel("score, higher is harder", fontsize=9, y=(foot + 0.06) / height)
        figure.text(
            0.075, (foot - 0.08) / height, "\n".join(notes), fontsize=7.2, va="top", color="#333333", linespacing=1.35
        )
    return figure


def _panel(panel: Axes, own: pd.DataFrame, published: pd.DataFrame) -> None:
    first, last = int(own["lowest"].iloc[0]), int(own["highest"].iloc[0])
    panel.set_ylim(-0.13, 1.04)
    panel.set_yticks([0, 0.25, 0.5, 0.75, 1.0], ["0", "25", "50", "75", "100 %"])
    panel.set_xlim(first - 0.6, last + 0.6)
    panel.set_xticks(range(first, last + 1))
    panel.tick_params(labelsize=8)
    tight = last - first > 9
    panel.grid(axis="y", color="#dddddd", linewidth=0.6)
    panel.set_axisbelow(True)
    panel.axhline(0, color="#999999", linewidth=0.6)
    title = textwrap.fill(str(own["panel"].iloc[0]), 34)
    panel.set_title(f"{title}\n", fontsize=8.5, loc="left", fontweight="bold", pad=2)
    panel.text(0, 1.01, str(own["area"].iloc[0]), transform=panel.transAxes, fontsize=7.2, color=FAINT, va="bottom")
    for row in published.to_dict("records"):
        ends = [row["low"] - 0.35, row["high"] + 0.35]
        style = "--" if row["from_memory"] else "-"
        panel.plot(ends, [row["rate"]] * 2, color=PUBLISHED, linewidth=1.4, linestyle=style)
    shown = own[own["rate"].notna()]
    panel.vlines(shown["value"], shown["low"], shown["high"], color=SHADE, linewidth=1.5)
    panel.scatter(
        shown["value"], shown["rate"], marker="o", s=30, facecolor="white", edgecolor=SHADE, linewidths=1.5, zorder=3
    )
    for row in own.to_dict("records"):
        panel.text(
            row["value"], -0.035, f"{row['n']:,}", ha="center", va="top", fontsize=5.6 if tight else 6.8, color=SHADE
        )
        if row["instead"]:
            box = {"facecolor": "white", "edgecolor": "none", "pad": 0.6}
            said = panel.text(row["value"], 0.03, row["instead"], fontsize=6.8, color=SHADE, bbox=box)
            said.set(rotation=90, ha="center", va="bottom")


def _legend(figure: Figure, height: float, *, with_published: bool) -> None:
    from matplotlib.lines import Line2D

    marks = [Line2D([], [], color=SHADE, marker="o", markerfacecolor="white", markeredgewidth=1.5, linewidth=1.5)]
    words = ["observed, with its interval; n below"]
    if with_published:
        marks += [
            Line2D([], [], color=PUBLISHED, linewidth=1.4),
            Line2D([], [], color=PUBLISHED, linewidth=1.4, ls="--"),
        ]
        words += ["published", "published, from memory"]
    figure.legend(
        marks,
        words,
        loc="center left",
        bbox_to_anchor=(0.068, 1 - 0.5 / height),
        ncols=3,
        frameon=False,
        fontsize=7.8,
        borderaxespad=0,
    )
