"""The ``gravelbook`` command: finds the commands that the rooms add, runs one, and turns faults into a paragraph.

Rooms add commands through the entry-point group ``gravelbook.commands``; so can a unit's own package. Each is
loaded only when it is used, and imports what is heavy only when it runs.
"""

from __future__ import annotations

import os
import sys
import textwrap
from pathlib import Path
from typing import Any

import click

from registry.schema.errors import GravelbookError

COMMAND_GROUP = "gravelbook.commands"
# The order in which a unit meets them; commands that a unit adds itself follow in alphabetical order.
FAMILIAR_ORDER = ("demo", "store", "intake", "snapshot", "stone-free", "synth")


class CommandFinder(click.Group):
    """A group whose commands are entry points."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        names = {point.name for point in _entry_points()}
        familiar = [name for name in FAMILIAR_ORDER if name in names]
        return [*familiar, *sorted(names - set(familiar))]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        for point in _entry_points():
            if point.name == cmd_name:
                command: click.Command = point.load()
                return command
        return None

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and self.get_command(ctx, args[0]) is None and not args[0].startswith("-"):
            from difflib import get_close_matches

            near = get_close_matches(args[0], self.list_commands(ctx), n=2, cutoff=0.5)
            hint = f" Did you mean {' or '.join(near)}?" if near else ""
            ctx.fail(f"There is no command '{args[0]}'.{hint} 'gravelbook --help' lists them.")
        return super().resolve_command(ctx, args)


def _entry_points() -> list[Any]:
    from importlib.metadata import entry_points

    return list(entry_points(group=COMMAND_GROUP))


@click.command(cls=CommandFinder, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="gravelbook", message="gravelbook %(version)s")
def gravelbook() -> None:
    """Outcomes registry and statistics for a stone unit.

    Audit and research software, not advice for treating a patient: small numbers and case mix mislead, and a figure
    never ranks a surgeon by itself. Patient data stay in the hospital.
    """


def paragraph(message: str) -> str:
    """A message as one paragraph that fits a terminal; lines that are already a table stay as they are."""
    first, *rest = message.split("\n")
    return "\n".join([textwrap.fill(first, width=100, break_long_words=False, break_on_hyphens=False), *rest])


def main(arguments: list[str] | None = None) -> None:
    """Run the command line; leaves with status 0 (done), 1 (data or request at fault) or 2 (wrong usage)."""
    try:
        status = gravelbook.main(args=arguments, prog_name="gravelbook", standalone_mode=False)
    except click.exceptions.Abort:
        sys.exit(_say("Stopped."))
    except click.ClickException as fault:  # wrong usage, in click's own words
        fault.show()
        sys.exit(fault.exit_code)
    except GravelbookError as fault:
        sys.exit(_say(str(fault)))
    except BrokenPipeError:  # the reader of our output went away, as "head" does
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    except KeyboardInterrupt:
        sys.exit(_say("Stopped."))
    except Exception as fault:
        if os.environ.get("GRAVELBOOK_TRACE"):
            raise
        sys.exit(_say(_unforeseen(fault)))
    sys.exit(status if isinstance(status, int) else 0)


def _say(message: str) -> int:
    click.echo(paragraph(message), err=True)
    return 1


def _unforeseen(fault: Exception) -> str:
    # The text of a foreign error may quote a patient's values, so only its kind and place are shown.
    place = fault.__traceback__
    while place is not None and place.tb_next is not None:
        place = place.tb_next
    where = f"{Path(place.tb_frame.f_code.co_filename).name}:{place.tb_lineno}" if place else "?"
    if isinstance(fault, OSError) and fault.filename:
        return f"{fault.filename}: {(fault.strerror or 'cannot be used').lower()}. Nothing was left half-written."
    return (
        f"Something went wrong inside Gravelbook ({type(fault).__name__} at {where}). Nothing was left half-written: "
        "a write is whole or not at all. Set GRAVELBOOK_TRACE=1 and run it again to see where, and report that to "
        "whoever looks after the program."
    )
