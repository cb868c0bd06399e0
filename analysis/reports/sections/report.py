"""An answer made of sections: one table each, of rows that every rendering shows.

What a command prints is a `Report`: the definition of what was asked, then its sections. A section's rows hold every
number unrounded, under fixed names: `n` that stand behind the row's estimate, `unknown` that do not because something
is missing, `estimate`, `low`, `high`, and what else the section needs. Rounding and the withholding of rates from few
happen in the renderings alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from analysis.reports.request.own_defaults import OwnDefault
from analysis.reports.request.source import CAUTIONS, Source

Show = Literal["text", "count", "number", "percent", "percent_range", "points", "points_range", "ratio", "ratio_range"]
"""How a column is written: ranges take two keys, separated by a blank: `low high`."""

DERIVED = frozenset({"percent", "percent_range", "points", "points_range", "ratio", "ratio_range", "number"})
"""Ways of writing that are withheld when a row's n is above 0 and below the small number."""


@dataclass(frozen=True)
class Column:
    """One column of a section as text.

    heading: over it. key: which of a row's values (two for a range, `low high`). show: how it is written. digits:
    decimals of a `number`. instead: the key of the words that stand where a `number` is missing. free:
    shown whatever the row's n, because it tells nothing of a few people's outcome.
    """

    heading: str
    key: str
    show: Show = "text"
    digits: int = 1
    instead: str = ""
    free: bool = False


@dataclass(frozen=True, kw_only=True)
class Section:
    """One table.

    name: its key in JSON and CSV. title: over it. definition: what it was computed under, sources included, ready
    for JSON. in_words: the same for people, label and sentence. rows: records of plain values (numbers, text, None,
    dicts of these); a row split by columns has them in `group`. columns: what text shows of them. notes: sentences
    under the table.
    """

    name: str
    title: str
    rows: Sequence[Mapping[str, Any]]
    columns: Sequence[Column]
    definition: Mapping[str, Any] = field(default_factory=dict)
    in_words: Sequence[tuple[str, str]] = ()
    notes: Sequence[str] = ()


@dataclass(frozen=True, kw_only=True)
class Report:
    """A whole answer.

    title: of the text. definition: of the question as a whole, ready for JSON. in_words: the same for people. source:
    where the figures come from; None for what needs no registry. own_defaults: the unit's settings that were used.
    small_number: text shows no rate of fewer than this. cautions: besides the usual ones.
    """

    title: str
    sections: Sequence[Section]
    definition: Mapping[str, Any] = field(default_factory=dict)
    in_words: Sequence[tuple[str, str]] = ()
    source: Source | None = None
    own_defaults: Sequence[OwnDefault] = ()
    small_number: int = 5
    cautions: Sequence[str] = ()

    @property
    def all_cautions(self) -> tuple[str, ...]:
        """Its own cautions and, where figures come from patients, the usual ones."""
        return tuple(self.cautions) if self.source is None else (*self.cautions, *CAUTIONS)
