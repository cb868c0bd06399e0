"""One kind of error that a log may hold."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ErrorKind:
    """One way in which a log is wrong.

    Attributes:
        id: the name by which planted errors are listed.
        sentence: what happened, as a person would tell it.
        change: what is changed in the log.
        points_at: registry values (``table.heading``) in whose cells a finding has to stand, any one of them;
            empty: any cell of the row.
        recoverable: the row still says what would be right.
        ruled: a clinical rule would name it; the others are of keyboards, sorting and pasting.
    """

    id: str
    sentence: str
    change: str
    points_at: tuple[str, ...]
    recoverable: bool
    ruled: bool
