"""Commands about files that were loaded: their list, and taking one back."""

from __future__ import annotations

import click

from registry.command_options import by_option, format_option, person, registry_option


@click.command()
@registry_option
@click.option("--names", is_flag=True, help="Show the names of the files, which may name a person.")
@format_option
def batches(location: str, names: bool, output_format: str) -> None:
    """List the files that were loaded: when, by whom, of which source, how many rows, in which state."""
    from registry.intake import batches as listing
    from registry.store.registry import open_registry

    with open_registry(location) as registry:
        found = listing.list_batches(registry, names=names)
    shape = {"text": listing.as_text, "csv": listing.as_csv, "json": listing.as_json}
    click.echo(shape[output_format](found), nl=False)


@click.command()
@click.argument("batch", type=click.IntRange(min=1))
@click.option("--reason", metavar="TEXT", required=True, help="Why, for the change history.")
@click.option("--with-corrections", is_flag=True, help="Also when persons have corrected rows of it since.")
@registry_option
@by_option
def withdraw(batch: int, reason: str, with_corrections: bool, location: str, by: str | None) -> None:
    """Withdraw BATCH whole: its rows go, what it changed is as before. The history keeps them."""
    from registry.store.registry import open_registry
    from registry.store.withdrawing import withdraw_batch

    with open_registry(location) as registry, registry.writing(by=person(by), reason=reason) as door:
        done = withdraw_batch(door, batch, with_corrections=with_corrections)
    gone = ", ".join(f"{table} {count}" for table, count in sorted(done.gone.items())) or "none"
    back = ", ".join(f"{table} {count}" for table, count in sorted(done.taken_back.items())) or "none"
    click.echo(
        f"Batch {batch} is withdrawn. Rows that went: {gone}. Rows that are as before: {back}. "
        "The same file can be loaded again."
    )
