"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import IO, Any

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

COHORT_OPTIONS = (
    ("rules", "FILE", "TOML file of steps of inclusion and exclusion."),
    ("as-of", "DATE", "Nothing dated later is read.  [default: latest date held]"),
    ("snapshot", "NAME", "Ask a kept snapshot instead of the registry as it stands."),
)
research_option = click.option("--research", is_flag=True, help="Leave out patients who refused research use.")


class WrongUsage(click.ClickException):
    """An option that cannot be read: said in one paragraph, exit status 2."""

    exit_code = 2

    def show(self, file: IO[Any] | None = None) -> None:
        from registry.command_line import paragraph

        click.echo(paragraph(self.format_message()), file=file, err=True)


def typed_options(options: Iterable[tuple[str, str, str]]) -> Callable[[Command], Command]:
    """Options whose text is read by our own rules, which know the unit's defaults; click only hands it on.

    options: of each its name, what may stand for its value, and its help.
    """

    def add(command: Command) -> Command:
        for name, metavar, said in reversed(tuple(options)):
            command = click.option(f"--{name}", metavar=metavar, help=said)(command)
        return command

    return add


def person(by: str | None) -> str:
    """Who acts: the name given, else the account of this computer."""
    import getpass

    if by:
        return by
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # no account name, as in some containers
        return "unknown"
