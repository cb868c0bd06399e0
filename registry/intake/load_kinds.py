"""What ``intake load`` and ``intake check`` do beside rows of cases: theatre lists, and rows that wait."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from registry.schema.plurals import counted

if TYPE_CHECKING:
    from registry.intake.log_mapping import Mapping
    from registry.intake.source import Source
    from registry.store.registry import Registry

WAITING = "gravelbook intake waiting"


def list_mapping(source: Source) -> Mapping | None:
    """The mapping of a theatre list; None for any other file.

    Raises:
        GravelbookError: the mapping has mistakes.
    """
    if source.mapping is None:
        return None
    from registry.intake.log_mapping_reader import read_mapping

    mapping = read_mapping(source.mapping)
    return mapping if mapping.kind == "theatre_list" else None


def check_list(location: str, source: Source, mapping: Mapping, output_format: str) -> bool:
    """Say what is wrong with a theatre list; False where something is."""
    from registry.intake.theatre_list_file import read_lines
    from registry.store.registry import open_registry
    from registry.validation import findings as output

    found = output.FindingList(source.name)
    with open_registry(location) as registry:
        lines = read_lines(registry, source, mapping, found)
    if output_format == "text":
        click.echo(f"{source.name}: {counted(len(lines), 'line')} of a theatre list.")
    shape = {"text": output.as_text, "csv": output.as_csv, "json": output.as_json}
    click.echo(shape[output_format](found.listed()), nl=False)
    return not found.errors


def load_list(
    location: str, source: Source, mapping: Mapping, *, by: str, reason: str | None, output_format: str
) -> bool:
    """Load a theatre list and say what became of it; False where it has errors."""
    from registry.intake import theatre_list_file, theatre_list_words
    from registry.store.registry import open_registry
    from registry.validation import findings as output

    with open_registry(location) as registry:
        loaded = theatre_list_file.load_list(registry, source, mapping, by=by, reason=reason)
    if output_format == "json":
        click.echo(theatre_list_words.as_json(loaded))
    else:
        if loaded.findings:
            shape = {"text": output.as_text, "csv": output.as_csv}
            click.echo(shape[output_format](loaded.findings), nl=False)
        click.echo(theatre_list_words.said(source.name, loaded), err=output_format == "csv")
    return not loaded.errors


def try_waiting(registry: Registry, *, by: str, output_format: str) -> None:
    """Try the rows that wait after something was loaded, and say so where some were placed."""
    from registry.intake.waiting_again import try_again
    from registry.schema.errors import GravelbookError

    aside = output_format != "text"
    try:
        done = try_again(registry, by=by)
    except GravelbookError as fault:  # what was loaded is loaded
        click.echo(f"The rows that wait could not be tried again. {fault}", err=True)
        return
    if done.placed:
        left = f"; {done.left} wait on ({WAITING})" if done.left else ""
        batches = ", ".join(map(str, done.batches))
        click.echo(f"Found their case: {counted(done.placed, 'row')} that waited (batch {batches}){left}.", err=aside)


def waiting_words(waiting: int) -> str:
    """How many rows wait, as a sentence; nothing when none does."""
    if not waiting:
        return ""
    rows = "1 row waits for its case" if waiting == 1 else f"{waiting} rows wait for their case"
    return f" {rows} ({WAITING})."
