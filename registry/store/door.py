"""The write door: the only way in which rows come into the registry, change or go.

It checks and completes what it is given, encrypts what must be encrypted, and writes the history in the same
transaction, so that no row can change without its entry.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Executable, Table, delete, insert, select, update
from sqlalchemy.exc import DataError, IntegrityError

from registry.schema.errors import GravelbookError
from registry.schema.fields import FieldInfo, Reference, info_of
from registry.schema.lists_outcome import ChangeKind
from registry.schema.local_fields import VALUE, subject_of
from registry.schema.tables import metadata, patient_path
from registry.store import batch_loading
from registry.store.ages import age_is_wanted, age_of
from registry.store.cipher import ERASED, REGISTRY, Cipher, keyed_index, owner_of_text, wrapped_keys_in
from registry.store.fingerprints import Fingerprints
from registry.store.history import Chain, Marks
from registry.store.ids import NextIds, WithdrawnKeys
from registry.store.images import image, search_indexes
from registry.store.keys import Keys
from registry.store.local_values import local_texts
from registry.store.owners import Owners
from registry.store.refusals import check_links, check_nothing_below, refused_by_database
from registry.store.signed_off import belongs_to_case, check_reason
from registry.store.values import check_names, stored_value, writable

OWN_TABLES = frozenset({"change_history", "patient_key"})
"""Tables that only the door itself writes."""

Values = Mapping[str, Any]


class StaleRow(GravelbookError):  # noqa: N818  (said as one says it)
    """The row was changed by someone else since it was read."""


class Door:
    """One writing transaction. Made by ``Registry.writing``; of no use after it."""

    def __init__(
        self, connection: Connection, keys: Keys, withdrawn: WithdrawnKeys, *, by: str, reason: str | None
    ) -> None:
        self.connection = connection
        self.keys = keys
        self.by = by
        self.reason = reason
        self.cipher = Cipher(keys, wrapped_keys_in(connection))
        self.owners = Owners(connection, keys)
        self.chain = Chain(connection, keys)
        self.fingerprints = Fingerprints(connection, keys)
        self.ids = NextIds(connection, withdrawn)
        self.new_keys: dict[int, str] = {}
        self.after_commit: list[Callable[[], None]] = []
        self.broken = False

    def next_ids(self, table_name: str, count: int = 1) -> int:
        """The first of ``count`` consecutive free keys of a table, for ``load_batch``."""
        return self.ids.take(self.table(table_name).name, count)

    def insert(self, table_name: str, values: Values) -> int:
        """Enter one row.

        Args:
            table_name: the table.
            values: by column name, plain and in stored units; links as keys. Book-keeping is filled in.
        Returns:
            The new row's key.

        Raises:
            GravelbookError: an unknown column, a value its field does not allow, a link to nowhere, a row with the
                same natural key, or a signed-off operation without a reason.
        """
        table = self.table(table_name)
        check_names(table, values)
        clear = {name: stored_value(info, values.get(name, info.default)) for name, info in writable(table).items()}
        self._check_local(table, clear)
        if belongs_to_case(table.name):
            check_reason(self.connection, table.name, [clear], self.reason)
        row = self.ids.take(table.name)
        if table.name == "patient":
            wrapped = self.cipher.new_key(row)
        owner = row if table.name == "patient" else self.owners.of_values(table.name, clear)
        if table.name == "operation" and age_is_wanted(clear):
            clear["age_years"] = age_of(self.connection, self.cipher, owner, clear["operated_on"])
        self._insert(table, row, self._sealed(table, owner, clear), owner)
        self.owners.note(table.name, row, owner)
        if table.name == "patient":
            keys = metadata.tables["patient_key"]
            self._insert(keys, self.ids.take(keys.name), {"patient_id": row, "wrapped_key": wrapped}, owner)
        return row

    def update(self, table_name: str, row: int, values: Values, *, revision: int, batch: int | None = None) -> int:
        """Change one row.

        Args:
            table_name: the table.
            row: the row's key.
            values: the new values of the columns to change, as for ``insert``.
            revision: the revision the caller has seen.
            batch: the batch that makes the change; None for a person.
        Returns:
            The row's revision now; the same as before when nothing differs, and then nothing is written.

        Raises:
            StaleRow: the row has another revision by now.
            GravelbookError: as for ``insert``; or there is no such row.
        """
        table = self.table(table_name)
        check_names(table, values)
        before = self.read(table, row)
        if before["revision"] != revision:
            raise StaleRow(
                f"Row {row} of {table.name} was changed by {before['changed_by']} since it was read (revision "
                f"{before['revision']}, not {revision}). Read it again, and make the change on what stands there now."
            )
        infos = writable(table)
        clear_before = self._clear(table, before)
        clear = {**clear_before, **{name: stored_value(infos[name], value) for name, value in values.items()}}
        self._check_local(table, clear)
        if table.name == "operation" and age_is_wanted(clear):
            owner = self.owners.of_row("patient", clear["patient_id"])
            clear["age_years"] = age_of(self.connection, self.cipher, owner, clear["operated_on"])
        if clear == clear_before:
            return revision
        check_reason(self.connection, table.name, [before], self.reason)
        if belongs_to_case(table.name):
            check_reason(self.connection, table.name, [{**clear, "id": row}], self.reason)
        moved = any(clear[link] != clear_before[link] for link in (patient_path(table.name) or ())[:1])
        owner = row if table.name == "patient" else self.owners.of_values(table.name, clear)
        stored = self._resealed(table, owner, clear, clear_before, before)
        self._update(table, before, stored if batch is None else {**stored, "batch_id": batch}, owner)
        if moved:
            self.owners.forget()
            self._reseal_below(table, row)
        return revision + 1

    def withdraw(self, table_name: str, row: int, *, revision: int | None = None) -> None:
        """Take a row away; its last image stays in the history. Withdrawing a patient destroys the patient's key.

        Args:
            table_name: the table.
            row: the row's key.
            revision: the revision the caller has seen; None withdraws whatever stands there.

        Raises:
            StaleRow: the row has another revision by now.
            GravelbookError: there is no such row, others lead to it, or its operation is signed off and no reason
                was given.
        """
        table = self.table(table_name)
        before = self.read(table, row)
        if revision is not None and before["revision"] != revision:
            raise StaleRow(
                f"Row {row} of {table.name} was changed by {before['changed_by']} since it was read. Read it again "
                "before it is withdrawn."
            )
        check_reason(self.connection, table.name, [before], self.reason)
        owner = self.owners.of_row(table.name, row)
        if table.name == "patient":
            keys = metadata.tables["patient_key"]
            for key in self.connection.execute(select(keys.c.id).where(keys.c.patient_id == row)).scalars().all():
                self._withdraw(keys, self.read(keys, key), REGISTRY)
            self.cipher.forget(row)
        self._withdraw(table, before, owner)

    def load_batch(
        self,
        *,
        file_hash: str,
        file_name: str | None,
        tables: Mapping[str, list[dict[str, Any]]],
        source: str | None = None,
        written: Callable[[int], None] | None = None,
    ) -> int:
        """Enter many new rows at once, with one history entry for all of them.

        Args:
            file_hash: hash of the file they come from; a file is loaded once only.
            file_name: its name, kept encrypted.
            tables: rows by table, each with its final ``id`` from ``next_ids``; parents are written first whatever
                the order given. Values as for ``insert``.
            source: the log that the file is a version of.
            written: told after each table how many rows were written so far.
        Returns:
            The key of the batch.

        Raises:
            GravelbookError: as for ``insert``; nothing is written then.
        """
        return batch_loading.load_batch(
            self, file_hash=file_hash, file_name=file_name, tables=tables, source=source, written=written
        )

    def table(self, name: str) -> Table:
        """A table that callers may write.

        Raises:
            GravelbookError: there is none of this name, or only the door itself writes it.
        """
        if name not in metadata.tables or name in OWN_TABLES:
            raise GravelbookError(f"There is no table {name} that can be written to.")
        return metadata.tables[name]

    def read(self, table: Table, row: int) -> dict[str, Any]:
        """A row as it is stored.

        Raises:
            GravelbookError: there is no such row.
        """
        found = self.connection.execute(select(table).where(table.c.id == row)).mappings().one_or_none()
        if found is None:
            raise GravelbookError(f"{table.name} has no row {row}. It may have been withdrawn.")
        return dict(found)

    def change(self, table: Table, before: Values, stored: Values, owner: int, kind: ChangeKind) -> None:
        """Write stored values over a row, with its entry. Nothing is checked or encrypted."""
        self._update(table, before, stored, owner, kind)

    def sealed_reason(self, owner: int) -> str | None:
        """The reason of this transaction under a patient's key; under the registry's own when that was erased."""
        if not self.reason:
            return None
        whose = owner if self.cipher.holds(owner) else REGISTRY
        return self.cipher.encrypt(whose, self.reason, "change_history", "reason")

    def keeping(self, *, batch: int | None = None) -> dict[str, Any]:
        """Book-keeping of a new row."""
        now = datetime.now(UTC)
        who = {"created_by": self.by, "changed_by": self.by}
        return {"created_at": now, "changed_at": now, "revision": 1, "batch_id": batch, **who}

    def execute(self, table: Table, statement: Executable, values: Values | None = None) -> int:
        """Run one writing statement and give the number of rows it touched.

        Raises:
            GravelbookError: the database refused, in words.
        """
        try:
            return int(self.connection.execute(statement).rowcount)
        except (IntegrityError, DataError) as fault:
            self.broken = True
            if values is not None and self.connection.dialect.name == "sqlite" and "FOREIGN KEY" in str(fault.orig):
                check_links(self.connection, table, values)
            raise refused_by_database(table, fault.orig) from fault

    def _check_local(self, table: Table, clear: dict[str, Any]) -> None:
        if subject_of(table.name) is not None:
            clear[VALUE] = local_texts(self.connection, table.name, [clear])[0]

    def _insert(self, table: Table, row: int, stored: Values, owner: int) -> None:
        values = {**stored, **self.keeping(), "id": row}
        self.execute(table, insert(table).values(values), values)
        self._record(ChangeKind.INSERT, table, row, owner, after=self.read(table, row))

    def _update(
        self, table: Table, before: Values, stored: Values, owner: int, kind: ChangeKind = ChangeKind.UPDATE
    ) -> None:
        row, revision = before["id"], before["revision"]
        new = {**stored, "changed_at": datetime.now(UTC), "changed_by": self.by, "revision": revision + 1}
        chosen = update(table).where(table.c.id == row, table.c.revision == revision)
        if self.execute(table, chosen.values(new), new) != 1:
            raise StaleRow(f"Row {row} of {table.name} was changed by someone else. Read it again.")
        self._record(kind, table, row, owner, before=before, after=self.read(table, row))

    def _withdraw(self, table: Table, before: Values, owner: int) -> None:
        check_nothing_below(self.connection, table, before["id"])
        self.execute(table, delete(table).where(table.c.id == before["id"]))
        self.ids.retire(table.name, before["id"])
        self._record(ChangeKind.WITHDRAW, table, before["id"], owner, before=before)

    def _record(
        self,
        kind: ChangeKind,
        table: Table,
        row: int,
        owner: int,
        before: Values | None = None,
        after: Values | None = None,
    ) -> None:
        marks = Marks()
        if after is None:
            marks.gone[table.name] = [row]
        else:
            marks.left[table.name] = [(row, self.fingerprints.of_row(table.name, row))]
        self.chain.append(
            kind,
            by=self.by,
            marks=marks,
            about=(table.name, row),
            before=image(table, before) if before is not None else None,
            after=image(table, after) if after is not None else None,
            reason=self.sealed_reason(owner),
        )

    def _sealed(self, table: Table, owner: int, clear: Values) -> dict[str, Any]:
        """Clear values as they are stored: encrypted where they must be, with their keyed indexes."""
        sealed = dict(clear)
        for name in _encrypted(table):
            if clear.get(name) is not None:
                if not self.cipher.holds(owner):
                    check_links(self.connection, table, sealed)
                sealed[name] = self.cipher.encrypt(owner, clear[name], table.name, name)
        for index, number in search_indexes(table).items():
            sealed[index] = keyed_index(self.keys, clear[number]) if clear.get(number) is not None else None
        return sealed

    def _resealed(
        self, table: Table, owner: int, clear: Values, clear_before: Values, before: Values
    ) -> dict[str, Any]:
        """What to store of a changed row: changed values, and wording that now belongs to another patient."""
        changed = {name: value for name, value in clear.items() if value != clear_before[name]}
        for name in _encrypted(table):
            kept = before[name] if name not in changed else None
            if kept is not None and owner_of_text(kept) != owner and clear[name] != ERASED:
                changed[name] = clear[name]
        sealed = self._sealed(table, owner, changed)
        keep = set(changed) | {index for index, number in search_indexes(table).items() if number in changed}
        return {name: value for name, value in sealed.items() if name in keep}

    def _clear(self, table: Table, row: Values) -> dict[str, Any]:
        """The caller's columns of a stored row, decrypted."""
        hidden = _encrypted(table)
        return {
            name: self.cipher.decrypt(row[name], table.name, name) if name in hidden and row[name] else row[name]
            for name in writable(table)
        }

    def _reseal_below(self, table: Table, row: int) -> None:
        """Encrypt anew what lies below a row that now belongs to another patient."""
        for child, child_row in list(self._below(table.name, row)):
            before = self.read(child, child_row)
            owner, clear = self.owners.of_row(child.name, child_row), self._clear(child, before)
            stored = self._resealed(child, owner, clear, clear, before)
            if stored:
                self._update(child, before, stored, owner)

    def _below(self, table: str, row: int) -> Iterable[tuple[Table, int]]:
        for child in metadata.sorted_tables:
            path = patient_path(child.name)
            if path and info_of(child.columns[path[0]]).kind == Reference(table):
                query = select(child.c.id).where(child.c[path[0]] == row)
                for found in self.connection.execute(query).scalars().all():
                    yield child, found
                    yield from self._below(child.name, found)


def _encrypted(table: Table) -> dict[str, FieldInfo]:
    return {c.name: info_of(c) for c in table.columns if info_of(c).encrypted}
