"""The stone-free figure: rate against threshold for each group, with its interval and the reach of the unscanned.

A full mark is the rate among those with a known status, its line the interval. An open one beside it is the rate
without failures known from inadequate studies alone, where it is another. The pale bar behind runs from the lower to
the upper bound, that is from every unknown unit counted as failed to every one counted as free. Groups differ by
marker as well as by shade, so that the figure survives a photocopier.
"""

from __future__ import annotations

import io
import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import pandas as pd

from analysis.figures.wrapping import folded

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Kind = Literal["png", "svg"]
TOGETHER = 5
"""Up to so many groups share one panel; more have a panel each."""
WIDE, GAP = 8.0, 0.3
PANEL = (WIDE * 0.9 - 3 * GAP) / 4
BESIDE = 1.72
"""Widths in inches: of the figure, between panels, of one panel of four, of words in the legend."""
TITLE = 7.5
ASIDE = 7.0
"""Points by which an open mark stands beside the full one."""
MOST_GROUPS = 24
SHADES = ("#1b2a41", "#c2571a", "#3f8f8b", "#7a4f9a", "#8a8a1f")
MARKERS = ("o", "s", "^", "D", "v")
STYLE = {
    "font.family": "DejaVu Sans",
    "font.size": 9,
    "svg.hashsalt": "gravelbook",
    "text.parse_math": False,  # a group may be named with a dollar sign
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
    """title: above the figure. notes: sentences below it. group: what the groups are, for the legend."""

    title: str
    notes: Sequence[str]
    group: str


def draw(data: pd.DataFrame, wording: Wording) -> Figure:
    """The figure.

    data: one row a group and threshold, with group and threshold (their words), x (place of the threshold), n,
    eligible, rate, low, high, bottom and top (the bounds), n_adequate, rate_adequate, low_adequate and high_adequate
    (NaN where it is the same, or not shown), and instead: what is written in the place of a rate that is
    not shown, else empty (then rate, limits and bounds are NaN).

    Raises ValueError for more than MOST_GROUPS groups.
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure as Canvas

    groups = list(dict.fromkeys(data["group"]))
    if len(groups) > MOST_GROUPS:
        raise ValueError(f"There are {len(groups)} groups; a figure shows at most {MOST_GROUPS}.")
    apart = len(groups) > TOGETHER
    columns = 4 if apart else 1
    parts = [data[data["group"] == group] for group in groups]
    names = [_named(part, PANEL if apart else BESIDE, bold=apart) for part in parts]
    lines = math.ceil(len(groups) / columns) if apart else 1
    notes = [line for note in wording.notes for line in textwrap.wrap(note, 130)]
    title = folded(wording.title, WIDE - 0.8, size=11, weight="bold")
    head = 0.5 + 0.17 * title.count("\n")
    above = 0.1 + 0.13 * max((name.count("\n") + 1 for name in names), default=1) if apart else 0.25
    tall = 1.45 if apart else max(3.7, 1.1 + sum(0.155 * (name.count("\n") + 1) + 0.1 for name in names))
    foot, ticks = 0.2 + 0.155 * len(notes), 0.25
    height = head + lines * (above + tall + ticks) + 0.3 + foot
    with mpl.rc_context(STYLE):  # type: ignore[arg-type]
        figure = Canvas(figsize=(WIDE, height))
        panels = figure.subplots(lines, columns, squeeze=False, sharex=True, sharey=True).ravel()
        figure.subplots_adjust(
            left=0.085,
            right=0.985 if apart else 0.70,
            top=1 - (head + above) / height,
            bottom=(foot + 0.3 + ticks) / height,
            hspace=(above + ticks) / tall,
            wspace=GAP / PANEL,
        )
        for panel in panels:
            _frame(panel, data)
        for at, (part, name) in enumerate(zip(parts, names, strict=True)):
            panel = panels[at if apart else 0]
            spread = 0.0 if apart else (at - (len(groups) - 1) / 2) * min(0.17, 0.75 / len(groups))
            _group(panel, part, spread, SHADES[0 if apart else at], MARKERS[0 if apart else at])
            if apart:
                panel.set_title(name, fontsize=TITLE, loc="left", fontweight="bold")
        for at in range(len(groups), len(panels)) if apart else ():
            panels[at].set_visible(False)
            panels[at - columns].tick_params(labelbottom=True)  # the lowest of its column now
        if not apart:
            _legend(panels[0], data, names, wording.group)
        figure.text(0.085, 1 - 0.2 / height, title, fontsize=11, fontweight="bold", va="top")
        figure.text(
            0.085, (foot - 0.1) / height, "\n".join(notes), fontsize=7.2, va="top", color="#333333", linespacing=1.35
        )
        figure.supxlabel("largest fragment that still counts as stone-free, mm", fontsize=9, y=(foot + 0.05) / height)
    return figure


def as_bytes(figure: Figure, kind: Kind, *, title: str, description: str) -> bytes:
    """The figure as a PNG or SVG file, the same bytes for the same figure.

    title, description: kept in the file, for people who cannot see it.
    """
    import matplotlib as mpl

    out = io.BytesIO()
    metadata = {"Title": title, "Description": description}
    metadata |= {"Date": None, "Creator": "Gravelbook"} if kind == "svg" else {"Software": "Gravelbook"}  # type: ignore[dict-item]
    with mpl.rc_context(STYLE):  # type: ignore[arg-type]
        figure.savefig(out, format=kind, dpi=160, metadata=metadata)
    return out.getvalue()


def _frame(panel: Axes, data: pd.DataFrame) -> None:
    names = list(dict.fromkeys(data["threshold"]))
    panel.set_ylim(-0.05, 1.05)  # a mark at 0 or 100 % stands whole
    panel.set_yticks([0, 0.25, 0.5, 0.75, 1.0], ["0", "25", "50", "75", "100 %"])
    panel.set_xlim(-0.5, len(names) - 0.5)
    panel.set_xticks(range(len(names)), names)
    panel.grid(axis="y", color="#dddddd", linewidth=0.6)
    panel.set_axisbelow(True)


def _group(panel: Axes, part: pd.DataFrame, spread: float, shade: str, marker: str) -> None:
    x = part["x"] + spread
    shown = part["rate"].notna()
    panel.vlines(x, part["bottom"], part["top"], color=shade, alpha=0.18, linewidth=9, capstyle="butt")
    for edge in ("bottom", "top"):
        panel.scatter(x, part[edge], marker="_", s=70, color=shade, linewidths=0.9)
    panel.vlines(x, part["low"], part["high"], color=shade, linewidth=1.5)
    panel.plot(x[shown], part["rate"][shown], color=shade, linewidth=0.7, linestyle=":", zorder=2)
    panel.scatter(x[shown], part["rate"][shown], marker=marker, s=34, color=shade, linewidths=0, zorder=3)
    _adequate(panel, part, x, shade, marker)
    for at, said in zip(x, part["instead"], strict=True):
        panel.text(at, 0.02, said, rotation=90, ha="center", va="bottom", fontsize=7, color=shade)


def _adequate(panel: Axes, part: pd.DataFrame, x: pd.Series[float], shade: str, marker: str) -> None:
    """The open marks, a fixed way to the right of the full ones however wide the panel is."""
    from matplotlib.transforms import offset_copy

    shown = part["rate_adequate"].notna()
    aside = offset_copy(panel.transData, fig=panel.get_figure(root=True), x=ASIDE, units="points")
    at, rate = x[shown], part["rate_adequate"][shown]
    panel.vlines(
        at, part["low_adequate"][shown], part["high_adequate"][shown], color=shade, linewidth=0.8
    ).set_transform(aside)
    panel.scatter(
        at,
        rate,
        marker=marker,
        s=30,
        facecolor="white",
        edgecolor=shade,
        linewidths=1.2,
        zorder=4,
        transform=aside,
    )


def _legend(panel: Axes, data: pd.DataFrame, names: Sequence[str], heading: str) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    marks: list[Line2D | Patch] = [
        Line2D([], [], color=shade, marker=marker, markeredgewidth=0, linewidth=1.5)
        for _, shade, marker in zip(names, SHADES, MARKERS, strict=False)
    ]
    words = list(names)
    if data["rate_adequate"].notna().any():
        look = {"marker": "o", "markerfacecolor": "white", "markeredgewidth": 1.2, "linewidth": 0.8}
        marks.append(Line2D([], [], color="#555555", **look))  # type: ignore[arg-type]
        words.append("open: on adequate studies,\nand those who need none")
    marks += [Line2D([], [], color="#555555", linewidth=1.5), Patch(facecolor="#555555", alpha=0.22)]
    words += ["interval", "lower to upper bound:\nthe unknown all failed,\nor all free"]
    panel.legend(
        marks,
        words,
        title=heading,
        loc="upper left",
        bbox_to_anchor=(1.03, 1.02),
        frameon=False,
        fontsize=8,
        title_fontsize=8.5,
        alignment="left",
        labelspacing=0.9,
        borderaxespad=0,
    )


def _named(part: pd.DataFrame, inches: float, *, bold: bool) -> str:
    """A group with its numbers: how many are known at each threshold, of how many eligible; and of the open marks."""
    eligible = int(part["eligible"].max()) if len(part) else 0
    lines = [str(part["group"].iloc[0]), f"n {_counts(part['n'])} of {eligible:,}"]
    if part["rate_adequate"].notna().any():
        lines.append(f"open n {_counts(part['n_adequate'])}")
    size, weight = (TITLE, "bold") if bold else (8, "normal")
    return "\n".join(folded(line, inches, size=size, weight=weight) for line in lines)


def _counts(numbers: pd.Series[int]) -> str:
    """One number a threshold, or the one they all are."""
    known = [f"{n:,}" for n in numbers]
    return known[0] if len(set(known)) == 1 else ", ".join(known)
