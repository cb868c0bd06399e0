"""How cells look that a finding is about; told apart by their frame as well, for print and for all eyes."""

from __future__ import annotations

from functools import cache
from typing import Any

from registry.validation.findings import Severity

# Light enough for black text (contrast above 12 to 1), and of three different brightnesses.
_COLOURS = {Severity.ERROR: "F2A488", Severity.QUESTION: "F7DC8C", Severity.NOTE: "D6E6F5"}
_FRAMES: dict[Severity, Any] = {
    Severity.ERROR: "thick",
    Severity.QUESTION: "mediumDashed",
    Severity.NOTE: "dotted",
}
_RANK = (Severity.ERROR, Severity.QUESTION, Severity.NOTE)


def gravest(severities: set[Severity]) -> Severity:
    """The severity by which a cell with several findings is coloured."""
    return next(severity for severity in _RANK if severity in severities)


def give_looks(cell: Any, severity: Severity) -> None:
    """Colour and frame a cell; its font and the form of its value stay.

    Args:
        cell: the cell of a workbook that is being written.
        severity: what was found there.
    """
    cell.fill, cell.border = _looks(severity)


@cache
def _looks(severity: Severity) -> tuple[Any, Any]:
    from openpyxl.styles import Border, PatternFill, Side

    side = Side(style=_FRAMES[severity], color="404040")
    fill = PatternFill("solid", start_color=_COLOURS[severity], end_color=_COLOURS[severity])
    return fill, Border(left=side, right=side, top=side, bottom=side)
