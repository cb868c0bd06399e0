"""Many new rows in one go: columns are prepared whole, written by the driver's fastest way, entered once.

The callers have validated the rows; what they missed the database's own constraints refuse. Only then are the rows
gone through one by one, to say which of them it was.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, date, datetime
from itertools import repeat
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, insert, select

from registry.schema.errors import GravelbookError
from registry.schema.fields import (
    Code,
    Day,
    FieldInfo,
    Keeping,
    Moment,
    Number,
    Reference,
    Text,
    Whole,
    info_of,
)
from registry.schema.lists_outcome import ChangeKind
from registry.schema.local_fields import VALUE, subject_of
from registry.schema.tables import metadata, ordered_tables, patient_path
from registry.store.ages import age_is_wanted, age_of, whole_years
from registry.store.cipher import REGISTRY, keyed_index
from registry.store.history import Marks, runs
from registry.store.images import search_indexes
from registry.store.local_values import local_texts
from registry.store.refusals import check_links, refused, refused_by_database
from registry.store.signed_off import belongs_to_case, case_links, check_reason
from registry.store.values import check_names, kept_code, stored_value, writable

if TYPE_CHECKING:
    from registry.store.door import Door

Rows = list[dict[str, Any]]
Columns = dict[str, Iterable[Any]]

_CONTROL = re.compile(r"[\x00-\x1f\x7f]")
_BATCH = metadata.tables["batch"]


def load_batch(
    door: Door,
    *,
    file_hash: str,
    file_name: str | None,
    tables: Mapping[str, Rows],
    written: Callable[[int], None] | None = None,
) -> int:
    """See ``Door.load_batch``."""
    for name, rows in tables.items():
        _check_rows(door, door.table(name), rows)
    _check_signed_off(door, tables)
    count = sum(map(len, tables.values()))
    batch = _insert_batch(door, file_hash, file_name, count)
    marks = Marks({"batch": [(batch, door.fingerprints.of_row("batch", batch))]})
    done = 0
    for table in ordered_tables():
        rows = tables.get(table.name, [])
        if not rows:
            continue
        if subject_of(table.name) is not None:
            texts = local_texts(door.connection, table.name, rows)
            rows = [{**row, VALUE: text} for row, text in zip(rows, texts, strict=True)]
        owners = _owners(door, table, rows)
        made = _columns(door, table, rows, owners, tables)
        _write(door, table, made, rows, batch)
        _mark(door, marks, table.name, [row["id"] for row in rows])
        if table.name == "patient":
            _load_patient_keys(door, marks, [row["id"] for row in rows], batch)
        done += len(rows)
        if written is not None:
            written(done)
    content = marks.written()
    door.chain.append(
        ChangeKind.BATCH,
        by=door.by,
        marks=marks,
        about=("batch", batch),
        reason=door.sealed_reason(REGISTRY),
        content_after=door.chain.digest(content),
        row_count=count,
    )
    return batch


def _check_rows(door: Door, table: Table, rows: Rows) -> None:
    names = {name for row in rows for name in row}
    check_names(table, names - {"id"})
    ids = [row.get("id") for row in rows]
    if None in ids or len(set(ids)) != len(ids):
        raise GravelbookError(f"{table.name}: each row of a batch needs a key of its own from next_ids.")


def _check_signed_off(door: Door, tables: Mapping[str, Rows]) -> None:
    if door.reason:
        return
    new = {name: {row["id"] for row in rows} for name, rows in tables.items()}
    for name, rows in tables.items():
        if not belongs_to_case(name):
            continue
        source = metadata.tables[name]
        targets = {way[0]: str(_target(source, way[0])) for way in case_links(name)}
        older = [
            row
            for row in rows
            if any(row.get(link) is not None and row[link] not in new.get(t, ()) for link, t in targets.items())
        ]
        check_reason(door.connection, name, [dict.fromkeys(targets) | row for row in older], door.reason)


def _insert_batch(door: Door, file_hash: str, file_name: str | None, count: int) -> int:
    found = door.connection.execute(select(_BATCH.c.id).where(_BATCH.c.content_hash == file_hash)).scalar()
    if found is not None:
        raise GravelbookError(
            f"This file was loaded already, as batch {found}. Nothing is loaded twice: load the file that follows it."
        )
    batch = door.next_ids("batch")
    clear: dict[str, Any] = {"content_hash": file_hash, "file_name": file_name, "row_count": count}
    values = {name: stored_value(info, clear.get(name, info.default)) for name, info in writable(_BATCH).items()}
    if file_name is not None:
        values["file_name"] = door.cipher.encrypt(REGISTRY, file_name, "batch", "file_name")
    door.execute(_BATCH, insert(_BATCH).values({**values, **door.keeping(), "id": batch}))
    return batch


def _owners(door: Door, table: Table, rows: Rows) -> list[int] | None:
    """Owner by row, where a value of this table, or of one below it, may be encrypted."""
    above_others = any(p and _target(t, p[0]) == table.name for t in ordered_tables() if (p := patient_path(t.name)))
    if not above_others and not any(info_of(c).encrypted for c in table.columns):
        return None
    owners = door.owners.of_batch(table.name, rows)
    if above_others and table.name != "patient":
        for row, owner in zip(rows, owners, strict=True):
            door.owners.note(table.name, row["id"], owner)
    return owners


def _columns(
    door: Door, table: Table, rows: Rows, owners: list[int] | None, tables: Mapping[str, Rows]
) -> dict[str, list[Any]]:
    """The columns that hold something, as they are stored."""
    if table.name == "patient":
        wrapped = {row["id"]: door.cipher.new_key(row["id"]) for row in rows}
        door.new_keys.update(wrapped)
    made: dict[str, list[Any]] = {"id": [row["id"] for row in rows]}
    for name, info in writable(table).items():
        column = [row.get(name) for row in rows]
        if info.default is not None:
            column = [info.default if value is None else value for value in column]
        if name == "age_years" and table.name == "operation":
            column = _ages(door, rows, column, tables)
        if column.count(None) == len(column):
            continue
        if info.encrypted:
            column = _encrypted(door, info, column, owners or [REGISTRY] * len(column))
        else:
            column = _converted(info, column, sqlite=door.connection.dialect.name == "sqlite")
        made[name] = column
    for index, number in search_indexes(table).items():
        if number in made:
            made[index] = [keyed_index(door.keys, v) if (v := row.get(number)) is not None else None for row in rows]
    return made


def _encrypted(door: Door, info: FieldInfo, column: list[Any], owners: list[int]) -> list[Any]:
    door.cipher.ready({owner for owner, value in zip(owners, column, strict=True) if value is not None})
    encrypt, table, name = door.cipher.encrypt, info.table, info.name
    return [
        None if value is None else encrypt(owner, stored_value(info, value), table, name)
        for owner, value in zip(owners, column, strict=True)
    ]


def _converted(info: FieldInfo, column: list[Any], *, sqlite: bool) -> list[Any]:
    """A column as the driver takes it. What the constraints would not catch is refused here."""
    given = [value for value in column if value is not None]
    match info.kind:
        case Code():
            codes = [v if v is None or type(v) is str else str(v) for v in column]
            return codes if info.companion_of is None else [v and kept_code(info, v) for v in codes]
        case Text() | Keeping():
            if any(not isinstance(v, str) for v in given) or _CONTROL.search("".join(given)):
                raise next(refused(info) for v in given if not isinstance(v, str) or _CONTROL.search(v))
            return column
        case Number():
            # The database would take "not a number" for a missing one.
            if not all(map(_is_number, given)):
                raise refused(info, next(v for v in given if not _is_number(v)))
            return [v if v is None else float(v) for v in column]
        case Whole() | Reference():
            if all(type(v) is int for v in given):
                return column
            return [stored_value(info, v) if v is not None else None for v in column]
        case Day():
            return _each(column, date, lambda v: v.isoformat() if sqlite else v, info)
        case Moment():
            return _each(column, datetime, lambda v: _moment_text(v) if sqlite else v, info)
        case _:
            return column


def _each(column: list[Any], kind: type[Any], written: Callable[[Any], Any], info: FieldInfo) -> list[Any]:
    return [
        None if v is None else written(v if type(v) is kind and kind is date else stored_value(info, v)) for v in column
    ]


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _moment_text(value: datetime) -> str:
    return value.astimezone(UTC).isoformat(timespec="microseconds")


def _ages(door: Door, rows: Rows, column: list[Any], tables: Mapping[str, Rows]) -> list[Any]:
    born = {row["patient_id"]: row.get("birth_date") for row in tables.get("patient_identity", ())}
    years = {row["id"]: row.get("birth_year") for row in tables.get("patient", ())}
    info = writable(metadata.tables["operation"])["operated_on"]

    def age(row: dict[str, Any]) -> int | None:
        patient, on = row["patient_id"], stored_value(info, row["operated_on"])
        if patient in years or born.get(patient):
            return whole_years(born.get(patient), years.get(patient), on)
        return age_of(door.connection, door.cipher, patient, on)

    return [age(row) if age_is_wanted(row) else value for row, value in zip(rows, column, strict=True)]


def _write(door: Door, table: Table, made: dict[str, list[Any]], rows: Rows, batch: int) -> None:
    fixed = door.keeping(batch=batch)
    sqlite = door.connection.dialect.name == "sqlite"
    columns: Columns = {**made}
    for name, value in fixed.items():
        columns[name] = repeat(_moment_text(value) if sqlite and isinstance(value, datetime) else value)
    dialect_errors = door.connection.dialect.dbapi.Error  # type: ignore[union-attr]
    try:
        (_executemany if sqlite else _copy)(door.connection, table, columns)
    except dialect_errors as fault:
        door.broken = True
        raise _explained(door, table, rows, fault) from fault


def _executemany(connection: Connection, table: Table, columns: Columns) -> None:
    names, marks = ", ".join(f'"{name}"' for name in columns), ", ".join("?" * len(columns))
    cursor: Any = connection.connection.cursor()
    try:
        rows = zip(*columns.values())  # noqa: B905  (constant columns never end)
        cursor.executemany(f'INSERT INTO "{table.name}" ({names}) VALUES ({marks})', rows)
    finally:
        cursor.close()


def _copy(connection: Connection, table: Table, columns: Columns) -> None:
    names = ", ".join(f'"{name}"' for name in columns)
    cursor: Any = connection.connection.cursor()
    try:
        with cursor.copy(f'COPY "{table.name}" ({names}) FROM STDIN') as copying:
            for row in zip(*columns.values()):  # noqa: B905  (constant columns never end)
                copying.write_row(row)
    finally:
        cursor.close()


def _explained(door: Door, table: Table, rows: Rows, fault: Exception) -> GravelbookError:
    """The error of the first row that breaks a field's rule; else what the database said."""
    infos = writable(table)
    for row in rows:
        for name, info in infos.items():
            try:
                stored_value(info, info.default if row.get(name) is None else row[name])
            except GravelbookError as found:
                return GravelbookError(f"Row {row['id']} of the batch: {found}")
    if "FOREIGN KEY" in str(fault):
        new = {row["id"] for row in rows}
        for row in rows:
            outside = {k: v for k, v in row.items() if k != "id" and not (v in new and _target(table, k) == table.name)}
            try:
                check_links(door.connection, table, outside)
            except GravelbookError as found:
                return GravelbookError(f"Row {row['id']} of the batch: {found}")
    return refused_by_database(table, fault)


def _mark(door: Door, marks: Marks, table: str, keys: list[int]) -> None:
    for first, last in runs(keys):
        marks.left.setdefault(table, []).extend(door.fingerprints.of_range(table, first, last))


def _load_patient_keys(door: Door, marks: Marks, patients: list[int], batch: int) -> None:
    table = metadata.tables["patient_key"]
    first = door.ids.take(table.name, len(patients))
    keys = list(range(first, first + len(patients)))
    wrapped: list[Any] = [door.new_keys.pop(patient) for patient in patients]
    made: dict[str, list[Any]] = {"id": keys, "patient_id": patients, "wrapped_key": wrapped}
    _write(door, table, made, [], batch)
    _mark(door, marks, table.name, keys)


def _target(table: Table, link: str) -> str | None:
    kind = info_of(table.columns[link]).kind if link in table.columns else None
    return kind.table if isinstance(kind, Reference) else None
