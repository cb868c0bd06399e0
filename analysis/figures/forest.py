"""The forest figure: estimates with their intervals beside a reference line, their numbers in columns.

A ratio stands on a logarithmic axis with the reference at 1, a difference on a plain one with the reference at 0. An
interval that reaches beyond the axis ends in an arrowhead. What has no number has its reason in the place of one.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd

from analysis.figures.page import Page, Wording, page_of
from analysis.figures.stone_free import SHADES, STYLE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_ROWS = 60
WIDTH, LEFT, PLOT, PLOT_WIDTH, RIGHT = 9.4, 0.2, 4.45, 2.75, 7.35
COUNTS = {"n": 3.65, "events": 4.3}
"""Where a column of counts ends, inches from the left."""
ROW, EXTRA = 0.25, 0.14
FOLD, FOLD_RIGHT = 38, 30
BEYOND = 4.0
"""Limits further than this many times from every estimate are cut off, with an arrowhead."""
DARK, PALE = SHADES[0], "#777777"


@dataclass(frozen=True)
class ForestWording(Wording):
    """scale: what the axis is, as `odds ratio`. linear: a difference, read from 0. sides: what an estimate below, and
    one above the reference means, or None. counts: headings of the columns n and events."""

    scale: str
    linear: bool = False
    sides: tuple[str, str] | None = None
    counts: tuple[str, str] = ("n", "events")

    @property
    def reference(self) -> float:
        """Where nothing is different."""
        return 0.0 if self.linear else 1.0


@dataclass(frozen=True)
class _Row:
    """A line of the figure: its words, where it stands (rows from the top), and its numbers (None for a heading)."""

    words: str
    at: float
    numbers: dict[str, Any] | None


def draw(rows: pd.DataFrame, wording: ForestWording) -> Figure:
    """The figure.

    rows: one a line from above, with label, group (a heading above lines that share it, or empty), estimate, low,
    high (NaN where not known; a limit may be infinite), n, events (NaN where it has none), instead (what is written in
    the place of the numbers, else empty) and main (True for the estimate the figure is about).

    Raises ValueError for no row or more than MOST_ROWS, for a ratio that is not above 0.
    """
    import matplotlib as mpl

    if not 1 <= len(rows) <= MOST_ROWS:
        raise ValueError(f"There are {len(rows)} rows; a forest figure shows 1 to {MOST_ROWS}.")
    if not wording.linear and ((rows["estimate"] <= 0) | (rows["low"] < 0)).any():
        raise ValueError("A ratio lies above 0; an estimate or a limit is not. A difference needs linear=True.")
    lines, tall = _lines(rows)
    with mpl.rc_context(STYLE):  # type: ignore[arg-type]
        page = page_of(wording, width=WIDTH, body=tall + (1.0 if wording.sides else 0.75), left=LEFT)
        low = 0.72 if wording.sides else 0.55
        panel = page.panel(left=PLOT, low=low, width=PLOT_WIDTH, height=tall)
        _frame(panel, rows, wording, tall)
        for line in lines:
            _line(panel, page, line, wording)
        _headings(panel, page, rows, wording, tall)
    return page.figure


def _lines(rows: pd.DataFrame) -> tuple[list[_Row], float]:
    """Every line with its place, inches from the top of the panel, and the height of all."""
    made: list[_Row] = []
    at, heading = 0.0, ""
    for row in rows.to_dict("records"):
        group = str(row["group"] or "")
        if group and group != heading:
            at += 0.06 if made else 0.0
            made.append(_Row(textwrap.shorten(group, 60), at + ROW / 2, None))
            at += ROW
        heading = group
        words = textwrap.fill(str(row["label"]), FOLD - (2 if group else 0))
        said = textwrap.fill(str(row["instead"] or ""), FOLD_RIGHT)
        tall = ROW + EXTRA * max(words.count("\n"), said.count("\n"))
        made.append(_Row(words, at + tall / 2, {str(name): value for name, value in row.items()} | {"group": group}))
        at += tall
    return made, at + 0.05


def _frame(panel: Axes, rows: pd.DataFrame, wording: ForestWording, tall: float) -> None:
    from matplotlib.ticker import FixedFormatter, FixedLocator, NullLocator

    low, high = reach(rows, wording.reference, linear=wording.linear)
    panel.set_xscale("linear" if wording.linear else "log")
    panel.set_xlim(low, high)
    panel.set_ylim(tall, 0)
    panel.set_yticks([])
    panel.spines["left"].set_visible(False)
    ticks = ticks_between(low, high, linear=wording.linear)
    panel.xaxis.set_major_locator(FixedLocator(ticks))
    panel.xaxis.set_major_formatter(FixedFormatter([f"{tick:g}" for tick in ticks]))
    panel.xaxis.set_minor_locator(NullLocator())
    panel.tick_params(axis="x", length=3, labelsize=8)
    panel.grid(axis="x", color="#e6e6e6", linewidth=0.6)
    panel.set_axisbelow(True)
    panel.axvline(wording.reference, color="#555555", linewidth=0.9, zorder=1)


def reach(rows: pd.DataFrame, reference: float, *, linear: bool) -> tuple[float, float]:
    """The ends of the axis: all estimates, the reference, and limits that are not too far off."""
    finite = [
        float(one) for name in ("low", "high") for one in rows[name] if math.isfinite(one) and (linear or one > 0)
    ]
    points = [float(one) for one in rows["estimate"].dropna()] + [reference]
    low, high = min(points + finite), max(points + finite)
    if linear:
        pad = 0.06 * (high - low) or 1.0
        return low - pad, high + pad
    low, high = max(low, min(points) / BEYOND), min(high, max(points) * BEYOND)
    pad = (high / low) ** 0.06 if high > low else 1.3
    return low / pad, high * pad


def ticks_between(low: float, high: float, *, linear: bool) -> list[float]:
    """Three to six round places on the axis, the steps of a ratio 1, 2, 5 or finer where these would be too few."""
    from matplotlib.ticker import MaxNLocator

    if not linear:
        for steps in ((1.0,), (1.0, 3.0), (1.0, 2.0, 5.0), (1.0, 1.5, 2.0, 3.0, 5.0, 7.0)):
            decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
            found = [round(step * 10.0**ten, 12) for ten in decades for step in steps]
            kept = [one for one in found if low <= one <= high]
            if 3 <= len(kept) <= 6:
                return kept
    found = [round(float(one), 12) for one in MaxNLocator(4).tick_values(low, high)]
    return [one for one in found if low <= one <= high]


def _line(panel: Axes, page: Page, line: _Row, wording: ForestWording) -> None:
    row = line.numbers
    if row is None:
        _text(panel, page, LEFT, line.at, line.words, fontweight="bold")
        return
    weight = "bold" if row["main"] else "normal"
    _text(panel, page, LEFT + (0.14 if row["group"] else 0), line.at, line.words, fontweight=weight)
    for name, place in COUNTS.items():
        if not math.isnan(row[name]):
            _text(panel, page, place, line.at, f"{int(row[name]):,}", ha="right")
    _interval(panel, row, line.at)
    _text(
        panel,
        page,
        RIGHT,
        line.at,
        in_words(row, linear=wording.linear),
        fontweight=weight,
        color=PALE if row["instead"] else DARK,
    )


def _interval(panel: Axes, row: dict[str, Any], at: float) -> None:
    low, high = panel.get_xlim()
    if math.isnan(row["estimate"]):
        return
    if not (math.isnan(row["low"]) or math.isnan(row["high"])):
        begin, end = max(row["low"], low), min(row["high"], high)
        panel.plot([begin, end], [at, at], color=DARK, linewidth=1.6, solid_capstyle="butt", zorder=2)
        for cut, edge, marker in ((row["low"] < low, low, "<"), (row["high"] > high, high, ">")):
            if cut:
                panel.plot(edge, at, marker=marker, markersize=5, color=DARK, clip_on=False, zorder=3)
    filled = SHADES[1] if row["main"] else "white"
    marker, size = ("D", 6.0) if row["main"] else ("o", 5.5)
    rim = SHADES[1] if row["main"] else DARK
    panel.plot(
        row["estimate"], at, marker=marker, markersize=size, markerfacecolor=filled, markeredgecolor=rim,
        markeredgewidth=1.4, linewidth=0, zorder=4,
    )  # fmt: skip


def in_words(row: dict[str, Any], *, linear: bool) -> str:
    """The numbers of a line as they are printed, or what stands in their place."""
    if row["instead"]:
        return textwrap.fill(str(row["instead"]), FOLD_RIGHT)
    if math.isnan(row["estimate"]):
        return "no estimate"
    known = [row[name] for name in ("estimate", "low", "high") if not math.isnan(row[name])]
    # A difference has the same places throughout, a ratio as many as each number needs.
    places = _places(max(abs(one) for one in known if math.isfinite(one))) if linear else None
    if len(known) < 3:
        return _round(row["estimate"], places)
    return f"{_round(row['estimate'], places)} ({_round(row['low'], places)} to {_round(row['high'], places)})"


def _places(size: float) -> int:
    return 0 if size >= 100 else 1 if size >= 10 else 2 if size >= 1 else 3


def _round(value: float, places: int | None) -> str:
    if math.isinf(value):
        return "no limit"
    if places is None:
        places = 2 if 0.1 <= value < 1 or value == 0 else _places(value)
    return f"{value:,.{places}f}"


def _headings(panel: Axes, page: Page, rows: pd.DataFrame, wording: ForestWording, tall: float) -> None:
    for (name, place), words in zip(COUNTS.items(), wording.counts, strict=True):
        if rows[name].notna().any():
            _text(panel, page, place, -0.15, words, ha="right", color=PALE)
    _text(panel, page, RIGHT, -0.15, f"{wording.scale} (interval)", color=PALE)
    panel.set_xlabel(wording.scale + ("" if wording.linear else ", logarithmic"), fontsize=8.5, labelpad=2)
    for words, place, align in zip(wording.sides or (), (PLOT, PLOT + PLOT_WIDTH), ("left", "right"), strict=False):
        said = f"◂ {words}" if align == "left" else f"{words} ▸"
        _text(panel, page, place, tall + 0.53, said, ha=align, fontsize=7.5, color="#333333")


def _text(panel: Axes, page: Page, inches: float, at: float, words: str, **more: Any) -> None:
    """Words at so many inches from the page's left edge, in the height of a line."""
    panel.text(
        (inches - PLOT) / PLOT_WIDTH, at, words, transform=panel.get_yaxis_transform(), va="center", clip_on=False,
        **{"fontsize": 8.5, "linespacing": 1.15, **more},
    )  # fmt: skip


def columns() -> Sequence[str]:
    """The columns that `draw` reads."""
    return ("label", "group", "estimate", "low", "high", "n", "events", "instead", "main")
