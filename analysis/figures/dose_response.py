"""The dose-response figure: adjusted risk over the ratio, with its interval, and how many sides have each ratio.

One outcome, or two that may pull in opposite directions, on the same ratio axis. The reciprocal stands on top. Bars
below show where the data lie; a curve ends where they end.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from analysis.figures.fit import BAND_SHADES, reciprocal_ticks
from analysis.figures.page import DASHES, Wording, page_of
from analysis.figures.stone_free import MARKERS, SHADES, STYLE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_OUTCOMES = 3
WIDTH, LEFT, PLOT_WIDTH = 8.6, 0.85, 5.9
BARS, PLOT = 0.75, 3.5
NO_CURVES = ("outcome", "at", "estimate", "low", "high")


@dataclass(frozen=True)
class DoseWording(Wording):
    """exposure, value: what the axes are. percent: values are shares from 0 to 1. reciprocal: what the top axis is,
    None for an exposure without one. counted: what the bars count."""

    exposure: str = "sheath-to-scope ratio (sheath inner over scope shaft)"
    reciprocal: str | None = "its reciprocal, the scope-to-sheath ratio"
    value: str = "adjusted risk"
    percent: bool = True
    counted: str = "sides"


def _none() -> pd.DataFrame:
    return pd.DataFrame(columns=list(NO_CURVES))


@dataclass(frozen=True)
class DoseData:
    """What is drawn.

    curves: outcome (words), at (the exposure), estimate, low, high, along a grid within the data. counts: at, n.
    points: as curves, estimates at single places or categories, drawn as marks. compared: the values that a
    contrast names, drawn as lines. bands: name with low and high, shaded.
    """

    curves: pd.DataFrame
    counts: pd.DataFrame
    points: pd.DataFrame = field(default_factory=_none)
    compared: Sequence[float] = ()
    bands: Sequence[tuple[str, float, float]] = ()


def draw(data: DoseData, wording: DoseWording) -> Figure:
    """The figure.

    Raises ValueError for no outcome or more than MOST_OUTCOMES, and for a curve that leaves the data.
    """
    import matplotlib as mpl

    outcomes = list(dict.fromkeys([*data.curves["outcome"], *data.points["outcome"]]))
    if not 1 <= len(outcomes) <= MOST_OUTCOMES:
        raise ValueError(f"There are {len(outcomes)} outcomes; a dose-response figure shows 1 to {MOST_OUTCOMES}.")
    low, high = float(data.counts["at"].min()), float(data.counts["at"].max())
    drawn = np.concatenate([data.curves["at"].to_numpy(float), data.points["at"].to_numpy(float)])
    if drawn.min() < low - 1e-9 or drawn.max() > high + 1e-9:
        raise ValueError("A curve may not leave the values that sides have: there is nothing to read it from.")
    with mpl.rc_context(STYLE):  # type: ignore[arg-type]
        top = 0.55 if wording.reciprocal else 0.1
        page = page_of(wording, width=WIDTH, body=0.6 + BARS + 0.12 + PLOT + top, left=LEFT)
        bars = page.panel(left=LEFT, low=0.6, width=PLOT_WIDTH, height=BARS)
        panel = page.panel(left=LEFT, low=0.6 + BARS + 0.12, width=PLOT_WIDTH, height=PLOT)
        span = _span(low, high)
        _bars(bars, data.counts, span, wording)
        _frame(panel, data, span, wording)
        for place, outcome in enumerate(outcomes):
            _outcome(panel, data, outcome, place)
        _names(panel, data, outcomes)
    return page.figure


def _span(low: float, high: float) -> tuple[float, float]:
    pad = 0.04 * (high - low) or 0.05
    return low - pad, high + pad


def _bars(panel: Axes, counts: pd.DataFrame, span: tuple[float, float], wording: DoseWording) -> None:
    at, n = counts["at"].to_numpy(float), counts["n"].to_numpy(float)
    gaps = np.diff(np.sort(np.unique(at)))
    room = 0.022 * (span[1] - span[0])
    panel.bar(at, n, width=min(room, 0.8 * float(gaps.min())) if len(gaps) else room, color="#8d99a6")
    panel.set_xlim(span)
    panel.set_ylim(0, n.max() * 1.3)
    panel.set_yticks([0, n.max()], ["0", f"{int(n.max()):,}"])
    panel.tick_params(axis="y", labelsize=7.5)
    panel.tick_params(axis="x", length=3)
    panel.set_ylabel(wording.counted, fontsize=8.5)
    panel.set_xlabel(wording.exposure, fontsize=9)
    if len(at) <= 12 and (len(gaps) == 0 or gaps.min() > 0.045 * (span[1] - span[0])):
        for x, many in zip(at, n, strict=True):
            panel.text(x, many + 0.04 * n.max(), f"{int(many):,}", ha="center", va="bottom", fontsize=7)


def _frame(panel: Axes, data: DoseData, span: tuple[float, float], wording: DoseWording) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    panel.set_xlim(span)
    panel.tick_params(axis="x", labelbottom=False)
    _heights(panel, data, wording)
    panel.yaxis.set_major_locator(MaxNLocator(6, steps=[1, 2, 2.5, 5, 10]))
    if wording.percent:
        panel.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{100 * value:g} %"))
    panel.set_ylabel(wording.value, fontsize=9)
    panel.grid(axis="y", color="#e6e6e6", linewidth=0.6)
    panel.set_axisbelow(True)
    for (name, start, end), shade in zip(data.bands, BAND_SHADES, strict=False):
        begin, stop = max(span[0], start), min(span[1], end)
        if begin < stop:
            panel.axvspan(begin, stop, color=shade, zorder=0, linewidth=0)
        if stop - begin > 0.09 * (span[1] - span[0]):
            panel.text(
                begin + 0.008 * (span[1] - span[0]), 0.985, textwrap.fill(name, 12), va="top",
                transform=panel.get_xaxis_transform(), fontsize=7.2, color="#666666",
            )  # fmt: skip
    for at in data.compared:
        panel.axvline(at, color="#777777", linewidth=0.8, linestyle=":", zorder=1)
        panel.text(
            at, 0.01, f" {at:.2f}", transform=panel.get_xaxis_transform(), fontsize=7.5, color="#444444", va="bottom"
        )
    if wording.reciprocal:
        _reciprocal_axis(panel, span, wording.reciprocal)


def _heights(panel: Axes, data: DoseData, wording: DoseWording) -> None:
    """From 0, so that a risk's size can be seen; up to the highest limit, a share never beyond 1."""
    columns = ["estimate", "low", "high"]
    values = np.concatenate([data.curves[columns].to_numpy(float), data.points[columns].to_numpy(float)])
    top, bottom = float(np.nanmax(values)), float(np.nanmin(values))
    room = 1.18 if data.bands else 1.08
    panel.set_ylim(min(bottom, 0.0), min(top * room, 1.02) if wording.percent else top * room)


def _reciprocal_axis(panel: Axes, span: tuple[float, float], words: str) -> None:
    # A twin with ticks of its own: the scale below stays the one that is read.
    top = panel.twiny()
    top.set_xlim(span)
    top.spines["top"].set_visible(True)
    ticks = sorted(reciprocal_ticks(*span))
    top.set_xticks([1 / tick for tick in ticks], [f"{tick:g}" for tick in ticks])
    top.tick_params(axis="x", length=3)
    top.set_xlabel(words, fontsize=9)


def _outcome(panel: Axes, data: DoseData, outcome: str, place: int) -> None:
    shade, dash, marker = SHADES[place], DASHES[place], MARKERS[place]
    curve = data.curves[data.curves["outcome"] == outcome].sort_values("at")
    if len(curve):
        x = curve["at"].to_numpy(float)
        panel.fill_between(
            x, curve["low"].to_numpy(float), curve["high"].to_numpy(float), color=shade, alpha=0.16, linewidth=0
        )
        for edge in ("low", "high"):
            panel.plot(x, curve[edge].to_numpy(float), color=shade, linewidth=0.6, alpha=0.7, zorder=2)
        panel.plot(x, curve["estimate"].to_numpy(float), color=shade, linewidth=2, linestyle=dash, zorder=3)
    points = data.points[data.points["outcome"] == outcome]
    if len(points):
        panel.vlines(points["at"], points["low"], points["high"], color=shade, linewidth=1.4, zorder=3)
        panel.scatter(
            points["at"], points["estimate"], marker=marker, s=34, facecolor="white", edgecolor=shade, linewidths=1.6,
            zorder=4,
        )  # fmt: skip


def _names(panel: Axes, data: DoseData, outcomes: Sequence[str]) -> None:
    """Each outcome's name beside the right end of its curve, moved apart where they would meet."""
    bottom, top = panel.get_ylim()
    inch = (top - bottom) / PLOT
    last = -np.inf
    for end, place, outcome in sorted((_end(data, outcome), place, outcome) for place, outcome in enumerate(outcomes)):
        words = textwrap.fill(outcome, 21)
        tall = 0.15 * (words.count("\n") + 1) * inch
        middle = max(end, last + tall / 2, bottom + tall / 2)
        last = middle + tall / 2 + 0.05 * inch
        panel.annotate(
            words, (1, end), xycoords=("axes fraction", "data"), xytext=(1.055, middle), va="center", fontsize=8.5,
            textcoords=("axes fraction", "data"), color=SHADES[place], fontweight="bold", annotation_clip=False,
            arrowprops={"arrowstyle": "-", "color": SHADES[place], "linewidth": 0.6, "shrinkA": 1, "shrinkB": 0},
        )  # fmt: skip


def _end(data: DoseData, outcome: str) -> float:
    own = [frame[frame["outcome"] == outcome] for frame in (data.curves, data.points)]
    rows = own[0] if len(own[0]) else own[1]
    return float(rows.sort_values("at")["estimate"].iloc[-1])
