"""Figures of cost: the plane of two groups compared, and cost per stone-free case by group.

The plane: every grey point is one resample of patients, its place the difference in stone-free rate (across) and in
mean cost (up), index minus comparator; the ring is the estimate, the corners say what share of the resamples lies
there. Below and right of a dashed line the index is worth its cost at the amount written on it. By group: a point is
the cost per case among courses of known status, its line the interval; the pale bar reaches from the cost when every
course of unknown status is stone-free to that when each has failed.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.figures.stone_free import MARKERS, SHADES, STYLE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_GROUPS = 24
MOST_PANELS = 3
INK, PALE = "#333333", "#9aa5b1"
LETTERS_AN_INCH = 15.6
"""Of a note in its size, with room to spare."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Panel:
    """One plane. name: above it. cloud: differences in rate (0 to 1) and cost, shape (resamples, 2). rate, cost: the
    estimate. shares: of the quadrants more_more, more_less, less_more, less_less (cost, then effect). instead: what
    stands in the place of all this when there is nothing to show."""

    name: str
    cloud: npt.NDArray[np.float64]
    rate: float
    cost: float
    shares: dict[str, float]
    instead: str = ""


def draw_plane(
    panels: Sequence[Panel], *, title: str, notes: Sequence[str], money: str, willing: Sequence[float] = ()
) -> Figure:
    """The plane, one panel a threshold, all on the same scales. Raises ValueError for none or more than MOST_PANELS."""
    import matplotlib as mpl
    from matplotlib.figure import Figure as Canvas

    if not 1 <= len(panels) <= MOST_PANELS:
        raise ValueError(f"There are {len(panels)} panels; a figure shows 1 to {MOST_PANELS}.")
    width = 9.0 if len(panels) > 1 else 6.6
    said = _wrapped(notes, width)
    foot = 0.25 + 0.155 * len(said)
    body = 3.4 if len(panels) > 1 else 4.4
    height = 0.95 + body + 0.55 + foot
    across, up = _reach(panels)
    with mpl.rc_context(STYLE):  # type: ignore[arg-type]
        figure = Canvas(figsize=(width, height))
        places = figure.subplots(1, len(panels), squeeze=False, sharex=True, sharey=True)[0]
        left = 0.1 if len(panels) > 1 else 0.14
        figure.subplots_adjust(
            left=left, right=0.985, top=1 - 0.95 / height, bottom=(foot + 0.55) / height, wspace=0.08
        )
        for place, panel in zip(places, panels, strict=True):
            place.set_xlim(*across)
            place.set_ylim(*up)
            place.yaxis.set_major_formatter(lambda value, _: f"{value:,.0f}".replace("-", "\N{MINUS SIGN}"))
            _plane(place, panel, willing)
        places[0].set_ylabel(f"difference in mean cost{f', {money}' if money else ''}")
        figure.text(0.02, 1 - 0.3 / height, title, fontsize=11, fontweight="bold", va="center")
        figure.text(0.02, (foot - 0.1) / height, "\n".join(said), fontsize=7.2, va="top", color=INK, linespacing=1.35)
    return figure


def draw_groups(data: pd.DataFrame, *, title: str, notes: Sequence[str], money: str) -> Figure:
    """Cost per stone-free case by group and threshold.

    data: one row a group and threshold, with group, threshold (words), stone_free, n, cost, low, high, bottom and top
    (the bounds), and instead (what is written where no cost is shown, else empty; then the numbers are NaN). A top
    that is infinite has no end.

    Raises ValueError for no group, or more than MOST_GROUPS.
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure as Canvas

    groups, thresholds = list(dict.fromkeys(data["group"])), list(dict.fromkeys(data["threshold"]))
    if not 1 <= len(groups) <= MOST_GROUPS:
        raise ValueError(f"There are {len(groups)} groups; a figure shows 1 to {MOST_GROUPS}.")
    said = _wrapped(notes, 8.0)
    foot, body = 0.25 + 0.155 * len(said), max(1.6, len(groups) * (0.24 + 0.2 * len(thresholds)))
    height = 0.95 + body + 0.6 + foot
    with mpl.rc_context(STYLE):  # type: ignore[arg-type]
        figure = Canvas(figsize=(8.0, height))
        place = figure.subplots()
        figure.subplots_adjust(left=0.25, right=0.985, top=1 - 0.95 / height, bottom=(foot + 0.6) / height)
        _by_group(place, data, groups, thresholds)
        place.set_xlabel(f"cost per stone-free case{f', {money}' if money else ''}")
        figure.text(0.02, 1 - 0.3 / height, title, fontsize=11, fontweight="bold", va="center")
        figure.text(0.02, (foot - 0.1) / height, "\n".join(said), fontsize=7.2, va="top", color=INK, linespacing=1.35)
    return figure


def _plane(place: Axes, panel: Panel, willing: Sequence[float]) -> None:
    place.set_title(panel.name, fontsize=9, loc="left")
    place.set_xlabel("difference in rate, points")
    if panel.instead:
        place.text(0.5, 0.5, panel.instead, transform=place.transAxes, ha="center", va="center", color=INK)
        return
    place.axhline(0, color="#777777", linewidth=0.8)
    place.axvline(0, color="#777777", linewidth=0.8)
    place.scatter(100 * panel.cloud[:, 0], panel.cloud[:, 1], s=5, color=PALE, alpha=0.35, linewidths=0, zorder=2)
    place.scatter(100 * panel.rate, panel.cost, s=55, facecolor="white", edgecolor=SHADES[1], linewidths=1.8, zorder=4)
    for amount in willing:
        _worth(place, amount)
    corners = {
        "more_more": (0.98, 0.98),
        "more_less": (0.02, 0.98),
        "less_more": (0.98, 0.02),
        "less_less": (0.02, 0.02),
    }
    words = {
        "more_more": "dearer,\nmore free",
        "more_less": "dearer,\nfewer free",
        "less_more": "cheaper,\nmore free",
        "less_less": "cheaper,\nfewer free",
    }
    for name, (x, y) in corners.items():
        place.text(
            x, y, f"{words[name]}\n{_percent(panel.shares[name])}", transform=place.transAxes, fontsize=7.2, color=INK,
            ha="right" if x > 0.5 else "left", va="top" if y > 0.5 else "bottom", zorder=5,
        )  # fmt: skip


def _worth(place: Axes, amount: float) -> None:
    """The line on which one more stone-free case at this amount just pays for itself, with the amount at its end."""
    (left, right), (bottom, top) = place.get_xlim(), place.get_ylim()
    slope = amount / 100
    place.plot([left, right], [slope * left, slope * right], color=SHADES[2], linewidth=0.9, linestyle="--", zorder=3)
    x = min(right, top / slope) if slope else right
    x, y = 0.8 * x, 0.8 * slope * x
    if left < x < right and bottom < y < top:
        place.annotate(
            f"{amount:,.0f}", (x, y), xytext=(0, 3), textcoords="offset points", fontsize=7, color=SHADES[2], ha="right"
        )


def _by_group(place: Axes, data: pd.DataFrame, groups: Sequence[str], thresholds: Sequence[str]) -> None:
    reach = data[["cost", "high", "top"]].replace(np.inf, np.nan).max(axis=1).max()
    most = 1.12 * float(reach) if reach > 0 else 1.0
    place.set_xlim(0, most * 1.2)
    place.set_ylim(len(groups) - 0.45, -0.55)
    place.set_yticks(range(len(groups)), [_short(str(name)) for name in groups])
    place.grid(axis="x", color="#dddddd", linewidth=0.6)
    place.set_axisbelow(True)
    place.xaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")
    step = 0.8 / max(1, len(thresholds))
    for at, threshold in enumerate(thresholds):
        part = data[data["threshold"] == threshold]
        y = np.array([groups.index(name) for name in part["group"]]) + (at - (len(thresholds) - 1) / 2) * step
        shade, marker = SHADES[at % len(SHADES)], MARKERS[at % len(MARKERS)]
        place.hlines(y, part["bottom"], part["top"].clip(upper=most), color=shade, alpha=0.18, linewidth=7)
        place.hlines(y, part["low"], part["high"], color=shade, linewidth=1.4)
        place.scatter(
            part["cost"], y, marker=marker, s=30, facecolor="white", edgecolor=shade, linewidths=1.5, zorder=3,
            label=threshold,
        )  # fmt: skip
        for row, height in zip(part.to_dict("records"), y, strict=True):
            place.text(
                most * 1.19,
                height,
                f"{row['stone_free']:,} of {row['n']:,}",
                fontsize=7,
                va="center",
                ha="right",
                color=INK,
            )
            if row["instead"]:
                place.text(most * 0.01, height, row["instead"], fontsize=7, va="center", color=shade)
    place.text(most * 1.19, -0.62, "free of n", fontsize=7, va="bottom", ha="right", color=INK)
    place.legend(
        title="largest left",
        loc="lower left",
        bbox_to_anchor=(0, 1.0),
        ncols=6,
        frameon=False,
        fontsize=8,
        borderaxespad=0.1,
    )


def _reach(panels: Sequence[Panel]) -> tuple[tuple[float, float], tuple[float, float]]:
    """Limits across and up that hold every cloud and the origin, with room for the corners."""
    clouds = [
        np.vstack([panel.cloud, [[panel.rate, panel.cost]], [[0.0, 0.0]]]) for panel in panels if not panel.instead
    ]
    if not clouds:
        return (-1.0, 1.0), (-1.0, 1.0)
    points = np.vstack(clouds)
    limits = []
    for at, scale in ((0, 100.0), (1, 1.0)):
        low, high = float(points[:, at].min()) * scale, float(points[:, at].max()) * scale
        # Each side of 0 has room for its words, be its quadrant empty.
        low, high = min(low, -0.42 * high), max(high, -0.42 * low)
        room = 0.2 * (high - low or 1.0)
        limits.append((low - room, high + room))
    return limits[0], limits[1]


def _percent(share: float) -> str:
    """Only exactly none and all are 0 % and 100 %."""
    return f"{100 * share:.0f} %" if share in (0.0, 1.0) else f"{min(max(100 * share, 0.1), 99.9):.1f} %"


def _short(name: str) -> str:
    return name if len(name) <= 24 else f"{name[:23]}\N{HORIZONTAL ELLIPSIS}"


def _wrapped(notes: Sequence[str], inches: float) -> list[str]:
    return [line for note in notes for line in textwrap.wrap(note, int(LETTERS_AN_INCH * inches))]
