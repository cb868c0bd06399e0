"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

registry_option = click.option(
    "--registry",
    "location",
    envvar="GRAVELBOOK_REGISTRY",
    default="gravelbook.db",
    show_default=True,
    metavar="FILE-OR-URL",
    help="The registry: an SQLite file or a PostgreSQL URL. Also read from GRAVELBOOK_REGISTRY.",
)
format_option = click.option(
    "--format",
    "output_format",
    type=click.Choice(["text", "csv", "json"]),
    default="text",
    show_default=True,
    help="JSON goes to standard output alone.",
)
by_option = click.option(
    "--by-whom",
    "by",
    envvar="GRAVELBOOK_USER",
    metavar="NAME",
    help="Who does this, for the change history; by default the account of this computer.",
)

Command = Callable[..., Any]


def person(by: str | None) -> str:
    """Who acts: the name given, else the account of this computer."""
    import getpass

    if by:
        return by
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # no account name, as in some containers
        return "unknown"
