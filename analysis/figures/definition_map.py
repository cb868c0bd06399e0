"""The figure of the definition map: a panel a window and unit, thresholds across, a mark for every imaging policy.

A mark is the rate among those with a known status, the pale bar behind it reaches from all unknown failed to all free.
Policies differ by shape as well as by a colour that colour-blind readers and photocopiers keep apart (Okabe and Ito's).
Under each panel stand the numbers known, as under a survival curve. The definition asked for is ringed.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

import pandas as pd

from analysis.figures.stone_free import STYLE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LOOKS = (("#000000", "o"), ("#0072B2", "s"), ("#E69F00", "^"), ("#009E73", "D"), ("#CC79A7", "v"), ("#56B4E9", "P"))
"""Colour and marker of each policy."""
MODELLED = {"weighted": "_", "imputed": "x"}
"""Marks of what models give, at the definition asked for."""
SPREAD = 0.155
STRIP = 0.105
"""Height of one line of numbers under a panel, in panel heights."""


HEAD = 0.55
"""Inches above the panels, for title and legend."""


def draw_map(data: pd.DataFrame, *, title: str, notes: Sequence[str]) -> Figure:
    """The figure.

    data: one row a definition, with window, unit (its words), imaging, threshold (words), x (place of the threshold),
    n, rate, bottom and top (the bounds), weighted and imputed (NaN where not worked out), ringed (it is the definition
    asked for), cannot (no success is possible) and few (n is too small for a rate). Rows and columns of panels are
    windows and units in the order in which they come. notes: sentences below.

    Raises ValueError for more policies than there are marks, or no row.
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure as Canvas

    windows, units, policies = (list(dict.fromkeys(data[name])) for name in ("window", "unit", "imaging"))
    if not windows or len(policies) > len(LOOKS):
        raise ValueError(f"There are {len(policies)} imaging policies; the figure shows 1 to {len(LOOKS)}.")
    lines = [line for note in notes for line in textwrap.wrap(note, 185)]
    foot, strip = 0.12 + 0.15 * len(lines), STRIP * (len(policies) + 1)
    body, gap = 1.75, 0.42
    cell = body * (1 + strip) + gap
    height = HEAD + cell * len(windows) + foot
    with mpl.rc_context(STYLE):  # type: ignore[arg-type]
        figure = Canvas(figsize=(11.0, height))
        panels = figure.subplots(len(windows), len(units), squeeze=False)
        for row, window in enumerate(windows):
            for column, unit in enumerate(units):
                panel = panels[row][column]
                left, width = 0.085 + column * (0.905 / len(units)), 0.905 / len(units) - 0.035
                bottom = 1 - (HEAD + cell * row + gap * 0.55 + body) / height
                panel.set_position((left, bottom, width, body / height))
                part = data[(data["window"] == window) & (data["unit"] == unit)]
                panel.set_visible(not part.empty)  # a definition outside the grid has one panel in its row
                if part.empty:
                    continue
                _panel(panel, part, policies, int(data["x"].max()) + 1, names=column == 0)
                panel.set_title(f"{unit}, day {window}", fontsize=8.5, loc="left", fontweight="bold", pad=5)
        _legend(figure, policies, data, height)
        figure.text(0.03, 1 - 0.22 / height, title, fontsize=11.5, fontweight="bold", va="center")
        figure.text(0.03, foot / height, "\n".join(lines), fontsize=7, va="top", color="#333333", linespacing=1.35)
    return figure


def _panel(panel: Axes, part: pd.DataFrame, policies: Sequence[str], places: int, *, names: bool) -> None:
    ticks = part.drop_duplicates("x").sort_values("x")
    if part["ringed"].any():
        panel.set_facecolor("#fbf7ea")
    panel.set_xlim(-0.5, places - 0.5)
    panel.set_ylim(-0.05, 1.05)  # a mark at 0 or 100 % stands whole
    panel.set_yticks([0, 0.25, 0.5, 0.75, 1.0], ["0", "25", "50", "75", "100 %"] if names else [""] * 5, fontsize=7.5)
    panel.set_xticks(ticks["x"].tolist(), ticks["threshold"].tolist(), fontsize=7.5)
    panel.tick_params(axis="x", pad=2)
    panel.grid(axis="y", color="#dddddd", linewidth=0.6)
    panel.set_axisbelow(True)
    for edge in range(1, places):
        panel.axvline(edge - 0.5, color="#eeeeee", linewidth=0.8, zorder=0)
    for place, policy in enumerate(policies):
        colour, marker = LOOKS[place]
        own = part[part["imaging"] == policy].sort_values("x")
        x = own["x"] + (place - (len(policies) - 1) / 2) * SPREAD
        panel.vlines(x, own["bottom"], own["top"], color=colour, alpha=0.2, linewidth=6, capstyle="butt")
        shown = own["rate"].notna() & ~own["cannot"] & ~own["few"]
        panel.scatter(x[shown], own["rate"][shown], marker=marker, s=17, color=colour, linewidths=0, zorder=3)
        ringed = shown & own["ringed"]
        panel.scatter(x[ringed], own["rate"][ringed], marker="o", s=88, facecolor="none", edgecolor="#000000", zorder=4)
        for column, sign in MODELLED.items():
            panel.scatter(x, own[column], marker=sign, s=26, color="#000000", linewidths=1.3, zorder=5)
        _numbers(panel, own, place, policy if names else "")
    if names:
        below = panel.get_xaxis_transform()
        panel.text(
            -0.62, -STRIP * 1.05, "known", fontsize=6.6, ha="right", va="center", color="#666666", transform=below
        )


def _numbers(panel: Axes, own: pd.DataFrame, place: int, name: str) -> None:
    """One line of numbers known, under the panel, with the policy's mark."""
    colour, marker = LOOKS[place]
    y, below = -STRIP * (place + 2.05), panel.get_xaxis_transform()  # in panel heights
    panel.scatter([-0.47], [y], marker=marker, s=11, color=colour, linewidths=0, transform=below, clip_on=False)
    if name:
        panel.text(-0.62, y, name, fontsize=6.6, ha="right", va="center", transform=below)
    for row in own.to_dict("records"):
        said = f"({row['n']:,})" if row["cannot"] else f"{row['n']:,}"
        panel.text(
            row["x"],
            y,
            said,
            fontsize=6.2,
            ha="center",
            va="center",
            transform=below,
            color="#888888" if row["cannot"] else "#222222",
        )


def _legend(figure: Figure, policies: Sequence[str], data: pd.DataFrame, height: float) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    marks: list[Line2D | Patch] = [
        Line2D([], [], color=colour, marker=marker, linewidth=0, markersize=5)
        for _, (colour, marker) in zip(policies, LOOKS, strict=False)
    ]
    words = [*policies, "all unknown failed to all free", "the definition asked for"]
    marks.append(Patch(facecolor="#555555", alpha=0.25))
    marks.append(Line2D([], [], color="#000000", marker="o", markerfacecolor="none", linewidth=0, markersize=9))
    for column, sign in MODELLED.items():
        if data[column].notna().any():
            marks.append(Line2D([], [], color="#000000", marker=sign, linewidth=0, markersize=5.5, markeredgewidth=1.3))
            words.append(column)
    figure.legend(
        marks,
        words,
        loc="upper left",
        bbox_to_anchor=(0.03, 1 - 0.38 / height),
        ncols=len(words),
        frameon=False,
        fontsize=7.5,
        handletextpad=0.4,
        columnspacing=1.4,
        borderaxespad=0,
        borderpad=0,
    )
