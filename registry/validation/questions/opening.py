"""What a check of the held data hands over, so that questions can be asked, left in peace or closed."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Open:
    """One row that breaks a rule now.

    ``sentence`` says what is wrong, without a value that could name a person. ``seen`` holds the values that the rule
    looked at, in any fixed form; left blank, the sentence stands for them.
    """

    rule: str
    table: str
    row: int
    field: str | None
    sentence: str
    seen: str = ""

    @property
    def key(self) -> tuple[str, str, int, str | None]:
        """What makes it the same question."""
        return self.rule, self.table, self.row, self.field


@dataclass(frozen=True)
class Checked:
    """The outcome of a check.

    Attributes:
        opens: what breaks a rule.
        ran: the rules that ran; questions of others are left as they are.
        unjudged: (rule, table, row) that could not be judged, so that nothing was mended there.
        failed: the rules that should have run and could not.
    """

    opens: tuple[Open, ...]
    ran: frozenset[str]
    unjudged: frozenset[tuple[str, str, int]] = frozenset()
    failed: tuple[str, ...] = ()
