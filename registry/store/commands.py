"""``gravelbook store``: the life of a registry's database."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from registry.command_options import by_option, format_option, person, registry_option


@click.group()
def store() -> None:
    """Make, upgrade, back up, restore and verify a registry; write its data dictionary."""


@store.command()
@registry_option
@click.option("--site", "site_code", metavar="CODE", help="Enter this unit as the first site.")
@click.option("--site-name", metavar="NAME", help="The unit's name.")
@click.option(
    "--time-zone", metavar="ZONE", help="The unit's time zone, as Europe/Lisbon: what times of day are read by."
)
@by_option
def create(location: str, site_code: str | None, site_name: str | None, time_zone: str | None, by: str | None) -> None:
    """Make an empty registry and its key file."""
    if site_code is None and (site_name or time_zone):
        raise click.UsageError("A site's name and time zone need the site's code: give --site as well.")
    from registry.store.keys import key_file_of
    from registry.store.location import parse_location
    from registry.store.registry import create_registry
    from registry.store.time_zones import check_zone

    if time_zone:
        check_zone(time_zone)
    with create_registry(location) as registry:
        if site_code:
            site = {"code": site_code, "name": site_name or site_code, "time_zone": time_zone or None}
            with registry.writing(by=person(by), reason="registry created") as door:
                door.insert("site", site)
    place = parse_location(location)
    click.echo(f"Made the registry {place.shown}.")
    click.echo(
        f"Its key is in {key_file_of(place)}. Without that file names, numbers and notes cannot be read, and with it "
        "they can: keep a copy apart from the database and its backups."
    )


@store.command()
@registry_option
@format_option
def status(location: str, output_format: str) -> None:
    """Say what a registry holds and whether its tables are up to date."""
    from registry.store.status import as_csv, as_json, as_text, status_of

    found = status_of(location)
    click.echo({"text": as_text, "csv": as_csv, "json": as_json}[output_format](found))


@store.command()
@registry_option
@click.option("--backup", "backup_file", type=click.Path(path_type=Path), help="Where to keep the backup made first.")
@click.option("--to", "target", default="head", show_default=True, metavar="REVISION", help="Another revision.")
def upgrade(location: str, backup_file: Path | None, target: str) -> None:
    """Bring the tables to this program's shape, after a verified backup; all or nothing."""
    from registry.store.upgrading import upgrade_registry

    done = upgrade_registry(location, target=target, backup_file=backup_file, progress=_say)
    if done.before == done.after:
        click.echo(f"{done.place} is at {done.after} already; nothing was changed.")
    else:
        click.echo(f"{done.place} went from {done.before} to {done.after}. The backup made first is {done.backup}.")


@store.command()
@click.argument("target", type=click.Path(path_type=Path))
@registry_option
def backup(target: Path, location: str) -> None:
    """Write a backup to TARGET, with a manifest beside it that proves it."""
    from registry.store.backup import manifest_path
    from registry.store.upgrading import back_up

    said = back_up(location, target, progress=_say)
    click.echo(f"Wrote {target} and {manifest_path(target).name}: {sum(said['rows'].values()):,} rows, verified.")
    click.echo("The key file is not in it. Keep both, apart from each other.")


@store.command()
@click.argument("source", type=click.Path(path_type=Path))
@registry_option
def restore(source: Path, location: str) -> None:
    """Put the backup SOURCE into a new place named by --registry; never over another registry."""
    from registry.store.upgrading import restore as put_back

    said = put_back(source, location, progress=_say)
    click.echo(
        f"Restored {sum(said['rows'].values()):,} rows to {location}, with a history of {said['history_length']:,} "
        "entries that verifies."
    )


@store.command()
@registry_option
@format_option
@click.option(
    "--against",
    "manifests",
    multiple=True,
    type=click.Path(path_type=Path),
    help="A manifest of a backup or snapshot whose head the history must still contain. May be given several times.",
)
def verify(location: str, output_format: str, manifests: tuple[Path, ...]) -> None:
    """Prove the change history and every row against it; leave with status 1 when something does not fit."""
    from registry.store.proof import as_csv, as_json, as_text, prove

    proof = prove(location, manifests=list(manifests), progress=_say if sys.stderr.isatty() else None)
    click.echo({"text": as_text, "csv": as_csv, "json": as_json}[output_format](proof))
    if proof.findings:
        raise SystemExit(1)


@store.command()
@registry_option
@click.option("--site", "site_code", metavar="CODE", help="The patient's unit, where there are several.")
@click.option("--study-number", required=True, help="The patient's study number.")
@click.option("--reason", required=True, help="Why; kept in the history.")
@click.option("--yes", is_flag=True, help="Do not ask.")
@by_option
def erase(location: str, site_code: str | None, study_number: str, reason: str, yes: bool, by: str | None) -> None:
    """Erase who a patient is, for good: names, numbers, birth date and notes; the clinical record stays."""
    from registry.store.erasing import erase_patient
    from registry.store.registry import open_registry
    from registry.store.study_numbers import patient_of

    if not yes:
        click.confirm(
            f"The identity and all free wording of patient {study_number} cannot be read again by anyone, here. "
            "Older backups still hold them. Go on?",
            abort=True,
        )
    with open_registry(location) as registry, registry.writing(by=person(by), reason=reason) as door:
        erase_patient(door, patient_of(door.connection, study_number, site_code), reason)
    click.echo(f"Erased who patient {study_number} is. The clinical record stays and the history still verifies.")


@store.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path("dictionary"))
def dictionary(folder: Path) -> None:
    """Write the data dictionary into FOLDER: Markdown, CSV and Table Schema JSON."""
    from registry.schema import dictionary as words
    from registry.store.files import write_whole

    written: dict[str, Any] = {
        "dictionary.md": words.as_markdown,
        "dictionary.csv": words.as_csv,
        "dictionary.json": words.as_table_schema,
    }
    for name, text in written.items():
        write_whole(folder / name, text())
    click.echo(f"Wrote {', '.join(written)} to {folder}: {len(words.entries())} fields.")


def _say(line: str) -> None:
    click.echo(line, err=True)
