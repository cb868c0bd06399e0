"""Text that a spreadsheet must not take for a formula."""

from __future__ import annotations

STARTS = ("=", "+", "-", "@", "\t", "\r")


def never_a_formula(text: str) -> str:
    """The text, behind an apostrophe when a spreadsheet would run it; numbers are not for this function."""
    return "'" + text if text.startswith(STARTS) else text
