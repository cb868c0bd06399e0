"""Text folded to a width in inches, measured in the font it is drawn in."""

from __future__ import annotations

import re
from functools import cache

FAMILY = "DejaVu Sans"
_ENDS = re.compile(r"(?<=[\s+_/,-])")
"""A line may end after these: names of columns and groups are often one long word."""


def folded(text: str, inches: float, *, size: float, weight: str = "normal") -> str:
    """The text with line breaks, no line wider than that; a piece without a place to break is cut where it must be.

    size: of the font, in points.
    """
    lines, line = [], ""
    for piece in _ENDS.split(text):
        if line and _width((line + piece).rstrip(), size, weight) > inches:
            lines.append(line.rstrip())
            line = ""
        line += piece
        while len(line.rstrip()) > 1 and _width(line.rstrip(), size, weight) > inches:
            at = next(at for at in range(len(line) - 1, 0, -1) if at == 1 or _width(line[:at], size, weight) <= inches)
            lines.append(line[:at])
            line = line[at:]
    return "\n".join([*lines, line.rstrip()]) if line.strip() or not lines else "\n".join(lines)


@cache
def _width(text: str, size: float, weight: str) -> float:
    """How wide a text is drawn, inches."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextToPath

    font = FontProperties(family=FAMILY, weight=weight, size=size)
    wide, _, _ = TextToPath().get_text_width_height_descent(text, font, ismath=False)
    return float(wide) / 72
