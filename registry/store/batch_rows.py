"""What a batch did, from its entry in the change history: the rows it entered, the changes that follow the entry."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from sqlalchemy import Connection, select

from registry.schema.lists_outcome import ChangeKind
from registry.store.history import HISTORY, Runs

NOT_OF_THE_FILE = frozenset({"batch"})
"""Tables whose rows speak of the batch itself."""


@dataclass(frozen=True)
class BatchEntry:
    """The entry of one batch.

    Attributes:
        entry: its number in the history.
        batch: the batch.
        followed_by: how many of the entries after it are the batch's own changes of rows that were there already.
        rows: by table, the keys that the batch entered, as runs [first, last].
    """

    entry: int
    batch: int
    followed_by: int = 0
    rows: dict[str, Runs] = field(default_factory=dict)

    @property
    def last(self) -> int:
        """The number of the last entry that is the batch's own."""
        return self.entry + self.followed_by


def followed_by(changes: int) -> str | None:
    """How a batch's entry says that changes of its own follow it; read back by ``batch_entries``."""
    return json.dumps({"followed_by": changes}) if changes else None


def batch_entries(
    connection: Connection, batches: Iterable[int] | None = None, *, rows: bool = True
) -> list[BatchEntry]:
    """The entries of batches, oldest first.

    Args:
        connection: reads the history.
        batches: which; None for all.
        rows: say also which rows each entered, which takes longer.
    """
    c = HISTORY.c
    query = select(c.id, c.about_row, c.after, *((c.fingerprints,) if rows else ())).order_by(c.id)
    query = query.where(c.kind == ChangeKind.BATCH, c.about_table == "batch")
    wanted = None if batches is None else set(batches)
    found = []
    for entry in connection.execute(query):
        if wanted is not None and entry.about_row not in wanted:
            continue
        entered: dict[str, Runs] = {}
        if rows:
            said = json.loads(entry.fingerprints or "{}")
            entered = {t: marks["rows"] for t, marks in said.items() if t not in NOT_OF_THE_FILE and marks["rows"]}
        count = json.loads(entry.after)["followed_by"] if entry.after else 0
        found.append(BatchEntry(entry.id, entry.about_row, count, entered))
    return found


def keys_in(runs: Iterable[Sequence[int]]) -> set[int]:
    """The keys of runs."""
    return {key for first, last in runs for key in range(first, last + 1)}
