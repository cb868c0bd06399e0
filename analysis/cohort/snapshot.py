"""Snapshots: the registry's analysed tables, frozen.

Every figure is worked out from a snapshot. The automatic one is of the registry as it stands: an unchanged registry
reuses it, a changed one gets a new one and the old is dropped. A kept one has a name and stays, byte for byte, until
a person removes it.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.cohort.holding import Held, drop_unless_held
from analysis.cohort.manifest import FILE_NAME, Manifest, check_files, read_manifest, spoilt_files
from analysis.cohort.places import (
    AUTOMATIC,
    KEPT,
    UNFINISHED,
    checked_name,
    drop_folder,
    settle,
    snapshots_folder,
    unfinished_folder,
)
from registry.schema.errors import GravelbookError

if TYPE_CHECKING:
    from registry.store.registry import Registry


@dataclass(frozen=True)
class Snapshot:
    """A snapshot that is there to be read: its folder, what it says of itself, its name if it is kept."""

    folder: Path
    manifest: Manifest
    name: str | None = None
    held: Held | None = field(default=None, repr=False, compare=False)

    def file(self, table_name: str) -> Path:
        """The Parquet file of a table."""
        return self.folder / self.manifest.tables[table_name].file

    def check(self) -> None:
        """Refuse the snapshot unless its files are what was written.

        Raises:
            GravelbookError: a file is missing or has other bytes than the manifest says.
        """
        check_files(self.folder, self.manifest)


def open_snapshot(registry: Registry, name: str | None = None) -> Snapshot:
    """The snapshot to work out a question from: a kept one by name, or that of the registry as it stands.

    Raises:
        GravelbookError: no snapshot has this name, its files are spoilt, or the registry is being written to.
    """
    return current_snapshot(registry) if name is None else kept_snapshot(snapshots_folder(registry.location), name)


def current_snapshot(registry: Registry, *, mend: bool = False) -> Snapshot:
    """The automatic snapshot of the registry as it stands; taken when there is none.

    Args:
        mend: take it again when its files are spoilt, instead of refusing it when it is read.
    """
    from analysis.cohort.freezing import freeze_registry, state_of

    automatic = snapshots_folder(registry.location) / AUTOMATIC
    while True:
        target = automatic / state_of(registry).key
        if target.is_dir() and (not (target / FILE_NAME).is_file() or (mend and spoilt(target))):
            drop_folder(target)
        if not (target / FILE_NAME).is_file():
            with unfinished_folder(automatic) as made:
                # Somebody may have written since the key was asked for: its name is that of what was read.
                target = automatic / freeze_registry(registry, made).registry.key
                settle(made, target)
        try:
            held = Held(target)
        except FileNotFoundError:  # another process saw the registry move on and dropped it
            continue
        _drop_others(automatic, target)
        return Snapshot(target, read_manifest(target), held=held)


def kept_snapshot(folder: Path, name: str) -> Snapshot:
    """A kept snapshot, by name.

    Args:
        folder: the registry's snapshots (`places.snapshots_folder`).

    Raises:
        GravelbookError: there is none of this name, or its manifest is spoilt.
    """
    target = folder / KEPT / checked_name(name)
    if not target.is_dir():
        there = ", ".join(kept_names(folder)) or "none"
        raise GravelbookError(
            f"No snapshot is kept under the name {name!r} in {folder}. Kept are: {there}. "
            f"Take one with: gravelbook snapshot take {name}"
        )
    return Snapshot(target, read_manifest(target), name)


def kept_names(folder: Path) -> list[str]:
    """The names of all kept snapshots of a registry, in order."""
    kept = folder / KEPT
    if not kept.is_dir():
        return []
    return sorted(each.name for each in kept.iterdir() if each.is_dir() and not each.name.startswith(UNFINISHED))


def automatic_snapshot(folder: Path) -> Snapshot | None:
    """The newest automatic snapshot that is there, whether or not the registry has moved on since."""
    automatic = folder / AUTOMATIC
    if not automatic.is_dir():
        return None
    found = [Snapshot(each, read_manifest(each)) for each in automatic.iterdir() if (each / FILE_NAME).is_file()]
    return max(found, key=lambda snapshot: snapshot.manifest.registry.history_length, default=None)


def keep_snapshot(snapshot: Snapshot, folder: Path, name: str) -> Snapshot:
    """Keep a snapshot under a name.

    Raises:
        GravelbookError: the name is taken or is no name, or the snapshot is spoilt.
    """
    target = folder / KEPT / checked_name(name)
    if target.exists():
        raise GravelbookError(
            f"A snapshot is already kept under the name {name!r}. Choose another name, or remove that one first with: "
            f"gravelbook snapshot remove {name}"
        )
    snapshot.check()
    with unfinished_folder(target.parent) as made:
        for file in [FILE_NAME, *(held.file for held in snapshot.manifest.tables.values())]:
            shutil.copyfile(snapshot.folder / file, made / file)
            (made / file).chmod(0o600)
        settle(made, target)
    return kept_snapshot(folder, name)


def remove_snapshot(folder: Path, name: str) -> None:
    """Remove a kept snapshot, spoilt or not.

    Raises:
        GravelbookError: there is none of this name.
    """
    target = folder / KEPT / checked_name(name)
    if not target.is_dir():
        kept_snapshot(folder, name)  # says what is there
    drop_folder(target)


def spoilt(folder: Path) -> bool:
    """Whether a snapshot's files or manifest are not what was written."""
    try:
        return bool(spoilt_files(folder, read_manifest(folder)))
    except GravelbookError:
        return True


def _drop_others(automatic: Path, current: Path) -> None:
    for other in automatic.iterdir():
        if other != current and not other.name.startswith(UNFINISHED):
            drop_unless_held(other)
