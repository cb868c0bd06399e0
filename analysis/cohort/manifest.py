"""What a snapshot says of itself, and the check that its files are still what it says.

The manifest holds no clock time of its own: its dates are the registry's, so that the same registry frozen twice
by the same software gives the same bytes.
"""

from __future__ import annotations

import hashlib
import json
import platform
from dataclasses import asdict, dataclass
from functools import cache
from importlib import metadata
from pathlib import Path
from typing import Any

from registry.schema.errors import GravelbookError

FILE_NAME = "manifest.json"
FORMAT = 1


@dataclass(frozen=True, kw_only=True)
class FrozenFile:
    """One table's file: its name, rows and SHA-256."""

    file: str
    rows: int
    sha256: str


@dataclass(frozen=True, kw_only=True)
class RegistryState:
    """The registry that was frozen.

    schema_revision: the revision of its stored shape. history_length, history_head: how many entries the change
    history had and the hash of the last. last_change_at: when that was written (UTC, ISO 8601), None when nothing
    was ever entered. layout: hash of which columns were frozen and how.
    """

    schema_revision: str
    history_length: int
    history_head: str
    last_change_at: str | None
    layout: str

    @property
    def key(self) -> str:
        """Names the automatic snapshot of this state; any change to the registry gives another."""
        parts = (self.schema_revision, str(self.history_length), self.history_head, self.layout)
        return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:20]


@dataclass(frozen=True, kw_only=True)
class Manifest:
    """A snapshot's description of itself. `content_hash` seals the hashes of all tables' files."""

    registry: RegistryState
    tables: dict[str, FrozenFile]
    content_hash: str
    software: dict[str, str]
    format: int = FORMAT

    def as_json(self) -> str:
        """The text of the manifest's file."""
        return json.dumps(asdict(self), indent=1, sort_keys=True) + "\n"


def described(registry: RegistryState, tables: dict[str, FrozenFile]) -> Manifest:
    """The manifest of freshly written files."""
    return Manifest(registry=registry, tables=tables, content_hash=_sealed(tables), software=software())


@cache
def software() -> dict[str, str]:
    """The versions that decide the bytes of a snapshot and of what is worked out from it."""
    versions = {name: _version(name) for name in ("gravelbook", "pyarrow", "duckdb", "pandas")}
    return {**versions, "python": platform.python_version()}


def read_manifest(folder: Path) -> Manifest:
    """The manifest of a snapshot's folder.

    Raises:
        GravelbookError: it is missing, cannot be read, or belongs to another format.
    """
    path = folder / FILE_NAME
    try:
        held: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        if held["format"] != FORMAT:
            raise GravelbookError(
                f"The snapshot in {folder} was written in format {held['format']}, and this version of Gravelbook "
                f"reads format {FORMAT}. Use the version that took it, or take a new snapshot."
            )
        manifest = Manifest(
            registry=RegistryState(**held["registry"]),
            tables={name: FrozenFile(**file) for name, file in held["tables"].items()},
            content_hash=held["content_hash"],
            software=held["software"],
        )
    except FileNotFoundError:
        raise GravelbookError(
            f"The folder {folder} holds no snapshot: {FILE_NAME} is not there. Take a snapshot again."
        ) from None
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise GravelbookError(_spoilt(folder, f"its {FILE_NAME} cannot be read ({error})")) from None
    if _sealed(manifest.tables) != manifest.content_hash:
        raise GravelbookError(_spoilt(folder, f"the hashes in its {FILE_NAME} do not agree with its content hash"))
    return manifest


def spoilt_files(folder: Path, manifest: Manifest) -> list[str]:
    """The files that are missing or whose bytes are not those that were written, by name."""
    # Imported here so that listing snapshots does not need the Parquet library.
    from analysis.cohort.parquet import digest

    found = []
    for held in manifest.tables.values():
        path = folder / held.file
        if not path.is_file() or digest(path) != held.sha256:
            found.append(held.file)
    return found


def check_files(folder: Path, manifest: Manifest) -> None:
    """Refuse a snapshot whose files are not those that were written.

    Raises:
        GravelbookError: a file is missing or has other bytes than the manifest says.
    """
    found = spoilt_files(folder, manifest)
    if found:
        raise GravelbookError(_spoilt(folder, f"{', '.join(found)} differs from what was written"))


def _spoilt(folder: Path, what: str) -> str:
    return (
        f"The snapshot in {folder} is not as it was taken: {what}. Nothing is worked out from it. Restore the folder "
        "from a backup, or remove it and take a snapshot of the registry again."
    )


def _sealed(tables: dict[str, FrozenFile]) -> str:
    lines = [f"{name} {file.file} {file.rows} {file.sha256}" for name, file in sorted(tables.items())]
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def _version(distribution: str) -> str:
    try:
        return metadata.version(distribution)
    except metadata.PackageNotFoundError:
        return "not installed"
