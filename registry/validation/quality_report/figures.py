"""The report's small drawings, as SVG text: readable in print, in grey, and by a screen reader."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

INK, QUIET, MARK, PALE = "#22303c", "#8a97a3", "#2f6f8f", "#d9e2e8"
SCANNED, OTHER, NOT_SCANNED = "#2f6f8f", "#9cc3d5", "url(#none)"


def trend(counts: Sequence[int], *, width: int = 96, height: int = 22) -> str:
    """A line of counts, the last one marked; empty for fewer than two.

    Args:
        counts: by run, oldest first.
        width: in pixels.
        height: in pixels.
    """
    if len(counts) < 2:
        return ""
    highest = max(1, *counts)
    step = (width - 8) / (len(counts) - 1)
    points = [(4 + n * step, height - 4 - (height - 8) * count / highest) for n, count in enumerate(counts)]
    line = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    x, y = points[-1]
    said = f"from {counts[0]} to {counts[-1]} over {len(counts)} runs"
    return (
        f'<svg class="trend" width="{width}" height="{height}" role="img" aria-label="{said}">'
        f'<polyline points="{line}" fill="none" stroke="{QUIET}" stroke-width="1.3"/>'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.6" fill="{INK}"/></svg>'
    )


def share_bar(share: float | None, *, width: int = 64) -> str:
    """A share as a bar in a frame."""
    if share is None:
        return ""
    return (
        f'<svg class="share" width="{width}" height="10" aria-hidden="true">'
        f'<rect x="0.5" y="0.5" width="{width - 1}" height="9" fill="none" stroke="{QUIET}"/>'
        f'<rect x="1" y="1" width="{(width - 2) * share:.1f}" height="8" fill="{MARK}"/></svg>'
    )


def stacked_months(months: Sequence[tuple[str, int, int, int]], *, width: int = 720, height: int = 190) -> str:
    """Columns by month: scanned by CT or a second look, scanned otherwise, not scanned.

    Args:
        months: month, and the three counts from the bottom up.
        width: in pixels.
        height: in pixels.
    """
    if not months:
        return ""
    highest = max(1, *(sum(counts) for _, *counts in months))
    foot, left, top = 26, 30, 18
    scale = (height - foot - top) / highest
    step = (width - left) / len(months)
    wide = min(38.0, step * 0.66)
    drawn = []
    for n, (month, *counts) in enumerate(months):
        x, y = left + n * step + (step - wide) / 2, float(height - foot)
        for count, fill in zip(counts, (SCANNED, OTHER, NOT_SCANNED), strict=True):
            y -= count * scale
            if count:
                drawn.append(
                    f'<rect x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{count * scale:.1f}" fill="{fill}" '
                    f'stroke="{INK}" stroke-width="0.5"/>'
                )
        drawn.append(_text(x + wide / 2, height - 12, escape(month[2:].replace("-", "/")), "middle"))
        drawn.append(_text(x + wide / 2, y - 2, str(sum(counts)), "middle"))
    ticks = "".join(
        f'<line x1="{left}" x2="{width}" y1="{at:.1f}" y2="{at:.1f}" stroke="{PALE}"/>'
        + _text(left - 5, at + 4, str(value), "end")
        for value in _ticks(highest)
        for at in [height - foot - value * scale]
    )
    said = "; ".join(f"{m}: {a} by CT or second look, {b} otherwise, {c} not scanned" for m, a, b, c in months)
    return (
        f'<svg viewBox="0 0 {width} {height}" class="wide" role="img" aria-label="{escape(said)}">'
        f'<defs><pattern id="none" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        f'<rect width="6" height="6" fill="#fff"/><line x1="0" y1="0" x2="0" y2="6" stroke="{QUIET}" '
        f'stroke-width="2"/></pattern></defs>{ticks}{"".join(drawn)}</svg>'
    )


def _ticks(highest: int) -> list[int]:
    for step in (1, 2, 5, 10, 20, 25, 50, 100, 200, 250, 500, 1000):
        if highest / step <= 4:
            return list(range(0, highest + 1, step))
    return [0, highest]


def _text(x: float, y: float, words: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="11" fill="{INK}">{words}</text>'
