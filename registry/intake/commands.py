"""Commands that bring files into the registry and write it out again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from registry.command_options import by_option, format_option, person, registry_option
from registry.intake.progress import progress_shown

if TYPE_CHECKING:
    from registry.intake.load import Loaded
    from registry.validation.findings import Finding

file_argument = click.argument("file", type=click.Path(path_type=Path))
overwrite_option = click.option("--overwrite", is_flag=True, help="Replace the file if it is there.")


@click.group()
def intake() -> None:
    """Workbooks: an empty one, its check, its load, and the registry as one."""


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
@file_argument
@registry_option
@format_option
@click.pass_context
def check(context: click.Context, file: Path, location: str, output_format: str) -> None:
    """List every problem of FILE at once. Nothing is changed."""
    from registry.intake.load import refuse_empty
    from registry.intake.load_plan import make_plan
    from registry.store.registry import open_registry
    from registry.validation.findings import Severity

    with open_registry(location) as registry, progress_shown() as progress:
        plan = make_plan(registry, file, progress=progress)
    refuse_empty(plan)
    found = plan.findings.listed()
    if output_format == "text":
        there = sum(plan.there.values())
        click.echo(f"{file.name}: {plan.new_rows} new rows, {there} already there.")
    click.echo(_findings(found, output_format), nl=False)
    if any(f.severity is Severity.ERROR for f in found):
        context.exit(1)


@intake.command()
@file_argument
@registry_option
@by_option
@click.option("--reason", metavar="TEXT", help="Why, for the change history.")
@format_option
@click.pass_context
def load(
    context: click.Context, file: Path, location: str, by: str | None, reason: str | None, output_format: str
) -> None:
    """Load FILE into the registry: all of it, or nothing if there is an error."""
    from registry.intake.load import load_file
    from registry.store.registry import open_registry

    with open_registry(location) as registry, progress_shown() as progress:
        loaded = load_file(registry, file, by=person(by), reason=reason, progress=progress)
    if output_format == "json":
        click.echo(_as_json(loaded))
    else:
        if loaded.findings:
            click.echo(_findings(loaded.findings, output_format), nl=False)
        click.echo(_said(file, loaded), err=output_format == "csv")
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


def _findings(found: list[Finding], output_format: str) -> str:
    from registry.validation import findings

    shape = {"text": findings.as_text, "csv": findings.as_csv, "json": findings.as_json}
    return shape[output_format](found)


def _said(file: Path, loaded: Loaded) -> str:
    if loaded.errors:
        return f"Nothing was loaded: {file.name} has {loaded.errors} errors. Mend them and load it again."
    if loaded.seen_before:
        return f"Nothing was changed: this very file was loaded before ({file.name})."
    there = sum(loaded.there.values())
    if loaded.batch_id is None:
        return f"Nothing was changed: all {there} rows of {file.name} are already there."
    by_table = ", ".join(f"{table} {count}" for table, count in loaded.new.items())
    already = f" {there} rows were already there." if there else ""
    return f"Loaded {sum(loaded.new.values())} rows of {file.name} as batch {loaded.batch_id}: {by_table}.{already}"


def _as_json(loaded: Loaded) -> str:
    import json
    from dataclasses import asdict

    return json.dumps(asdict(loaded), ensure_ascii=False, indent=1)
