"""``store verify`` and the proofs that an upgrade, a backup and a restore ask for."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from registry.schema.errors import GravelbookError

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from registry.store.history import Head
    from registry.store.location import Location
    from registry.store.verify import Finding, Verification

SHOWN = 50
Progress = Callable[[str], None]


def prove(location: str, *, manifests: Iterable[Path] = (), progress: Progress | None = None) -> Verification:
    """Verify a registry, also against the heads that manifests of backups and snapshots keep.

    Args:
        location: the registry.
        manifests: manifests whose head the history must still contain. The manifests of the snapshots kept beside
            the registry are always read.
        progress: told what is being gone through.
    Raises:
        GravelbookError: no registry, or a manifest that cannot be read.
    """
    from registry.store.registry import open_registry
    from registry.store.verify import verify

    with open_registry(location) as registry:
        beside = _snapshot_manifests(registry.location)
        return verify(registry, [head_in(path) for path in [*manifests, *beside]], progress)


def prove_connection(connection: Connection, place: Location) -> list[Finding]:
    """What does not fit, as an open connection sees it; nothing is asked of a registry without history yet."""
    from sqlalchemy import inspect

    from registry.store.keys import load_keys
    from registry.store.verify import verify_connection

    if not inspect(connection).has_table("change_history"):
        return []
    return verify_connection(connection, load_keys(place)).findings


def prove_file(file: Path, *, keys_of: Location, anchor: Head | None = None) -> list[Finding]:
    """What does not fit in a backup file, read with the keys of another place.

    Args:
        file: the backup.
        keys_of: the registry whose key file is used.
        anchor: length and hash that the history must end with.
    """
    from sqlalchemy import create_engine, inspect

    from registry.store.keys import load_keys
    from registry.store.verify import verify_connection

    engine = create_engine(f"sqlite:///file:{file.resolve()}?mode=ro&uri=true")
    try:
        with engine.connect() as connection:
            if not inspect(connection).has_table("change_history"):
                return []
            return verify_connection(connection, load_keys(keys_of), [anchor] if anchor else []).findings
    finally:
        engine.dispose()


def head_in(manifest: Path) -> Head:
    """Length and last hash of the history, from the manifest of a backup or a snapshot.

    Raises:
        GravelbookError: the file is not there or is no manifest.
    """
    try:
        said = json.loads(manifest.read_text(encoding="utf-8"))
        return int(said["history_length"]), str(said["history_head"])
    except OSError as fault:
        raise GravelbookError(f"{manifest} cannot be read: {(fault.strerror or 'no reason given').lower()}.") from fault
    except (ValueError, KeyError, TypeError) as fault:
        raise GravelbookError(
            f"{manifest} is no manifest of a backup or snapshot: it names no history_length and history_head."
        ) from fault


def as_text(found: Verification) -> str:
    """The verification for a person: one sentence, then each finding with its table and row."""
    lines = [found.summary[0].upper() + found.summary[1:]]
    lines += [f"  {finding}" for finding in found.findings[:SHOWN]]
    if len(found.findings) > SHOWN:
        lines.append(f"  and {len(found.findings) - SHOWN:,} more; --format csv lists all.")
    lines.append(f"Head of the history: {found.head[0]} {found.head[1]}")
    if found.holds:
        lines.append("An end of the history that was cut off shows only against a manifest kept elsewhere (--against).")
    return "\n".join(lines)


def as_csv(found: Verification) -> str:
    """The findings as CSV."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["table", "row", "what"])
    writer.writerows([f.table, "" if f.row is None else f.row, f.what] for f in found.findings)
    return text.getvalue().rstrip("\n")


def as_json(found: Verification) -> str:
    """The verification as JSON."""
    return json.dumps(
        {
            "holds": found.holds,
            "entries": found.entries,
            "rows": found.rows,
            "head": {"history_length": found.head[0], "history_head": found.head[1]},
            "findings": [{"table": f.table, "row": f.row, "what": f.what} for f in found.findings],
        },
        indent=1,
    )


def _snapshot_manifests(place: Location) -> list[Path]:
    """Manifests of the snapshots beside an SQLite registry: anchors that cost nothing to ask."""
    if place.file is None:
        return []
    return sorted(place.file.with_name(f"{place.file.name}.snapshots").glob("*/manifest.json"))
