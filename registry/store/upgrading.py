"""A registry's upgrade, backup and restore as a person asks for them: proved before and after."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from registry.schema.errors import GravelbookError

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Upgrade:
    """What an upgrade did: the place, the revisions before and after, and the backup made first."""

    place: str
    before: str
    after: str
    backup: Path | None


def upgrade_registry(
    location: str, *, target: str = "head", backup_file: Path | None = None, progress: Progress | None = None
) -> Upgrade:
    """Move a registry's tables to another revision: proved, backed up, moved, proved again, or left as it was.

    Args:
        location: the registry.
        target: "head" or a revision's name.
        backup_file: where the backup goes; by default beside the registry, named after the revision it leaves.
        progress: told what is being done.
    Raises:
        GravelbookError: no registry, a newer one, one that does not verify, or a migration that failed.
    """
    from sqlalchemy.exc import SQLAlchemyError

    from registry.store import upgrade
    from registry.store.location import parse_location
    from registry.store.proof import prove_connection
    from registry.store.revisions import head_revision, known_revisions, revision_of

    tell = progress or (lambda line: None)
    place = parse_location(location)
    engine, before = _opened(location)
    wanted = head_revision() if target == "head" else target
    if wanted not in known_revisions():
        raise GravelbookError(f"There is no revision {wanted}. The revisions are {', '.join(known_revisions())}.")
    if before not in known_revisions():
        raise GravelbookError(
            f"{place.shown} has a shape this program does not know ({before}): it was written by a newer program. "
            "Install that version; nothing was changed."
        )
    if before == wanted:
        engine.dispose()
        return Upgrade(place.shown, before, wanted, None)
    tell("Backing up first.")
    backup = backup_file or _beside(place, before)
    back_up(location, backup, progress=progress)
    tell(f"Moving the tables from {before} to {wanted}.")
    try:
        with upgrade.migrating(engine) as connection:
            upgrade.move(connection, wanted)
            if revision_of(connection) != wanted:
                raise GravelbookError(f"The tables did not reach {wanted}; nothing was changed.")
            wrong = prove_connection(connection, place)
            if wrong:
                raise GravelbookError(
                    f"After the migration {len(wrong)} rows do not fit the change history, the first in {wrong[0]}. "
                    f"Nothing was changed; the backup made before is {backup}."
                )
    except SQLAlchemyError as fault:
        raise GravelbookError(
            f"The migration to {wanted} failed ({type(fault).__name__}). {place.shown} is as it was, and the backup "
            f"made before is {backup}. Report this to whoever looks after the program."
        ) from fault
    finally:
        engine.dispose()
    return Upgrade(place.shown, before, wanted, backup)


def back_up(location: str, target: Path, *, progress: Progress | None = None) -> dict[str, Any]:
    """Write a backup of a registry of any known revision and prove it.

    Returns the manifest.

    Raises:
        GravelbookError: the registry or the finished backup does not verify, or the target exists.
    """
    from registry.store.backup import checked_manifest, manifest_path, write_backup
    from registry.store.location import parse_location
    from registry.store.proof import prove_file

    place = parse_location(location)
    engine, _ = _opened(location)
    try:
        write_backup(engine, target, head=_head(engine), progress=progress)
    finally:
        engine.dispose()
    wrong = prove_file(target, keys_of=place)
    if wrong:
        target.unlink()
        manifest_path(target).unlink()
        raise GravelbookError(
            f"{place.shown} does not verify: {len(wrong)} findings, the first {wrong[0]}. No backup of it was kept. "
            "Run 'gravelbook store verify' for the list."
        )
    return checked_manifest(target)


def restore(source: Path, location: str, *, progress: Progress | None = None) -> dict[str, Any]:
    """Put a backup into a new place and prove it there, against the head that its manifest names.

    Returns the manifest.

    Raises:
        GravelbookError: the backup is damaged, the place is taken, or the key file is missing or another's.
    """
    from registry.store.backup import checked_manifest, restore_backup
    from registry.store.engine import make_engine
    from registry.store.keys import load_keys
    from registry.store.location import check_free, parse_location
    from registry.store.proof import prove_file

    place = parse_location(location)
    check_free(place)
    said = checked_manifest(source)
    try:
        load_keys(place)
    except GravelbookError as fault:
        raise GravelbookError(
            f"{fault} A backup does not hold the key: put a copy of the registry's key file there first."
        ) from fault
    wrong = prove_file(source, keys_of=place, anchor=(said["history_length"], said["history_head"]))
    if wrong:
        raise GravelbookError(f"{source} does not verify: {wrong[0]}. Nothing was restored; take another backup.")
    engine = make_engine(place)
    try:
        restore_backup(source, engine, progress=progress)
    finally:
        engine.dispose()
    return said


def _head(engine: Any) -> tuple[int, str] | None:
    from sqlalchemy import inspect

    from registry.store.history import head

    with engine.connect() as connection:
        return head(connection) if inspect(connection).has_table("change_history") else None


def _opened(location: str) -> tuple[Any, str]:
    """An engine on an existing registry and the revision it is at."""
    from registry.store.engine import connect, make_engine
    from registry.store.location import check_readable, parse_location
    from registry.store.revisions import revision_of

    place = parse_location(location)
    check_readable(place)
    engine = make_engine(place)
    with connect(engine, place) as connection:
        found = revision_of(connection)
    if found is None:
        engine.dispose()
        raise GravelbookError(
            f"{place.shown} is a database but holds no registry. Make one with: gravelbook store create --registry "
            f"{place.shown}"
        )
    return engine, found


def _beside(place: Any, revision: str) -> Path:
    if place.file is not None:
        first = Path(f"{place.file}.before-leaving-{revision}.backup.db")
    else:
        first = Path(f"gravelbook-{place.url.database}.before-leaving-{revision}.backup.db")
    target, number = first, 1
    while target.exists():
        number += 1
        target = first.with_name(f"{first.name.removesuffix('.backup.db')}.{number}.backup.db")
    return target
