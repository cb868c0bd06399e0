"""Backups: one file that proves itself, of a registry on either engine, and back again.

A backup is an SQLite registry with the rows as they are stored (what is encrypted stays so) and a manifest beside
it: the revision, the head and length of the change history, rows a table, and the hash of the file. A registry on
PostgreSQL is copied row for row into the same form. The key that reads identities is not in it.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from registry.schema.errors import GravelbookError
from registry.store import upgrade
from registry.store.revisions import revision_of

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine

VERSION_TABLE = "alembic_version"
CHUNK = 5000
Progress = Callable[[str], None]


def manifest_path(backup: Path) -> Path:
    """Where the manifest of a backup lies."""
    return backup.with_name(backup.name + ".manifest.json")


def write_backup(
    engine: Engine, target: Path, *, head: tuple[int, str] | None, progress: Progress | None = None
) -> Path:
    """Copy a registry into one file with a manifest beside it; whole or not at all.

    Args:
        engine: the registry's engine, or one for migrations.
        target: the file to write; it must not exist.
        head: length and hash of the change history; None for a registry that has none yet.
        progress: told the name of each table as it is copied.
    Raises:
        GravelbookError: the target exists, or cannot be written.
    """
    if target.exists() or manifest_path(target).exists():
        raise GravelbookError(f"{target} exists already; a backup never overwrites another. Name a new file.")
    if not target.parent.is_dir():
        raise GravelbookError(f"{target.parent} is not a folder; make it first, then run the backup again.")
    folder = Path(tempfile.mkdtemp(prefix=".backup-", dir=target.parent))
    try:
        part = folder / "part.db"
        if engine.dialect.name == "sqlite":
            _copy_sqlite(str(engine.url.database), part)
        else:
            with engine.connect().execution_options(isolation_level="REPEATABLE READ") as source:
                _copy_rows_into_new_file(source, part, progress)
        part.chmod(0o600)
        written = {**_facts(part), "history_length": head[0] if head else 0, "history_head": head[1] if head else ""}
        manifest = folder / "manifest.json"
        manifest.write_text(json.dumps(written, indent=1) + "\n", encoding="utf-8")
        manifest.chmod(0o600)
        manifest.replace(manifest_path(target))
        part.replace(target)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    return target


def checked_manifest(backup: Path) -> dict[str, Any]:
    """The manifest of a backup whose file is what the manifest says.

    Raises:
        GravelbookError: the file or its manifest is not there, or the file has been changed or cut.
    """
    if not backup.is_file():
        raise GravelbookError(f"There is no backup {backup}.")
    beside = manifest_path(backup)
    try:
        said: dict[str, Any] = json.loads(beside.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise GravelbookError(
            f"{beside} is not there: a backup is the file and its manifest together. Copy both, then try again."
        ) from None
    except (ValueError, OSError):
        raise GravelbookError(f"{beside} cannot be read as a manifest. Take another backup of that day.") from None
    if said.get("file_sha256") != file_hash(backup):
        raise GravelbookError(
            f"{backup} is not the file that its manifest describes: it was changed or cut short since the backup was "
            "made. Nothing was restored. Take another backup."
        )
    return said


def restore_backup(backup: Path, engine: Engine, *, progress: Progress | None = None) -> dict[str, Any]:
    """Put a backup into an empty place: a new SQLite file or a PostgreSQL database without tables.

    Returns the backup's manifest. All or nothing.

    Raises:
        GravelbookError: the backup is damaged, or the place is not empty.
    """
    said = checked_manifest(backup)
    if engine.dialect.name == "sqlite":
        target = Path(str(engine.url.database))
        if target.exists():
            raise GravelbookError(f"{target} exists already; a restore never overwrites. Name a new file.")
        part = target.with_name(f".{target.name}.part")
        try:
            shutil.copyfile(backup, part)
            part.chmod(0o600)
            part.replace(target)
        finally:
            part.unlink(missing_ok=True)
        return said
    with upgrade.migrating(engine) as connection:
        if revision_of(connection) is not None:
            raise GravelbookError(
                "That database holds a registry already; a restore never overwrites. Name an empty database."
            )
        upgrade.move(connection, said["revision"])
        _copy_rows_back(backup, connection, progress)
    return said


def file_hash(path: Path) -> str:
    """SHA-256 of a file."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _facts(part: Path) -> dict[str, Any]:
    with closing(sqlite3.connect(part)) as connection:
        names = [
            name
            for (name,) in connection.execute(
                "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name"
            )
        ]
        rows = {name: connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in names}
        (revision,) = connection.execute(f"SELECT version_num FROM {VERSION_TABLE}").fetchone()
    rows.pop(VERSION_TABLE, None)
    return {"format": "gravelbook backup 1", "revision": revision, "file_sha256": file_hash(part), "rows": rows}


def _copy_sqlite(source: str, part: Path) -> None:
    # The library's own online backup: whole pages, consistent while others write.
    with closing(sqlite3.connect(source, timeout=10)) as old, closing(sqlite3.connect(part)) as new:
        old.backup(new)
        new.execute("PRAGMA journal_mode = DELETE")
        (state,) = new.execute("PRAGMA quick_check").fetchone()
        if state != "ok":
            raise GravelbookError(f"{source} is damaged ({state}); no backup was made. Restore the latest good one.")


def _copy_rows_into_new_file(source: Connection, part: Path, progress: Progress | None) -> None:
    from sqlalchemy import create_engine

    target = create_engine(f"sqlite:///{part}")
    with upgrade.migrating(target) as connection:
        upgrade.move(connection, revision_of(source) or "base")
        _copy_rows(source, connection, progress)
    target.dispose()
    with closing(sqlite3.connect(part)) as finished:
        finished.execute("PRAGMA journal_mode = DELETE")


def _copy_rows_back(backup: Path, connection: Connection, progress: Progress | None) -> None:
    from sqlalchemy import create_engine

    source_engine = create_engine(f"sqlite:///file:{backup.resolve()}?mode=ro&uri=true")
    with source_engine.connect() as source:
        _copy_rows(source, connection, progress)
    source_engine.dispose()


def _copy_rows(source: Connection, target: Connection, progress: Progress | None) -> None:
    """Copy every table as it is in the source, also those that the declarations do not know (parked rows)."""
    from sqlalchemy import Column, MetaData, Table, inspect, select

    reflected = MetaData()
    reflected.reflect(bind=source)
    known = MetaData()
    known.reflect(bind=target)
    for table in reflected.sorted_tables:
        if table.name == VERSION_TABLE:
            continue
        if progress:
            progress(table.name)
        if table.name not in known.tables:
            Table(table.name, known, *(Column(c.name, _portable_type(c.type)) for c in table.columns))
            known.tables[table.name].create(target)
        missing = {c.name for c in table.columns} - {c["name"] for c in inspect(target).get_columns(table.name)}
        if missing:
            raise GravelbookError(
                f"Table {table.name} has fields that its revision does not know ({', '.join(sorted(missing))}); "
                "nothing was copied. Somebody changed the tables by hand."
            )
        query = select(table).order_by(table.c.id) if "id" in table.c else select(table)
        for rows in source.execute(query).mappings().partitions(CHUNK):
            target.execute(known.tables[table.name].insert(), [_portable(row) for row in rows])


def _portable_type(kind: Any) -> Any:
    # Dates and times travel as text, so a parked table keeps them so; the revision that brings them back casts them.
    from sqlalchemy import BigInteger, Double, Integer, Numeric, Text
    from sqlalchemy.dialects.sqlite import REAL

    if isinstance(kind, Integer):
        return BigInteger().with_variant(Integer(), "sqlite")
    return Double().with_variant(REAL(), "sqlite") if isinstance(kind, Numeric) else Text()


def _portable(row: Any) -> dict[str, Any]:
    # Dates and times as the text that SQLite keeps; PostgreSQL reads the same text.
    return {name: _text(value) if isinstance(value, date) else value for name, value in row.items()}


def _text(value: date) -> str:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    return value.isoformat()
