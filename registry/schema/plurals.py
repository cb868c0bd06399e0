"""Numbers with their nouns. It imports nothing, so that commands can say something before anything is loaded."""

from __future__ import annotations


def counted(number: int, noun: str) -> str:
    """A number with its noun: 1 row, 2 rows, 1,200 rows."""
    return f"{number:,} {noun}{'' if number == 1 else 's'}"
