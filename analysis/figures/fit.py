"""The figure of the fit: pressure for the same idealised flow over the sheath-to-scope ratio.

One curve a scope, because at one ratio a thicker scope leaves a wider gap: full where the scope is centred, dashed
where it lies on the wall, both relative to the centred reference. The pressure axis is logarithmic; the
scope-to-sheath ratio, whose published bands are shaded, stands on top. A filled mark is a pair that was asked, an
open circle a pair of the unit, the larger the more sides had it.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd

from analysis.figures.stone_free import MARKERS, SHADES, STYLE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_SCOPES = len(SHADES)
MOST_LABELS = 12
"""Of the unit's pairs so many are written beside their circle, those with most sides; the table has all."""
BAND_SHADES = ("#f3e3da", "#f7f1ea", "#e9f0ef")
OTHER = "#9a9a9a"
LETTER = 0.13
PLACES = (
    (0.14, 0.12), (-0.14, -0.12), (0.16, 0.0), (-0.16, 0.0), (0.14, -0.14), (0.14, 0.26), (-0.14, -0.26),
    (0.14, -0.28), (0.45, 0.35), (-0.45, -0.35), (0.45, 0.6), (-0.45, -0.6), (0.45, 0.85), (-0.45, -0.85),
)  # fmt: skip
"""Where a name may stand from its mark, right and up in inches, best first."""
LEADER = {"arrowstyle": "-", "color": "#888888", "linewidth": 0.5, "shrinkA": 0, "shrinkB": 3}


@dataclass(frozen=True)
class FitWording:
    """title: above. notes: sentences below. reference: the pair at 1, in words."""

    title: str
    notes: Sequence[str]
    reference: str


@dataclass(frozen=True)
class FitData:
    """What is drawn.

    curves: scope (words), asked (whether it was asked), position (centred, on the wall), ratio (sheath to scope),
    pressure (NaN where withheld). asked: pair, scope, ratio, pressure, label. own: pair,
    scope, ratio, pressure, sides, label.
    bands: name with low and high sheath-to-scope ratio, tightest first. span: the ratios shown, low and high.
    """

    curves: pd.DataFrame
    asked: pd.DataFrame
    own: pd.DataFrame
    bands: Sequence[tuple[str, float, float]]
    span: tuple[float, float]


def draw(data: FitData, wording: FitWording) -> Figure:
    """The figure. Raises ValueError for more asked scopes than MOST_SCOPES."""
    import matplotlib as mpl
    from matplotlib.figure import Figure as Canvas

    scopes = list(dict.fromkeys(data.curves.loc[data.curves["asked"], "scope"]))
    if len(scopes) > MOST_SCOPES:
        raise ValueError(f"There are {len(scopes)} scopes; a figure shows at most {MOST_SCOPES}.")
    looks = dict(zip(scopes, zip(SHADES, MARKERS, strict=True), strict=False))
    notes = [line for note in wording.notes for line in textwrap.wrap(note, 135)]
    foot = 0.2 + 0.155 * len(notes)
    height = 1.05 + 4.6 + 0.55 + foot
    with mpl.rc_context(STYLE):  # type: ignore[arg-type]
        figure = Canvas(figsize=(8.6, height))
        panel = figure.subplots()
        figure.subplots_adjust(left=0.09, right=0.76, top=1 - 1.05 / height, bottom=(foot + 0.55) / height)
        _frame(panel, data, wording)
        _curves(panel, data.curves, looks)
        _own(panel, data.own)
        _asked(panel, data.asked, looks)
        _labels(panel, data, looks)
        _legend(panel, data, looks)
        figure.text(0.09, 1 - 0.3 / height, wording.title, fontsize=11, fontweight="bold", va="center")
        figure.text(
            0.09, (foot - 0.1) / height, "\n".join(notes), fontsize=7.2, va="top", color="#333333", linespacing=1.35
        )
    return figure


def _frame(panel: Axes, data: FitData, wording: FitWording) -> None:
    from matplotlib.ticker import FuncFormatter, NullFormatter

    low, high = data.span
    panel.set_xlim(low, high)
    panel.set_yscale("log")
    panel.set_ylim(*_reach(data))
    panel.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    panel.yaxis.set_minor_formatter(NullFormatter())
    panel.set_xlabel("sheath-to-scope ratio (sheath inner over scope shaft)", fontsize=9)
    panel.set_ylabel(f"pressure for the same flow, {wording.reference} = 1", fontsize=9)
    panel.grid(axis="y", color="#ffffff", linewidth=0.8)
    panel.set_axisbelow(True)
    top = panel.secondary_xaxis("top", functions=(_reciprocal, _reciprocal))
    top.set_xlabel("its reciprocal, the scope-to-sheath ratio; published bands shaded", fontsize=9)
    top.set_xticks(reciprocal_ticks(low, high))
    for (name, start, end), shade in zip(data.bands, BAND_SHADES, strict=True):
        begin, stop = max(low, start), min(high, end)
        if begin < stop:
            panel.axvspan(begin, stop, color=shade, zorder=0, linewidth=0)
        if stop - begin > 0.09 * (high - low):  # else there is no room for its name
            panel.text(
                begin + 0.008 * (high - low), 0.015, textwrap.fill(name, 10), transform=panel.get_xaxis_transform(),
                ha="left", va="bottom", fontsize=7.5, color="#555555",
            )  # fmt: skip
    panel.axhline(1, color="#777777", linewidth=0.7, linestyle=":", zorder=1)


def _reciprocal(value: Any) -> Any:
    import numpy as np

    # Matplotlib tries 0 while it lays the axis out; an infinite end would make its ticks meaningless.
    return 1 / np.maximum(np.asarray(value, dtype=np.float64), 1e-3)


def reciprocal_ticks(low: float, high: float) -> list[float]:
    """Round reciprocals between two ratios that have room beside one another, those of the bands before others."""
    kept: list[float] = []
    for tick in (0.85, 0.75, *(round(1 - 0.05 * step, 2) for step in range(1, 20))):
        near = any(abs(1 / tick - 1 / other) < 0.052 * (high - low) for other in kept)
        if low <= 1 / tick <= high and not near:
            kept.append(tick)
    return kept


def _reach(data: FitData) -> tuple[float, float]:
    """The pressures shown: all marks, and the course of the curves above them."""
    marks = [1.0, *data.asked["pressure"].dropna(), *data.own["pressure"].dropna()]
    return min(marks) / 2.5, max(max(marks) * 6, 20.0)


def _curves(panel: Axes, curves: pd.DataFrame, looks: dict[str, tuple[str, str]]) -> None:
    for (scope, position), part in curves.groupby(["scope", "position"], sort=False):
        shade = looks[scope][0] if scope in looks else OTHER
        dashed = (0, (4, 2)) if position == "on the wall" else "-"
        panel.plot(
            part["ratio"],
            part["pressure"],
            color=shade,
            linewidth=1.5 if scope in looks else 0.8,
            linestyle=dashed,
            zorder=2,
        )


def _asked(panel: Axes, asked: pd.DataFrame, looks: dict[str, tuple[str, str]]) -> None:
    for row in asked.dropna(subset=["pressure"]).to_dict("records"):
        shade, marker = looks[row["scope"]]
        panel.scatter(row["ratio"], row["pressure"], marker=marker, s=42, color=shade, zorder=5)


def _own(panel: Axes, own: pd.DataFrame) -> None:
    shown = own.dropna(subset=["pressure"])
    if len(shown):
        size = 70 + 330 * shown["sides"] / float(shown["sides"].max())
        panel.scatter(shown["ratio"], shown["pressure"], s=size, facecolor="none", edgecolor="#333333", zorder=4)


def _labels(panel: Axes, data: FitData, looks: dict[str, tuple[str, str]]) -> None:
    """Each pair's name beside its mark, where it covers neither a mark nor another name, else not at all.

    Asked pairs come first; the table has every pair.
    """
    from matplotlib.patheffects import withStroke

    own = data.own.dropna(subset=["pressure"]).sort_values("sides", ascending=False, kind="stable").head(MOST_LABELS)
    asked = data.asked.dropna(subset=["pressure"])
    wanted = [(row, looks[row["scope"]][0], "bold") for row in asked.to_dict("records")]
    wanted += [(row, "#333333", "normal") for row in own[~own["pair"].isin(asked["pair"])].to_dict("records")]
    inches = panel.figure.dpi_scale_trans.inverted()
    frame = panel.get_window_extent().transformed(inches)
    taken = []
    for row, _, _ in wanted:
        x, y = inches.transform(panel.transData.transform((row["ratio"], row["pressure"])))
        taken.append((x - 0.09, y - 0.09, x + 0.09, y + 0.09))
    for row, shade, weight in wanted:
        x, y = inches.transform(panel.transData.transform((row["ratio"], row["pressure"])))
        width = 0.062 * len(row["label"])
        for right, up in PLACES:
            left, low = x + right - (width if right < 0 else 0), y + up - LETTER / 2
            box = (left, low, left + width, low + LETTER)
            inside = frame.x0 < box[0] and box[2] < frame.x1 and frame.y0 < box[1] and box[3] < frame.y1
            if inside and not any(_meet(box, other) for other in taken):
                taken.append(box)
                name = panel.annotate(
                    row["label"], (row["ratio"], row["pressure"]), xytext=(72 * right, 72 * up), zorder=6,
                    textcoords="offset points", fontsize=7.2, color=shade, fontweight=weight, va="center",
                    ha="right" if right < 0 else "left", arrowprops=LEADER if max(abs(right), abs(up)) > 0.3 else None,
                )  # fmt: skip
                name.set_path_effects([withStroke(linewidth=1.8, foreground="white")])
                break


def _meet(one: Sequence[float], other: Sequence[float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _legend(panel: Axes, data: FitData, looks: dict[str, tuple[str, str]]) -> None:
    from matplotlib.lines import Line2D

    marks = [Line2D([], [], color=shade, marker=marker, linewidth=1.5) for shade, marker in looks.values()]
    words = [f"scope {scope}" for scope in looks]
    others = list(dict.fromkeys(data.curves.loc[~data.curves["asked"], "scope"]))
    if others:
        marks.append(Line2D([], [], color=OTHER, linewidth=0.8))
        words.append(textwrap.fill(f"the unit's other scopes: {', '.join(others)}", 24))
    marks += [Line2D([], [], color="#555555"), Line2D([], [], color="#555555", linestyle=(0, (4, 2)))]
    words += ["scope centred", "scope on the wall,\nagainst the reference\ncentred"]
    if len(data.own):
        marks.append(Line2D([], [], color="#333333", marker="o", markersize=10, markerfacecolor="none", linewidth=0))
        words.append("the unit's own pairs,\nlarger with more sides\n(n)")
    panel.legend(
        marks, words, loc="upper left", bbox_to_anchor=(1.02, 1.0), frameon=False, fontsize=8, labelspacing=0.9,
        borderaxespad=0,
    )  # fmt: skip
