"""The registry's rows as they are typed in a workbook, sheet by sheet, in the order of their natural keys."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, select

from registry.intake.cell_texts import cell_date, cell_text
from registry.intake.existing_rows import reasons_in
from registry.intake.known_keys import Key, KnownKeys
from registry.intake.links import target_of
from registry.intake.values import parse, spellings
from registry.intake.wordings import reason_typed, typed_text
from registry.schema.fields import Code, Day, FieldInfo, Note, Text, info_of
from registry.schema.sheets import SEPARATOR, Sheet, SheetColumn, as_typed
from registry.schema.tables import links_of, metadata, own_columns

if TYPE_CHECKING:
    from registry.store.registry import Registry


_SHORT = 40


class RegistryRows:
    """Reads table after table. ``lost`` gathers a sentence for everything that the layout cannot say."""

    def __init__(self, registry: Registry, connection: Connection) -> None:
        self.lost: list[str] = []
        self._connection = connection
        self._cipher = registry.cipher(connection)
        self._known = KnownKeys(connection)
        self._keys: dict[str, dict[int, Key]] = {}

    def of(self, layout: Sheet) -> Iterator[list[Any]]:
        """The rows of a sheet, each as its cells in the order of the headings."""
        records = {row["id"]: row for row in self._records(layout.table)}
        columns = [(c, None if c.links or c.folded else c.path[0]) for c in layout.columns]
        folded = {c.heading: self._folded(layout.table, c) for c in layout.columns if c.folded}
        for row_id, key in sorted(self._keys_of(layout.table).items(), key=lambda item: item[1]):
            row = records[row_id]
            named = self._named(layout.table, row, key)
            reasons, typed = reasons_in(row["missing_reasons"]), reasons_in(row["as_typed"])
            # Most cells of most rows are blank, and need no further look.
            cells = [
                None
                if own is not None and row[own] is None and not reasons
                else self._cell(layout, column, row, named, reasons, typed, folded.get(column.heading, {}).get(row_id))
                for column, own in columns
            ]
            for name in reasons:
                self.lost.append(f"{layout.title} {key}: the reason why {name} is missing cannot be written.")
            yield cells

    def _cell(
        self,
        layout: Sheet,
        column: SheetColumn,
        row: dict[str, Any],
        named: dict[str, Any],
        reasons: dict[str, str],
        typed: dict[str, str],
        folded: list[str] | None,
    ) -> Any:
        if column.folded:
            return SEPARATOR.join(folded) if folded else None
        if column.links:
            value = named.get(column.heading)
            owner = next((n for n in column.links if n in reasons), None)
            if value is None and owner is not None:
                return reason_typed(reasons.pop(owner))
            return shown_cell(column.info, value)
        name, info = column.path[0], column.info
        stored = row[name]
        if stored is None:
            reason = reasons.pop(name, None)
            return None if reason is None else reason_typed(reason, marked=_marked(info, reason))
        if name in typed and parse(info, typed[name]).value == stored:
            return cell_text(typed[name])
        return shown_cell(info, stored, row.get(f"{name}_precision"))

    def _keys_of(self, table: str) -> dict[int, Key]:
        if table not in self._keys:
            self._keys[table] = {row_id: key for key, row_id in self._known.of(table).items()}
        return self._keys[table]

    def _named(self, table: str, row: dict[str, Any], key: Key) -> dict[str, Any]:
        """What names the rows that a row leads to, by heading. Links that contradict each other are lost."""
        named: dict[str, Any] = {}
        owned: set[str] = set()
        for link, parts in links_of(table).items():
            if row[link] is None:
                continue
            owned |= {part.heading for part in parts if not part.shared}
            for part, value in zip(parts, self._keys_of(target_of(table, link))[row[link]], strict=True):
                if named.setdefault(part.heading, value) != value:
                    self.lost.append(
                        f"{table} {key}: {link} leads to another {part.heading} than the row's other links."
                    )
        for heading in named.keys() - owned - {"site", "study_number"}:
            self.lost.append(f"{table} {key}: {heading} is written for one link, and would be read for another too.")
        return named

    def _folded(self, table: str, column: SheetColumn) -> dict[int, list[str]]:
        assert column.folded is not None
        child = metadata.tables[column.folded]
        found: dict[int, list[str]] = {}
        for parent, code in self._connection.execute(select(child.c[f"{table}_id"], child.c[column.path[0]])):
            found.setdefault(parent, []).append(str(code))
        order = {code: n for n, code in enumerate(column.info.kind.list.codes())}  # type: ignore[union-attr]
        return {parent: sorted(codes, key=lambda code: order[code]) for parent, codes in found.items()}

    def _records(self, table: str) -> Iterator[dict[str, Any]]:
        """The rows of a table with their wording decrypted; missing values as None."""
        columns = metadata.tables[table].columns
        names = ["id", *(c.name for c in own_columns(metadata.tables[table])), "missing_reasons", "as_typed"]
        hidden = [name for name in names if info_of(columns[name]).encrypted]
        for found in self._connection.execute(select(*(columns[name] for name in names))):
            row = found._asdict()
            for name in hidden:
                if row[name] is not None:
                    row[name] = self._cipher.decrypt(row[name], table, name)
            yield row


@lru_cache(maxsize=50_000)
def _name_cell(text: str) -> str:
    """A short text as its cell holds it: most of them name rows, and stand in many."""
    return cell_text(typed_text(text))


def _marked(info: FieldInfo, reason: str) -> bool:
    return isinstance(info.kind, Code) and reason in spellings(info.kind.list)


def shown_cell(info: FieldInfo, stored: Any, precision: str | None = None) -> Any:
    """A stored value as its cell holds it."""
    if stored is None:
        return None
    if isinstance(info.kind, Text | Note):
        text = str(stored)
        return _name_cell(text) if len(text) < _SHORT else cell_text(typed_text(text))
    typed = as_typed(info, stored, precision)
    if isinstance(info.kind, Day) and isinstance(stored, date) and precision in (None, "day"):
        return cell_date(stored)
    return typed
