"""``gravelbook quality due``: who has to be called, asked or looked at, the most urgent first."""

from __future__ import annotations

import datetime as dt

import click

from registry.command_options import format_option, registry_option

KINDS = ("drains", "cultures", "follow-up", "reviews", "results", "theatre-list", "sign-off")


@click.command("due")
@registry_option
@click.option(
    "--on",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="DATE",
    help="The day to ask about, as 2024-05-31; by default today. What is held now is measured against it.",
)
@click.option("--what", multiple=True, type=click.Choice(KINDS), help="Only this. May be given several times.")
@click.option(
    "--within", type=click.IntRange(0, 3650), default=0, show_default=True, metavar="DAYS", help="Look ahead so far."
)
@format_option
def due(location: str, on: dt.datetime | None, what: tuple[str, ...], within: int, output_format: str) -> None:
    """Say what is due: stents in place, follow-up scans, reviews, results, cases to sign off.

    Patients who died are never called, and those who must not be contacted stand apart, to be settled from the record.

    The unit's own settings (sheet setting) say when, in days: follow_up_scan_days (30), follow_up_scan_from_days (14),
    follow_up_scan_to_days (90), review_days (30), stent_longest_days (90, where no removal is planned), culture_days
    (7), stone_analysis_days (42), report_days (14), theatre_list_days (0).
    """
    from registry.store.registry import open_registry
    from registry.validation.due import output
    from registry.validation.due.item import What
    from registry.validation.due.listing import due as listed

    day = on.date() if on is not None else dt.date.today()
    kinds = [What(kind) for kind in what] or list(What)
    with open_registry(location) as registry:
        items = listed(registry, on=day, what=kinds, within=within)
    if output_format == "json":
        click.echo(output.as_json(items, day, kinds), nl=False)
    elif output_format == "csv":
        click.echo(output.as_csv(items), nl=False)
    else:
        click.echo(output.as_text(items, day, kinds), nl=False)
