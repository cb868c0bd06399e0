"""Lists of codes that a later version of a file says otherwise: judged code by code."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, select

from registry.intake.existing_rows import Comparison, Difference, held_codes
from registry.intake.rows import WORKBOOK
from registry.schema.lists_outcome import ChangeKind
from registry.store.batch_rows import batch_entries
from registry.store.field_history import FieldHistory
from registry.store.history import HISTORY


@dataclass(frozen=True, slots=True)
class CodeChange:
    """What becomes of one row's list.

    Attributes:
        added: codes that come.
        removed: keys of the codes' rows that go.
        stays: something differs that a person, or another source, has said and this source never spoke against.
        conflicts: codes that the file says for the first time and a person has taken away.
    """

    added: tuple[str, ...] = ()
    removed: tuple[int, ...] = ()
    stays: bool = False
    conflicts: tuple[str, ...] = ()


class CodeChanges:
    """Judges lists of codes against the change history."""

    def __init__(self, connection: Connection, history: FieldHistory, source: str) -> None:
        self._connection, self._history, self._source = connection, history, source
        self._taken_away: dict[str, dict[tuple[int, str], int | None]] = {}

    def of(self, comparison: Comparison, differing: Sequence[Difference]) -> Iterator[tuple[Difference, CodeChange]]:
        """Judge the differing lists of a sheet."""
        table = comparison.sheet.table
        for column in dict.fromkeys(found.column for found in differing):
            own = [found for found in differing if found.column is column]
            held = held_codes(self._connection, table, column, {found.row_id for found in own})
            for found in own:
                yield found, self._change(table, found, held.get(found.row_id, {}))

    def _change(self, table: str, found: Difference, held: dict[str, tuple[int, int | None]]) -> CodeChange:
        added, conflicts, removed = [], [], []
        stays = False
        assert found.column.folded is not None
        for code in sorted(set(found.value) - held.keys()):
            gone = self._by_persons(table, found.column.folded, found.field)
            if (found.row_id, code) not in gone:
                added.append(code)
            elif self._is_own(gone[found.row_id, code], same=True):
                stays = True
            else:
                conflicts.append(code)
        for code in sorted(held.keys() - set(found.value)):
            row, batch = held[code]
            if self._is_own(batch):
                removed.append(row)
            else:
                stays = True
        return CodeChange(tuple(added), tuple(removed), stays, tuple(conflicts))

    def _is_own(self, batch: int | None, *, same: bool = False) -> bool:
        if batch is None:
            return False
        return self._history.sources[batch] == self._source or (self._source == WORKBOOK and not same)

    def _by_persons(self, table: str, child: str, field: str) -> dict[tuple[int, str], int | None]:
        """Codes that persons took away: by row and code, the batch that had entered the code."""
        if child not in self._taken_away:
            own = {n for e in batch_entries(self._connection, rows=False) for n in range(e.entry, e.last + 1)}
            c = HISTORY.c
            query = select(c.id, c.before).where(c.kind == ChangeKind.WITHDRAW, c.about_table == child).order_by(c.id)
            found: dict[tuple[int, str], int | None] = {}
            for entry, before in self._connection.execute(query):
                image = json.loads(before or "null")
                if entry not in own and isinstance(image, dict):
                    found[image[f"{table}_id"], image[field]] = image.get("batch_id")
            self._taken_away[child] = found
        return self._taken_away[child]
