"""Tables and paragraphs for a terminal: plain characters, words left, numbers right."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

WIDTH = 100


def aligned(rows: Sequence[Sequence[str]], *, left: int, indent: str = "  ") -> str:
    """Rows of equal length as columns two spaces apart; the first `left` columns start left, the others end right."""
    if not rows:
        return ""
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [
            cell.ljust(width) if at < left else cell.rjust(width)
            for at, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append((indent + "  ".join(cells)).rstrip())
    return "\n".join(lines)


def labelled(pairs: Sequence[tuple[str, str]], *, indent: str = "  ") -> str:
    """Words beside their explanation, wrapped under it."""
    width = max((len(word) for word, _ in pairs), default=0)
    return "\n".join(
        textwrap.fill(
            said,
            WIDTH,
            initial_indent=f"{indent}{word.ljust(width)}  ",
            subsequent_indent=" " * (len(indent) + width + 2),
            break_long_words=False,
            break_on_hyphens=False,
        )
        for word, said in pairs
    )


def paragraph(text: str, *, indent: str = "") -> str:
    """Text wrapped to the width of a terminal."""
    return textwrap.fill(
        text, WIDTH, initial_indent=indent, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )
