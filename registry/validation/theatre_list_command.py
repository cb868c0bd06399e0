"""``gravelbook quality theatre-list``: which listed operations the registry has, and which are missing."""

from __future__ import annotations

import datetime as dt

import click

from registry.command_options import by_option, format_option, person, registry_option

SETTLED = ("cancelled", "not_stone", "open")
DAY = click.DateTime(["%Y-%m-%d"])


@click.command("theatre-list")
@registry_option
@click.option("--on", type=DAY, metavar="DATE", help="Only this day's list, as 2024-05-31.")
@click.option("--from", "first", type=DAY, metavar="DATE", help="From this day on.")
@click.option("--to", "last", type=DAY, metavar="DATE", help="Up to this day.")
@click.option(
    "--settle",
    "settled",
    nargs=2,
    type=(click.IntRange(1), click.Choice(SETTLED)),
    multiple=True,
    metavar="LINE STATE",
    help="Say that LINE was cancelled or is not_stone; open takes it back. May be given several times.",
)
@by_option
@format_option
def theatre_list(
    location: str,
    on: dt.datetime | None,
    first: dt.datetime | None,
    last: dt.datetime | None,
    settled: tuple[tuple[int, str], ...],
    by: str | None,
    output_format: str,
) -> None:
    """Match the theatre lists to the operations held, and say which lines are left.

    Every run matches anew; a line and an operation may be theatre_list_days (0) apart, by the unit's setting. How many
    operations there were in all is estimated only where the setting registry_filled_from_theatre_list is no. CSV has
    the lines that are left, JSON everything.
    """
    if on is not None and (first is not None or last is not None):
        raise click.UsageError("Give --on, or --from and --to.")
    if first is not None and last is not None and first > last:
        raise click.UsageError("--from is after --to.")
    from registry.schema.lists_outcome import ListLineState
    from registry.store.registry import open_registry
    from registry.validation.theatre_list import output
    from registry.validation.theatre_list.matching import match_lines
    from registry.validation.theatre_list.settling import settle
    from registry.validation.theatre_list.standing import standing

    begin, end = (day.date() if day is not None else None for day in (on or first, on or last))
    with open_registry(location) as registry:
        match_lines(registry, by=person(by))
        for line, state in settled:
            settle(registry, line, ListLineState(state), by=person(by))
        if settled:
            match_lines(registry, by=person(by))
        found = standing(registry, first=begin, last=end)
    click.echo({"text": output.as_text, "csv": output.as_csv, "json": output.as_json}[output_format](found), nl=False)
