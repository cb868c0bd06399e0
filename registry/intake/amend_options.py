"""Options by which a file may change rows that are there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from registry.schema.plurals import counted

if TYPE_CHECKING:
    from registry.intake.amend import Amending
    from registry.intake.load import Loaded
    from registry.intake.load_plan import LoadPlan

amend_option = click.option(
    "--amend",
    is_flag=True,
    help="FILES are a later version: change what the earlier one said, but nothing that was corrected since.",
)
replace_option = click.option(
    "--replace-corrections", "replacing", is_flag=True, help="With --amend: change what was corrected since, too."
)


def amending_of(amend: bool, replacing: bool) -> Amending | None:
    """How far the file may change what is there.

    Raises:
        UsageError: corrections are to be replaced, but nothing is to be amended.
    """
    from registry.intake.amend import Amending

    if replacing and not amend:
        raise click.UsageError("--replace-corrections belongs to --amend.")
    return Amending(replacing=replacing) if amend else None


def would_amend(plan: LoadPlan) -> str:
    """How many rows a plan would change, as the end of a sentence; nothing when it would change none."""
    rows = len({(amendment.table, amendment.row) for amendment in plan.amendments})
    return f" Changes {rows} of them." if rows else ""


def amended_words(loaded: Loaded) -> str:
    """Which rows were changed, as a sentence; nothing when none was."""
    if not loaded.amended:
        return ""
    by_table = ", ".join(f"{table} {count}" for table, count in loaded.amended.items())
    return f" Changed {counted(sum(loaded.amended.values()), 'row')} held before: {by_table}."
