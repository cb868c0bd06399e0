"""The figure of complications: of each group the worst grades, laid end to end, with what is not known beside.

A bar runs from death at the axis to the mildest grade, so that its end is the share with any complication and each
border the share with that grade or worse. The line at its end is the interval of any complication; the pale band behind
runs from the lower to the upper bound, that is over what the unreviewed may have had. Grades differ by hatching as well
as by shade, so that the figure survives a photocopier.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from analysis.figures.stone_free import STYLE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_GROUPS = 24
PARTS = (
    ("V", "V", "#1a1a1a", ""),
    ("IV", "IV", "#7a1f2b", ""),
    ("III", "III", "#c2571a", "///"),
    ("II", "II", "#e3b04b", ""),
    ("I", "I", "#cfd8d0", "..."),
    ("open", "grade not known", "#ffffff", "xxx"),
)
"""Columns of the data, how they are called, shade and hatching, from the axis outwards."""
BAND = "#b9c7d6"


@dataclass(frozen=True)
class Wording:
    """title: above the figure. notes: sentences below it."""

    title: str
    notes: Sequence[str]


def draw(data: pd.DataFrame, wording: Wording) -> Figure:
    """The figure.

    data: one row a group and window, with group, days, n, eligible, the shares in the columns of PARTS, any, low, high,
    bottom and top (the bounds), and instead: what is written in the place of shares that are not shown, else empty.

    Raises ValueError for more than MOST_GROUPS groups, or none.
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure as Canvas

    groups, days = list(dict.fromkeys(data["group"])), list(dict.fromkeys(data["days"]))
    if not 1 <= len(groups) <= MOST_GROUPS:
        raise ValueError(f"There are {len(groups)} groups; a figure shows 1 to {MOST_GROUPS}.")
    notes = [line for note in wording.notes for line in textwrap.wrap(note, 130)]
    foot, body = 0.2 + 0.155 * len(notes), 0.55 + 0.5 * len(groups)
    height = 1.05 + body + 0.6 + foot
    with mpl.rc_context(STYLE):  # type: ignore[arg-type]
        figure = Canvas(figsize=(8.0, height))
        panels = figure.subplots(1, len(days), squeeze=False, sharex=True, sharey=True).ravel()
        figure.subplots_adjust(left=0.24, right=0.975, top=1 - 1.05 / height, bottom=(foot + 0.6) / height, wspace=0.16)
        reach = data[["top", "high", "any"]].max().max()
        for panel, day in zip(panels, days, strict=True):
            own = data[data["days"] == day].set_index("group").reindex(groups).reset_index()
            _bars(panel, own)
            panel.set_title(f"within {day} days", fontsize=9, loc="left")
            _axis(panel, groups, min(1.0, (reach if reach > 0 else 0.1) * 1.15))
        _legend(figure, height)
        figure.text(0.02, 1 - 0.28 / height, wording.title, fontsize=11, fontweight="bold", va="center")
        figure.text(
            0.02, (foot - 0.1) / height, "\n".join(notes), fontsize=7.2, va="top", color="#333333", linespacing=1.35
        )
        figure.supxlabel("share of the reviewed, by worst grade", fontsize=9, y=(foot + 0.05) / height)
    return figure


def _bars(panel: Axes, own: pd.DataFrame) -> None:
    for at, row in enumerate(own.to_dict("records")):
        if row["instead"]:
            panel.text(0, at, f" {row['instead']}", va="center", fontsize=7.5, color="#444444")
            continue
        if pd.notna(row["top"]):
            panel.barh(at, row["top"] - row["bottom"], left=row["bottom"], height=0.6, color=BAND, alpha=0.55, zorder=1)
        start = 0.0
        for name, _, shade, hatch in PARTS:
            panel.barh(
                at, row[name], left=start, height=0.4, color=shade, hatch=hatch, edgecolor="#444444",
                linewidth=0.5 if row[name] > 0 else 0.0, zorder=2,
            )  # fmt: skip
            start += row[name]
        if pd.notna(row["low"]):
            panel.errorbar(
                row["any"], at, xerr=[[max(0.0, row["any"] - row["low"])], [max(0.0, row["high"] - row["any"])]],
                fmt="none", ecolor="#1b2a41", elinewidth=1.3, capsize=3, zorder=3,
            )  # fmt: skip
        panel.text(1.0, at - 0.42, f"n {row['n']:,} of {row['eligible']:,}", transform=panel.get_yaxis_transform(),
                   ha="right", va="center", fontsize=6.8, color="#333333", zorder=4)  # fmt: skip


def _axis(panel: Axes, groups: Sequence[str], reach: float) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    panel.set_ylim(len(groups) - 0.45, -0.55)
    panel.set_yticks(range(len(groups)), [_folded(group) for group in groups])
    panel.set_xlim(0, reach)
    panel.xaxis.set_major_locator(MaxNLocator(5, prune="upper"))
    panel.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{100 * value:g} %"))
    panel.tick_params(axis="y", length=0)
    panel.grid(axis="x", color="#dddddd", linewidth=0.6)
    panel.set_axisbelow(True)


def _folded(group: object) -> str:
    return textwrap.fill(str(group).replace("+", " + "), 22, break_long_words=False)


def _legend(figure: Figure, height: float) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    marks: list[Patch | Line2D] = [
        Patch(facecolor=shade, hatch=hatch, edgecolor="#444444", linewidth=0.5) for _, _, shade, hatch in PARTS
    ]
    words = [name for _, name, _, _ in PARTS]
    marks += [Line2D([], [], color="#1b2a41", linewidth=1.3), Patch(facecolor=BAND, alpha=0.55)]
    words += ["interval of any", "lower to upper bound"]
    figure.legend(
        marks, words, loc="upper left", bbox_to_anchor=(0.015, 1 - 0.42 / height), ncols=len(words), frameon=False,
        fontsize=7.5, columnspacing=1.1, handlelength=1.6, borderaxespad=0,
    )  # fmt: skip
