"""Commands that bring files into the registry and write it out again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from registry.command_options import by_option, format_option, person, registry_option
from registry.intake.amend_options import amend_option, amended_words, amending_of, replace_option, would_amend
from registry.intake.batch_commands import batches, withdraw
from registry.intake.load_kinds import check_list, list_mapping, load_list, try_waiting, waiting_words
from registry.intake.map_command import map_log
from registry.intake.merge_commands import merge
from registry.intake.progress import progress_shown
from registry.intake.refusal import refusal
from registry.intake.waiting_command import waiting
from registry.schema.plurals import counted

if TYPE_CHECKING:
    from registry.intake.good_rows import GoodRows
    from registry.intake.load import Loaded
    from registry.intake.source import Source
    from registry.validation.findings import Finding

file_argument = click.argument("file", type=click.Path(path_type=Path))
files_argument = click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
mapping_option = click.option(
    "--mapping", type=click.Path(path_type=Path), help="Mapping of a flat log. Without it FILE is the intake workbook."
)
overwrite_option = click.option("--overwrite", is_flag=True, help="Replace the file if it is there.")


@click.group()
def intake() -> None:
    """Workbooks: an empty one, its check, its load, and the registry as one."""


for _command in (map_log, batches, withdraw, merge, waiting):
    intake.add_command(_command)


@intake.command()
@file_argument
@overwrite_option
def template(file: Path, overwrite: bool) -> None:
    """Write an empty intake workbook to FILE.

    Every heading carries a note with its unit and limits; cells with a code list have a drop-down.
    """
    from registry.intake.template import write_template

    write_template(file, overwrite=overwrite)
    click.echo(f"Wrote {file}. Sheet 'read me' says how to fill it in; then: gravelbook intake check {file}")


@intake.command()
@files_argument
@mapping_option
@click.option(
    "--marked",
    metavar="COPY.xlsx",
    type=click.Path(path_type=Path),
    help="Also write a copy of FILES with the cells coloured and commented; one each where there are several.",
)
@overwrite_option
@amend_option
@replace_option
@registry_option
@format_option
@click.pass_context
def check(
    context: click.Context,
    files: tuple[Path, ...],
    mapping: Path | None,
    marked: Path | None,
    overwrite: bool,
    amend: bool,
    replacing: bool,
    location: str,
    output_format: str,
) -> None:
    """List every problem of FILES at once. The registry and FILES stay as they are."""
    from registry.intake.load import refuse_empty
    from registry.intake.load_plan import make_plan
    from registry.intake.marked_copy import write_marked_copies
    from registry.intake.marked_copy_places import places_beside
    from registry.store.registry import open_registry
    from registry.validation.findings import Severity

    source, amending = _source(files, mapping), amending_of(amend, replacing)
    if (of_list := list_mapping(source)) is not None:
        if marked is not None or amend:
            raise click.UsageError("A theatre list is checked without --marked and --amend.")
        if not check_list(location, source, of_list, output_format):
            context.exit(1)
        return
    if marked is not None:
        places_beside(marked, source.files, overwrite=overwrite)  # said before a long check, not after it
    with open_registry(location) as registry, progress_shown() as progress:
        plan = make_plan(registry, source, progress=progress, amending=amending)
    refuse_empty(plan)
    found = plan.findings.listed()
    if output_format == "text":
        there = sum(plan.there.values())
        more = would_amend(plan) + waiting_words(len(plan.file.waiting) + plan.file.still_waiting)
        click.echo(f"{source.name}: {plan.new_rows} new rows, {there} already there.{more}")
    click.echo(_findings(found, output_format), nl=False)
    if marked is not None:
        for copy in write_marked_copies(source, found, marked, overwrite=overwrite):
            click.echo(f"Wrote {copy}, a copy with every finding at its cell.", err=output_format != "text")
    if any(f.severity is Severity.ERROR for f in found):
        context.exit(1)


@intake.command()
@files_argument
@mapping_option
@registry_option
@by_option
@click.option("--reason", metavar="TEXT", help="Why, for the change history.")
@amend_option
@replace_option
@click.option(
    "--accept-good-rows",
    "rejected",
    metavar="REJECTED.xlsx",
    type=click.Path(path_type=Path),
    help="Load the rows that are right and write the others, with the reasons, to a workbook to mend and load.",
)
@overwrite_option
@format_option
@click.pass_context
def load(
    context: click.Context,
    files: tuple[Path, ...],
    mapping: Path | None,
    location: str,
    by: str | None,
    reason: str | None,
    amend: bool,
    replacing: bool,
    rejected: Path | None,
    overwrite: bool,
    output_format: str,
) -> None:
    """Load FILES into the registry: all of it, or nothing if there is an error.

    With --accept-good-rows a row at fault, and every row that belongs to it, stays out; of a log, all rows of the
    patient. The exit status is 0 when everything was loaded and 1 when the data are at fault, rejected rows included.
    """
    from registry.intake.good_rows import load_good_rows
    from registry.intake.load import load_file
    from registry.store.registry import open_registry

    source, amending = _source(files, mapping), amending_of(amend, replacing)
    if (of_list := list_mapping(source)) is not None:
        if rejected is not None or amend:
            raise click.UsageError("A theatre list is loaded whole, without --accept-good-rows and --amend.")
        if not load_list(location, source, of_list, by=person(by), reason=reason, output_format=output_format):
            context.exit(1)
        return
    if rejected is not None and amending is not None:
        raise click.UsageError("Take --accept-good-rows and --amend one after the other.")
    if rejected is not None:
        with open_registry(location) as registry:
            with progress_shown() as progress:
                good = load_good_rows(
                    registry, source, rejected, by=person(by), reason=reason, overwrite=overwrite, progress=progress
                )
            _say_good_rows(source.name, good, output_format)
            if good.loaded.batch_id is not None:
                try_waiting(registry, by=person(by), output_format=output_format)
        if good.rejected or good.refused:
            context.exit(1)
        return
    with open_registry(location) as registry:
        with progress_shown() as progress:
            loaded = load_file(registry, source, by=person(by), reason=reason, progress=progress, amending=amending)
        _say_loaded(source.name, loaded, output_format)
        if loaded.batch_id is not None:
            try_waiting(registry, by=person(by), output_format=output_format)
    if loaded.errors:
        context.exit(1)


@intake.command()
@file_argument
@registry_option
@overwrite_option
def write(file: Path, location: str, overwrite: bool) -> None:
    """Write the registry's clinical tables to FILE, in the layout of the intake workbook.

    No names, hospital numbers or birth dates are written; free wording is, and may hold them.
    """
    from registry.intake.workbook_writer import write_workbook
    from registry.store.registry import open_registry

    with open_registry(location) as registry:
        written = write_workbook(registry, file, overwrite=overwrite)
    for sentence in written.lost:
        click.echo(sentence, err=True)
    click.echo(f"Wrote {written.rows} rows to {file}. Free wording is readable in it: keep it in the hospital.")


def _source(files: tuple[Path, ...], mapping: Path | None) -> Source:
    """The files to read; several belong together only under a mapping."""
    from registry.intake.source import Source

    if mapping is None and len(files) > 1:
        raise click.UsageError("Several files are read together only with --mapping; give one workbook at a time.")
    return Source(files, mapping)


def _findings(found: list[Finding], output_format: str) -> str:
    from registry.validation import findings

    shape = {"text": findings.as_text, "csv": findings.as_csv, "json": findings.as_json}
    return shape[output_format](found)


def _say_good_rows(name: str, good: GoodRows, output_format: str) -> None:
    from registry.intake.good_rows_words import said

    if output_format == "json":
        click.echo(_as_json(good))
        return
    if good.loaded.findings:
        click.echo(_findings(good.loaded.findings, output_format), nl=False)
    click.echo(said(name, good), err=output_format == "csv")


def _say_loaded(name: str, loaded: Loaded, output_format: str) -> None:
    if output_format == "json":
        click.echo(_as_json(loaded))
        return
    if loaded.findings:
        click.echo(_findings(loaded.findings, output_format), nl=False)
    click.echo(_said(name, loaded), err=output_format == "csv")


def _said(name: str, loaded: Loaded) -> str:
    if loaded.errors:
        return refusal(name, loaded.errors)
    if loaded.seen_before:
        return f"Nothing was changed: this very file was loaded before ({name})."
    there = sum(loaded.there.values())
    if loaded.batch_id is None:
        why = f": {counted(there, 'row')} of {name} already there, none new" if there else ""
        return f"Nothing was changed{why}.{waiting_words(loaded.waiting)}"
    by_table = ", ".join(f"{table} {count}" for table, count in loaded.new.items())
    already = f" Already there: {counted(there, 'row')}." if there else ""
    already += amended_words(loaded) + waiting_words(loaded.waiting)
    if not loaded.new:
        return f"Loaded {name} as batch {loaded.batch_id}.{already}"
    return (
        f"Loaded {counted(sum(loaded.new.values()), 'row')} of {name} as batch {loaded.batch_id}: {by_table}.{already}"
    )


def _as_json(loaded: Loaded | GoodRows) -> str:
    import json
    from dataclasses import asdict

    return json.dumps(asdict(loaded), ensure_ascii=False, indent=1)
