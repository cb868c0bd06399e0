"""``gravelbook quality report``: the data-quality report as one HTML file."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import click

from registry.command_options import registry_option


@click.command("report")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path), default=Path("data-quality.html"))
@registry_option
@click.option(
    "--on",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="DATE",
    help="The day as of which the report speaks, as 2024-05-31; by default today.",
)
@click.option("--months", type=click.IntRange(1, 60), default=12, show_default=True, help="How far back it looks.")
@click.option("--overwrite", is_flag=True, help="Replace the file if it is there.")
def report(file: Path, location: str, on: dt.datetime | None, months: int, overwrite: bool) -> None:
    """Write the data-quality report to FILE (data-quality.html): one page for the eye and for the printer.

    Trends are of the days on which 'gravelbook quality check --record' was run.
    """
    from registry.store.files import refuse_overwriting, write_whole
    from registry.store.registry import open_registry
    from registry.validation.quality_report.gather import gather
    from registry.validation.quality_report.page import report_page

    refuse_overwriting(file, overwrite=overwrite, ending=".html", what="report")
    with open_registry(location) as registry:
        found = gather(registry, on=on.date() if on is not None else dt.date.today(), months=months)
    write_whole(file, report_page(found))
    click.echo(f"Wrote {file}. Open it in a browser or print it; it names no patient, and stays in the hospital.")
