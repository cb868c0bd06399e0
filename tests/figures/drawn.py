"""What is written on a figure."""

from __future__ import annotations

from matplotlib.figure import Figure
from matplotlib.text import Text


def words_of(figure: Figure) -> list[str]:
    """Every text of the figure that is not empty."""
    found = figure.findobj(Text)
    return [one.get_text() for one in found if isinstance(one, Text) and one.get_text()]
