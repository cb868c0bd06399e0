"""``gravelbook intake waiting``: the rows of extracts that found no case yet."""

from __future__ import annotations

import click

from registry.command_options import by_option, format_option, person, registry_option
from registry.schema.plurals import counted


@click.command()
@registry_option
@click.option("--try-again", "again", is_flag=True, help="Look for their cases now; every load does so too.")
@click.option("--drop", "dropped", type=click.IntRange(1), metavar="ID", help="Let a row wait no more.")
@click.option("--reason", metavar="TEXT", help="Why it is dropped, for the change history.")
@by_option
@format_option
def waiting(
    location: str, again: bool, dropped: int | None, reason: str | None, by: str | None, output_format: str
) -> None:
    """List the rows of extracts that wait for their case: number, batch, source, since when, and why.

    What stands in the rows is not shown.
    """
    if dropped is not None and not (reason or "").strip():
        raise click.UsageError("--drop needs a reason: say why with --reason TEXT.")
    if reason is not None and dropped is None:
        raise click.UsageError("--reason belongs to --drop.")
    from registry.intake import waiting_list
    from registry.intake.waiting_again import try_again
    from registry.store.registry import open_registry

    aside = output_format != "text"
    with open_registry(location) as registry:
        if dropped is not None:
            waiting_list.drop(registry, dropped, by=person(by), reason=str(reason))
            click.echo(f"Row {dropped} was dropped.", err=aside)
        if again:
            done = try_again(registry, by=person(by), asked=True)
            click.echo(f"Found their case: {counted(done.placed, 'row')}; still waiting: {done.left}.", err=aside)
        found = waiting_list.list_waiting(registry)
    shape = {"text": waiting_list.as_text, "csv": waiting_list.as_csv, "json": waiting_list.as_json}
    click.echo(shape[output_format](found), nl=False)
