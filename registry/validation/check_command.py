"""The command ``gravelbook quality check``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from registry.command_options import by_option, format_option, person, registry_option


@click.command("check")
@registry_option
@click.option("--rule", "rules", multiple=True, metavar="ID", help="Run this rule alone; may be given several times.")
@format_option
@click.option(
    "--cases",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write every case that breaks a rule to this CSV file, by study number, date and side.",
)
@click.option("--record", is_flag=True, help="Keep what each rule found today, for the trend.")
@by_option
@click.pass_context
def check(
    context: click.Context,
    location: str,
    rules: tuple[str, ...],
    output_format: str,
    cases: Path | None,
    record: bool,
    by: str | None,
) -> None:
    """Check all that the registry holds: every rule of a field, and every clinical rule of several.

    Leaves with status 1 when something is impossible, when a rule could not run, or when there was nothing to judge.
    """
    from registry.store.files import write_whole
    from registry.store.registry import open_registry
    from registry.validation import quality_output
    from registry.validation.findings import Severity
    from registry.validation.quality_check import State, check_held
    from registry.validation.quality_runs import record_runs

    with open_registry(location) as registry:
        results = check_held(registry, rules, progress=_say if sys.stderr.isatty() else None)
        recorded = record_runs(registry, results, by=person(by)) if record else 0
    shape = {"text": quality_output.as_text, "csv": quality_output.as_csv, "json": quality_output.as_json}
    click.echo(shape[output_format](results), nl=False)
    if cases is not None:
        write_whole(cases, quality_output.cases_csv(results))
        click.echo(f"Wrote the cases to {cases}.", err=True)
    if record:
        click.echo(f"Recorded what {recorded} rules found today.", err=True)
    wrong = quality_output.broken_cases(results, Severity.ERROR)
    if wrong or quality_output.nothing_held(results) or any(r.state is State.COULD_NOT_RUN for r in results):
        context.exit(1)


def _say(words: str) -> None:
    click.echo(f"Checking {words}", err=True)
