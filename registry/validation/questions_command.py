"""``gravelbook quality questions``: asked from what the rules find, given to someone, answered."""

from __future__ import annotations

import click

from registry.command_options import by_option, format_option, person, registry_option
from registry.schema.errors import GravelbookError

STATES = ("asked", "answered", "stands_as_recorded", "mended", "all")


class _ListsByDefault(click.Group):
    """A group that lists when no command is named."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        if not args or (args[0].startswith("-") and args[0] not in ("-h", "--help")):
            args = ["list", *args]
        return super().parse_args(ctx, args)


@click.group("questions", cls=_ListsByDefault)
def questions() -> None:
    """Questions about cases: list them, ask, assign, answer. Without a command they are listed."""


@questions.command("list")
@registry_option
@click.option("--of", "owner", metavar="OWNER", help="Only those asked of this person.")
@click.option("--rule", metavar="RULE", help="Only those of this rule, or of all rules that begin so (as: operation).")
@click.option("--state", "states", multiple=True, type=click.Choice(STATES), help="By default: asked.")
@format_option
def list_questions(
    location: str, owner: str | None, rule: str | None, states: tuple[str, ...], output_format: str
) -> None:
    """List questions with their case, rule, owner and age.

    People's own wording is shown on the screen alone: CSV and JSON leave it out.
    """
    from registry.schema.lists_outcome import QuestionState
    from registry.store.registry import open_registry
    from registry.validation.questions import output
    from registry.validation.questions.listing import listed

    wanted = list(QuestionState) if "all" in states else [QuestionState(state) for state in states or ("asked",)]
    with open_registry(location) as registry:
        found = listed(registry, owner=owner, rule=rule, states=wanted)
    shown = {"text": output.as_text, "csv": output.as_csv, "json": output.as_json}[output_format](found)
    click.echo(shown, nl=False)


@questions.command("ask")
@registry_option
@by_option
def ask_questions(location: str, by: str | None) -> None:
    """Check what is held; ask what the rules find, and close what was mended."""
    from registry.store.registry import open_registry
    from registry.validation.questions.asking import ask
    from registry.validation.questions.held_data import check_held_data

    with open_registry(location) as registry:
        checked = check_held_data(registry)
        done = ask(registry, checked, by=person(by))
    click.echo(
        f"Asked {done.asked}; {done.mended} mended and closed; {done.still_open} still open; {done.quiet} answered and "
        "left in peace."
    )
    if checked.failed:
        raise GravelbookError(
            f"These rules could not run, so nothing was asked or closed by them: {', '.join(checked.failed)}. "
            "Report that to whoever looks after the program."
        )
    if done.no_site:
        click.echo(f"{done.no_site} could not be asked, as their rows belong to no site.", err=True)


@questions.command("assign")
@click.argument("number", type=click.IntRange(1))
@click.argument("owner")
@registry_option
@by_option
def assign_question(number: int, owner: str, location: str, by: str | None) -> None:
    """Give question NUMBER to OWNER."""
    from registry.store.registry import open_registry
    from registry.validation.questions.answering import assign

    with open_registry(location) as registry:
        assign(registry, number, owner, by=person(by))
    click.echo(f"Question {number} is asked of {owner}.")


@questions.command("answer")
@click.argument("number", type=click.IntRange(1))
@click.argument("text")
@registry_option
@by_option
def answer_question(number: int, text: str, location: str, by: str | None) -> None:
    """Answer question NUMBER with TEXT. It closes by itself when the data are mended."""
    from registry.store.registry import open_registry
    from registry.validation.questions.answering import answer

    with open_registry(location) as registry:
        answer(registry, number, text, by=person(by))
    click.echo(f"Question {number} is answered. It closes by itself when the data are mended.")


@questions.command("stands")
@click.argument("number", type=click.IntRange(1))
@click.option("--reason", required=True, help="Why it is right as recorded.")
@registry_option
@by_option
def question_stands(number: int, reason: str, location: str, by: str | None) -> None:
    """Say that what question NUMBER is about stands as recorded. It is not asked again while those values stay."""
    from registry.store.registry import open_registry
    from registry.validation.questions.answering import stands

    with open_registry(location) as registry:
        stands(registry, number, reason, by=person(by))
    click.echo(f"Question {number} stands as recorded.")
