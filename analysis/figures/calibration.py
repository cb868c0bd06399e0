"""The calibration figure: what happened against what was predicted, and how the predictions are spread.

A mark is a group of like risk with its interval, a line a smooth curve; on the diagonal a prediction comes true. Bars
below count those with the outcome upwards and those without it downwards.
"""

from __future__ import annotations

import math
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

MOST_CURVES = 3
WIDTH, LEFT, SIDE, BARS = 7.4, 0.85, 4.2, 0.9


@dataclass(frozen=True)
class CalibrationWording(Wording):
    """outcome: what was predicted. figures: lines beside the panel, as `slope 0.92 (0.71 to 1.13)`."""

    outcome: str
    figures: Sequence[str] = ()


@dataclass(frozen=True)
class CalibrationData:
    """What is drawn, all from 0 to 1.

    groups: predicted, observed, low, high (NaN where not shown), n, events. curves: curve (its words), predicted,
    observed. spread: low and high of a bin of predictions, how many with_it and without_it.
    """

    groups: pd.DataFrame
    curves: pd.DataFrame
    spread: pd.DataFrame


def draw(data: CalibrationData, wording: CalibrationWording) -> Figure:
    """The figure.

    Raises ValueError for nothing to show, for more than MOST_CURVES curves, and for a share that is not within 0 and 1.
    """
    import matplotlib as mpl

    names = list(dict.fromkeys(data.curves["curve"]))
    if len(names) > MOST_CURVES or not (len(names) or len(data.groups)):
        raise ValueError(f"A calibration figure shows marks or curves, at most {MOST_CURVES} curves.")
    shown = np.concatenate(
        [data.groups[["predicted", "observed"]].to_numpy(float), data.curves[["predicted", "observed"]].to_numpy(float)]
    )
    if (shown < 0).any() or (shown > 1).any():
        raise ValueError("A predicted or observed share lies between 0 and 1; some lie outside.")
    end = far(data)
    with mpl.rc_context(STYLE):  # type: ignore[arg-type]
        page = page_of(wording, width=WIDTH, body=0.55 + BARS + 0.12 + SIDE, left=LEFT)
        bars = page.panel(left=LEFT, low=0.55, width=SIDE, height=BARS)
        panel = page.panel(left=LEFT, low=0.55 + BARS + 0.12, width=SIDE, height=SIDE)
        _bars(bars, data.spread, end, wording)
        _frame(panel, end, wording)
        for place, name in enumerate(names):
            part = data.curves[data.curves["curve"] == name].sort_values("predicted")
            panel.plot(
                part["predicted"], part["observed"], color=SHADES[place + 1], linestyle=DASHES[place], linewidth=1.7
            )
        _groups(panel, data.groups)
        _beside(panel, names, data, wording)
    return page.figure


def far(data: CalibrationData) -> float:
    """The end of both axes: all that is shown, on a tenth; a prediction of a rare outcome gets the room it needs."""
    values = [
        data.groups[["predicted", "observed", "high"]].to_numpy(float).ravel(),
        data.curves[["predicted", "observed"]].to_numpy(float).ravel(),
        data.spread.loc[data.spread["with_it"] + data.spread["without_it"] > 0, "high"].to_numpy(float),
    ]
    top = float(np.nanmax(np.concatenate(values)))
    parts = 10 if top > 0.1 else 50
    return min(1.0, math.ceil(max(top, 0.01) * parts) / parts)


def _frame(panel: Axes, end: float, wording: CalibrationWording) -> None:
    panel.plot([0, end], [0, end], color="#888888", linewidth=0.9, linestyle=(0, (4, 3)), zorder=1)
    panel.set_xlim(0, end * 1.01)
    panel.set_ylim(0, end * 1.01)
    panel.tick_params(axis="x", labelbottom=False)
    panel.yaxis.set_major_formatter(lambda value, _: f"{100 * value:g} %")
    panel.set_ylabel(f"observed share with {wording.outcome}", fontsize=9)
    panel.grid(color="#ececec", linewidth=0.6)
    panel.set_axisbelow(True)


def _groups(panel: Axes, groups: pd.DataFrame) -> None:
    if len(groups):
        known = groups[groups["low"].notna()]
        panel.vlines(known["predicted"], known["low"], known["high"], color=SHADES[0], linewidth=1.3, zorder=3)
        panel.scatter(
            groups["predicted"], groups["observed"], s=34, facecolor="white", edgecolor=SHADES[0], linewidths=1.6,
            zorder=4, clip_on=False,
        )  # fmt: skip


def _bars(panel: Axes, spread: pd.DataFrame, end: float, wording: CalibrationWording) -> None:
    left, wide = spread["low"].to_numpy(float), (spread["high"] - spread["low"]).to_numpy(float)
    up, down = spread["with_it"].to_numpy(float), spread["without_it"].to_numpy(float)
    panel.bar(left, up, width=wide * 0.9, align="edge", color=SHADES[1])
    panel.bar(left, -down, width=wide * 0.9, align="edge", color="#9aa7b3")
    panel.axhline(0, color="#555555", linewidth=0.7)
    panel.set_xlim(0, end * 1.01)
    most_up, most_down = max(up.max(initial=0), 1), max(down.max(initial=0), 1)
    reach = max(most_up, most_down)
    panel.set_ylim(-max(most_down, 0.2 * reach) * 1.15, max(most_up, 0.2 * reach) * 1.15)
    ticks = [-most_down, most_up]
    panel.set_yticks(ticks, [f"{int(abs(tick)):,}" for tick in ticks])
    panel.tick_params(axis="both", labelsize=7.5)
    panel.tick_params(axis="x", length=3, labelsize=9)
    panel.xaxis.set_major_formatter(lambda value, _: f"{100 * value:g} %")
    panel.set_xlabel("predicted probability", fontsize=9)
    for height, words, shade in ((0.98, "with it", SHADES[1]), (0.04, "without", "#66727d")):
        panel.text(
            1.02, height, words, transform=panel.transAxes, fontsize=8, color=shade,
            va="top" if height > 0.5 else "bottom",
        )  # fmt: skip


def _beside(panel: Axes, names: Sequence[str], data: CalibrationData, wording: CalibrationWording) -> None:
    from matplotlib.lines import Line2D

    marks = [Line2D([], [], color="#888888", linewidth=0.9, linestyle=(0, (4, 3)))]
    words = ["predictions come true"]
    if len(data.groups):
        marks.append(Line2D([], [], color=SHADES[0], marker="o", markerfacecolor="white", markeredgewidth=1.6))
        words.append("groups of like risk,\nwith interval")
    marks += [
        Line2D([], [], color=SHADES[place + 1], linestyle=DASHES[place], linewidth=1.7) for place in range(len(names))
    ]
    words += list(names)
    panel.legend(
        marks, words, loc="upper left", bbox_to_anchor=(1.02, 1.0), frameon=False, fontsize=8, borderaxespad=0,
        handlelength=3, labelspacing=0.8,
    )  # fmt: skip
    panel.text(1.04, 0.52, "\n".join(wording.figures), transform=panel.transAxes, fontsize=8, va="top", linespacing=1.6)
