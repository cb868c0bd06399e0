"""The ``gravelbook`` command: finds the commands that the rooms add, runs one, and turns faults into a paragraph.

Rooms add commands through the entry-point group ``gravelbook.commands``; so can a unit's own package. Each is
loaded only when it is used, and imports what is heavy only when it runs.
"""

from __future__ import annotations

import atexit
import gc
import os
import sys
import textwrap
from pathlib import Path

import click

from registry.installed import installed_commands, load_command, version
from registry.schema.errors import GravelbookError

# The order in which a unit meets them; commands that a unit adds itself follow in alphabetical order.
FAMILIAR_ORDER = (
    *("demo", "store", "intake", "quality", "snapshot"),
    *("stone-free", "complications", "fit", "scores", "equipment", "cost", "ratio", "synth"),
)


class CommandFinder(click.Group):
    """A group whose commands are entry points."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        names = set(installed_commands())
        familiar = [name for name in FAMILIAR_ORDER if name in names]
        return [*familiar, *sorted(names - set(familiar))]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        command: click.Command | None = load_command(cmd_name)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and self.get_command(ctx, args[0]) is None and not args[0].startswith("-"):
            from difflib import get_close_matches

            near = get_close_matches(args[0], self.list_commands(ctx), n=2, cutoff=0.5)
            hint = f" Did you mean {' or '.join(near)}?" if near else ""
            ctx.fail(f"There is no command '{args[0]}'.{hint} 'gravelbook --help' lists them.")
        return super().resolve_command(ctx, args)


def _show_version(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:
    if wanted and not ctx.resilient_parsing:
        click.echo(f"gravelbook {version()}")
        ctx.exit()


@click.command(cls=CommandFinder, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--version", is_flag=True, expose_value=False, is_eager=True, callback=_show_version, help="Show it and exit."
)
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
    collect_garbage_rarely()
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


def collect_garbage_rarely() -> None:
    """Loading the libraries makes some 150,000 objects that stay to the end.

    Looking through them for garbage again and again, and once more at the end, would take a third of the time of a
    short command.
    """
    gc.set_threshold(100_000, 20, 20)
    atexit.unregister(gc.freeze)
    atexit.register(gc.freeze)


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
