"""A page that a figure is laid out on in inches: title above, panels between, sentences below."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HEAD = 0.6
LINE = 0.155
LETTERS = 17.0
"""So many letters of a note go into an inch."""
DASHES: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (1, 1.4)), (0, (6, 2, 1, 2)), (0, (3, 1)))
"""Of each line its dashes, so that lines differ without their colour."""


@dataclass(frozen=True)
class Wording:
    """title: above the figure. notes: sentences below it."""

    title: str
    notes: Sequence[str]


@dataclass(frozen=True)
class Page:
    """figure with its width and height in inches; foot: how much of the height the sentences below take."""

    figure: Figure
    width: float
    height: float
    foot: float

    def panel(self, *, left: float, low: float, width: float, height: float) -> Axes:
        """A new panel, inches from the left edge and from the top of the sentences below."""
        at = (left / self.width, (self.foot + low) / self.height, width / self.width, height / self.height)
        return self.figure.add_axes(at)


def page_of(wording: Wording, *, width: float, body: float, left: float) -> Page:
    """An empty page with title and sentences, to be called within the style it is drawn in.

    width, body: inches, body of what stands between title and sentences. left: where title and sentences begin.
    """
    from matplotlib.figure import Figure as Canvas

    title = textwrap.wrap(wording.title, int((width - left) * 10.2)) or [""]
    notes = [line for note in wording.notes for line in textwrap.wrap(note, int((width - left - 0.1) * LETTERS))]
    foot, head = 0.15 + LINE * len(notes), HEAD + 0.19 * (len(title) - 1)
    height = head + body + foot
    figure = Canvas(figsize=(width, height))
    figure.text(
        left / width, 1 - 0.2 / height, "\n".join(title), fontsize=11, fontweight="bold", va="top", linespacing=1.25
    )
    figure.text(
        left / width, (foot - 0.05) / height, "\n".join(notes), fontsize=7.2, va="top", color="#333333",
        linespacing=1.35,
    )  # fmt: skip
    return Page(figure, width, height, foot)
