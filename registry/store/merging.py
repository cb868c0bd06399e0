"""Makes two records of one patient one. Every change stands in ``patient_merge``, so that it can be undone.

``moved_rows`` is a JSON list of [table, row, column, old value, new value]; a row that was taken away has an empty
column and its image as the old value. Values that are encrypted in their row are encrypted here, under the same
patient's key, and are erased with it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import Table, or_, select

from registry.schema.base import model_of
from registry.schema.errors import GravelbookError
from registry.schema.fields import Reference, info_of
from registry.schema.tables import metadata
from registry.store.images import image, plain
from registry.store.merge_checks import check_no_crossing
from registry.store.merge_values import clear_row, combined, decrypted, key_is_free, next_number
from registry.store.values import writable

if TYPE_CHECKING:
    from registry.store.door import Door

Line = list[Any]
_APART = frozenset({"patient_key", "patient_merge", "patient_identity", "renal_unit"})
_KEPT_FIELDS = frozenset({"site_id", "study_number"})


def merge_patients(door: Door, kept: int, merged: int) -> int:
    """Merge one patient's record into another's.

    Everything of the merged record goes to the kept one: identity and hospital numbers, operations and all that
    belongs to them; renal units of one kind become one. Where both have, say, a first operation of one day, the
    merged record's gets the next number. Wording is encrypted anew under the kept patient's key. The merged record
    stays, with its study number and nothing else.

    Args:
        door: the open writing transaction, with a reason.
        kept: the patient whose record stays.
        merged: the patient whose record is merged into it.

    Returns:
        The key of the row of ``patient_merge``.

    Raises:
        GravelbookError: the records contradict each other, and in which fields; one of them was erased or merged
            already; or no reason is given.
    """
    _check(door, kept, merged)
    return _Merging(door, kept, merged).run()


class _Merging:
    """One merge as it goes on; ``moved`` gathers what was changed."""

    def __init__(self, door: Door, kept: int, merged: int) -> None:
        self.door, self.kept, self.merged = door, kept, merged
        self.moved: list[Line] = []

    def run(self) -> int:
        units = self._units()
        pairs = [("patient", self.kept, self.merged), *(("renal_unit", own, other) for other, own in units.items())]
        identities = [self._only("patient_identity", patient) for patient in (self.kept, self.merged)]
        if identities[0] is not None and identities[1] is not None:
            pairs.append(("patient_identity", identities[0], identities[1]))
        taken = self._combined(pairs)
        for name, row, values in taken:
            self._update(name, row, values)
        if identities[1] is not None:
            if identities[0] is None:
                self._update("patient_identity", identities[1], {"patient_id": self.kept})
            else:
                self._withdraw("patient_identity", identities[1])
        for row in self._rows(metadata.tables["renal_unit"], "patient_id", self.merged):
            if row not in units:
                self._move("renal_unit", row, {"patient_id": self.kept})
        for table in metadata.sorted_tables:
            if table.name not in _APART:
                self._repoint(table, "patient", {self.merged: self.kept})
                self._repoint(table, "renal_unit", units)
        for row in units:
            self._withdraw("renal_unit", row)
        blank = {name: None for name in writable(metadata.tables["patient"]) if name not in _KEPT_FIELDS}
        self._update("patient", self.merged, blank)
        check_no_crossing(self.door, (self.kept, self.merged))
        return self.door.insert(
            "patient_merge",
            {
                "kept_patient_id": self.kept,
                "merged_patient_id": self.merged,
                "merged_at": datetime.now(UTC),
                "moved_rows": json.dumps(self.moved, separators=(",", ":")),
                "reason": self.door.reason,
            },
        )

    def _units(self) -> dict[int, int]:
        """The merged record's renal units that the kept record has too, each with that one."""
        table = metadata.tables["renal_unit"]
        query = select(table.c.id, table.c.patient_id, table.c.unit, table.c.unit_number)
        found = self.door.connection.execute(query.where(table.c.patient_id.in_([self.kept, self.merged]))).all()
        own = {(row.unit, row.unit_number): row.id for row in found if row.patient_id == self.kept}
        return {
            row.id: own[row.unit, row.unit_number]
            for row in found
            if row.patient_id == self.merged and (row.unit, row.unit_number) in own
        }

    def _combined(self, pairs: list[tuple[str, int, int]]) -> list[tuple[str, int, dict[str, Any]]]:
        taken, against = [], []
        for table, own, other in pairs:
            values, fields = combined(table, clear_row(self.door, table, own), clear_row(self.door, table, other))
            taken.append((table, own, values))
            label = model_of(metadata.tables[table]).label.lower()
            against += [f"{field} ({label})" for field in fields]
        if against:
            raise GravelbookError(
                f"The two records contradict each other, so they were not merged: {', '.join(against)}. Find out "
                "which is right, correct the other record, and merge them then."
            )
        return taken

    def _repoint(self, table: Table, target: str, rows: dict[int, int]) -> None:
        """Let all links to some rows lead to others."""
        for column in table.columns:
            if info_of(column).kind != Reference(target) or not rows:
                continue
            for old, new in rows.items():
                for row in self._rows(table, column.name, old):
                    self._move(table.name, row, {column.name: new})

    def _move(self, name: str, row: int, values: dict[str, Any]) -> None:
        table = metadata.tables[name]
        clear = clear_row(self.door, name, row)
        now = {**clear, **values}
        if values.keys() & set(model_of(table).key_fields) and not key_is_free(self.door, table, now, row):
            number = next_number(self.door, table, now)
            if number is None:
                self._drop_double(table, row, clear, now)
                return
            values = {**values, **number}
        self._update(name, row, values)

    def _drop_double(self, table: Table, row: int, clear: dict[str, Any], now: dict[str, Any]) -> None:
        """Both records say the same fact once: the merged record's row goes."""
        keys = model_of(table).key_fields
        same = [table.c[name] == now[name] for name in keys]
        other = self.door.connection.execute(select(table.c.id).where(*same, table.c.id != row)).scalar_one()
        kept = clear_row(self.door, table.name, other)
        if any(kept[name] != value for name, value in clear.items() if name not in keys):
            raise GravelbookError(
                f"The two records contradict each other, so they were not merged: both have a "
                f"{model_of(table).label.lower()}, and not the same (rows {other} and {row} of {table.name}). Correct "
                "one of them, and merge them then."
            )
        self._withdraw(table.name, row)

    def _update(self, name: str, row: int, values: dict[str, Any]) -> None:
        if not values:
            return
        table = metadata.tables[name]
        before = self.door.read(table, row)
        self.door.update(name, row, values, revision=int(before["revision"]))
        after = self.door.read(table, row)
        was, now = decrypted(self.door, name, before), decrypted(self.door, name, after)
        for column in writable(table):
            if was[column] != now[column]:
                self.moved.append([name, row, column, plain(column, before[column]), plain(column, after[column])])

    def _withdraw(self, name: str, row: int) -> None:
        table = metadata.tables[name]
        self.moved.append([name, row, "", json.loads(image(table, self.door.read(table, row))), None])
        self.door.withdraw(name, row)

    def _only(self, name: str, patient: int) -> int | None:
        return next(self._rows(metadata.tables[name], "patient_id", patient), None)

    def _rows(self, table: Table, column: str, value: int) -> Iterator[int]:
        order = [table.c[name] for name in model_of(table).key_fields]
        query = select(table.c.id).where(table.c[column] == value).order_by(*order)
        yield from self.door.connection.execute(query).scalars().all()


def study_of(door: Door, patient: int) -> str:
    """A patient's study number."""
    table = metadata.tables["patient"]
    return str(door.read(table, patient)["study_number"])


def check_records(door: Door, kept: int, merged: int) -> None:
    """Refuse without a reason, and where a record's wording cannot be encrypted anew because it was erased.

    Raises:
        GravelbookError: says which.
    """
    if not (door.reason or "").strip():
        raise GravelbookError("Merging two records, or undoing it, needs a reason: say why with --reason TEXT.")
    for patient in (kept, merged):
        if not door.cipher.holds(patient):
            raise GravelbookError(f"The identity of {study_of(door, patient)} was erased, so that it stays as it is.")


def _check(door: Door, kept: int, merged: int) -> None:
    if kept == merged:
        raise GravelbookError("A record cannot be merged into itself: give two study numbers.")
    check_records(door, kept, merged)
    merge = metadata.tables["patient_merge"].c
    query = select(merge.merged_patient_id, merge.kept_patient_id).where(
        merge.undone_at.is_(None), or_(merge.merged_patient_id == kept, merge.merged_patient_id == merged)
    )
    for gone, into in door.connection.execute(query):
        raise GravelbookError(
            f"The record of {study_of(door, gone)} was merged into that of {study_of(door, into)} already: take "
            f"{study_of(door, into)} in its place."
        )
