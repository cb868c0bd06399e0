"""What kind of file a figure is to be."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from analysis.reports.request.faults import MalformedOptionError

if TYPE_CHECKING:
    from analysis.figures.stone_free import Kind

KINDS: dict[str, Kind] = {".png": "png", ".svg": "svg"}


def kind_of(path: Path, option: str = "figure") -> Kind:
    """The kind of file a figure's name asks for. Raises MalformedOptionError for another ending than .png or .svg."""
    kind = KINDS.get(path.suffix.lower())
    if kind is None:
        raise MalformedOptionError(f"--{option} {str(path)!r} has to end in .png or .svg, which says what it is.")
    return kind
