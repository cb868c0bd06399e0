"""A clinical definition as it was published: its text, version and source, and what has to be assumed to use it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, kw_only=True)
class Published:
    """One definition.

    id: stands in every row worked out by it. version: of our wording of it. label: its name in a table. rule: the
    text that is followed. source: authors, journal, year; says so when the text is from memory. assumed: what the
    registry cannot tell and is taken for granted.
    """

    id: str
    version: str
    label: str
    rule: str
    source: str
    assumed: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Ready for JSON."""
        return {
            "id": self.id,
            "version": self.version,
            "label": self.label,
            "rule": self.rule,
            "source": self.source,
            "assumed": list(self.assumed),
        }

    def in_words(self) -> tuple[str, str]:
        """Its name and one paragraph."""
        assumed = f" Assumed: {'; '.join(self.assumed)}." if self.assumed else ""
        return self.label, f"{self.rule}. [{self.id}, version {self.version}; {self.source}]{assumed}"
