"""The commands `gravelbook snapshot take / list / keep / remove`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from registry.command_options import registry_option

if TYPE_CHECKING:
    from analysis.cohort.snapshot import Snapshot


@click.group()
def snapshot() -> None:
    """Freeze the registry's tables, to analyse them again later.

    A snapshot holds no names, no hospital numbers and no free wording, but it holds patients' data: it lies in a
    folder beside the registry that other accounts cannot enter.
    """


@snapshot.command()
@click.argument("name", required=False)
@registry_option
def take(name: str | None, location: str) -> None:
    """Take a snapshot of the registry as it stands, and keep it under NAME if one is given.

    Without a name it is the automatic snapshot, which every figure takes by itself when the registry has changed.
    """
    from analysis.cohort.places import checked_name, snapshots_folder
    from analysis.cohort.snapshot import current_snapshot, keep_snapshot
    from registry.store.registry import open_registry

    if name is not None:
        checked_name(name)
    with open_registry(location) as registry:
        taken = current_snapshot(registry, mend=True)
        if name is not None:
            taken = keep_snapshot(taken, snapshots_folder(registry.location), name)
    click.echo(_told(taken))
    click.echo(f"in {taken.folder}")


@snapshot.command("list")
@registry_option
def list_kept(location: str) -> None:
    """List the snapshots that are there."""
    from analysis.cohort.places import snapshots_folder
    from analysis.cohort.snapshot import automatic_snapshot, kept_names, kept_snapshot
    from registry.schema.errors import GravelbookError
    from registry.store.location import parse_location

    folder = snapshots_folder(parse_location(location))
    lines = []
    for name in kept_names(folder):
        try:
            lines.append(_told(kept_snapshot(folder, name)))
        except GravelbookError:
            lines.append(f"{name}: spoilt, its manifest is not as it was written")
    try:
        automatic = automatic_snapshot(folder)
        lines += [_told(automatic)] if automatic else []
    except GravelbookError:
        lines.append("(automatic): spoilt, its manifest is not as it was written")
    click.echo("\n".join([*lines, f"in {folder}"]) if lines else f"No snapshots in {folder}.")


@snapshot.command()
@click.argument("name")
@registry_option
def keep(name: str, location: str) -> None:
    """Keep the automatic snapshot, the one the latest figures came from, under NAME.

    It is kept as it is, even if the registry has changed since. Use `take NAME` for the registry as it stands now.
    """
    from analysis.cohort.places import snapshots_folder
    from analysis.cohort.snapshot import automatic_snapshot, keep_snapshot
    from registry.schema.errors import GravelbookError
    from registry.store.location import parse_location

    folder = snapshots_folder(parse_location(location))
    automatic = automatic_snapshot(folder)
    if automatic is None:
        raise GravelbookError(
            f"There is no automatic snapshot in {folder} to keep. Take one of the registry as it stands with: "
            f"gravelbook snapshot take {name}"
        )
    click.echo(_told(keep_snapshot(automatic, folder, name)))


@snapshot.command()
@click.argument("name")
@registry_option
def remove(name: str, location: str) -> None:
    """Remove the kept snapshot NAME."""
    from analysis.cohort.places import snapshots_folder
    from analysis.cohort.snapshot import remove_snapshot
    from registry.store.location import parse_location

    remove_snapshot(snapshots_folder(parse_location(location)), name)
    click.echo(f"Snapshot {name} removed.")


def _told(told: Snapshot) -> str:
    manifest = told.manifest
    last = manifest.registry.last_change_at
    rows = sum(file.rows for file in manifest.tables.values())
    sides = manifest.tables["treated_side"].rows
    return (
        f"{told.name or '(automatic)'}: registry of {f'{last[:10]} {last[11:16]} UTC' if last else 'no entries'}, "
        f"{sides:,} treated side{'' if sides == 1 else 's'}, {rows:,} rows, content {manifest.content_hash[:12]}"
    )
