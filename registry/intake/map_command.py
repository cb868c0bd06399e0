"""The command that proposes a mapping for a flat log."""

from __future__ import annotations

import shlex
from pathlib import Path

import click


@click.command("map")
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--guide", is_flag=True, help="Print a mapping that shows everything a mapping can say, and stop.")
@click.option("--output", type=click.Path(path_type=Path), metavar="M.toml", help="Where the mapping is written.")
@click.option(
    "--name", metavar="NAME", help="Name of the log; its later versions go by it. By default the file's name."
)
@click.option("--sheet", metavar="SHEET", help="Sheet of a workbook; by default the first that holds cells.")
@click.option("--overwrite", is_flag=True, help="Replace the mapping if it is there.")
@click.option(
    "--format",
    "output_format",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="JSON goes to standard output alone.",
)
def map_log(
    file: Path | None,
    guide: bool,
    output: Path | None,
    name: str | None,
    sheet: str | None,
    overwrite: bool,
    output_format: str,
) -> None:
    """Propose a mapping for FILE, a log with one row a case.

    Says of each column what it seems to hold, how sure that is and why. What cannot be told is left for you, as a
    comment in the mapping. No value of a patient is printed.
    """
    if guide:
        click.echo(Path(__file__).with_name("mapping_guide.toml").read_text(encoding="utf-8"), nl=False)
        return
    if file is None:
        raise click.UsageError("Give the FILE to propose a mapping for, or --guide.")
    from registry.intake.map_reading import proposal_for
    from registry.intake.map_table import as_json, as_table
    from registry.intake.map_writer import as_mapping
    from registry.store.files import refuse_overwriting, write_whole

    if output is not None:
        refuse_overwriting(output, overwrite=overwrite, ending=".toml", what="mapping")
    whole = proposal_for(file, sheet)
    if output is not None:
        text = as_mapping(whole, name=name or file.stem, file=file.name, mapping=output.name)
        write_whole(output, text)
    click.echo(as_json(whole) if output_format == "json" else as_table(whole), nl=False)
    if output_format == "text":
        if output is None:
            again = f"gravelbook intake map {shlex.quote(str(file))} --output M.toml"
            click.echo(f"Nothing was written. To have it as a mapping: {again}")
        else:
            click.echo(f"Wrote {output}. Read it and decide what is left; then:")
            click.echo(f"gravelbook intake check {shlex.quote(str(file))} --mapping {shlex.quote(str(output))}")
