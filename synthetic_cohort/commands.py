"""The command ``gravelbook synth``: an invented cohort of any size, with its truth."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("synth")
@click.option(
    "--operations",
    type=click.IntRange(1, 200_000),
    default=300,
    show_default=True,
    help="How many stone operations and drainages, planned stages and retreatments included.",
)
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="The same seed gives the same file.")
@click.option(
    "--missing",
    type=click.Choice(["completely_random", "by_recorded", "not_random"]),
    help="Who is scanned: by lot; by age, burden, year, stent and operator (default); also by what is left.",
)
@click.option(
    "--output",
    type=click.Path(dir_okay=False, path_type=Path),
    help="The intake workbook to write (.xlsx). This or --log is needed.",
)
@click.option(
    "--truth",
    type=click.Path(dir_okay=False, path_type=Path),
    help="A JSON file for the true values and every parameter.",
)
@click.option(
    "--parameters",
    "parameter_file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="A TOML file of 'name = value' lines; what is not named keeps its default.",
)
@click.option(
    "--awkward", is_flag=True, help="Add the demo's hand-written awkward patients, who are no part of the truth."
)
@click.option(
    "--log",
    "style",
    type=click.Choice(["semicolon", "grouped", "tabs", "yearly", "diary", "export"]),
    help="Write a flat log as one unit keeps it, instead of the workbook; needs --folder.",
)
@click.option(
    "--folder",
    type=click.Path(file_okay=False, path_type=Path),
    help="Where the log's files go, with mapping.toml, truth.json and planted.json.",
)
@click.option(
    "--mess",
    type=click.Choice(["none", "usual", "heavy"]),
    default="usual",
    show_default=True,
    help="How messy the log is: blank lines, totals, numbers as text, marks of missing values and more.",
)
@click.option(
    "--errors",
    type=click.IntRange(0),
    default=0,
    show_default=True,
    help="How many errors are planted in the log; planted.json says which and where.",
)
def synth(
    operations: int,
    seed: int,
    missing: str | None,
    output: Path | None,
    truth: Path | None,
    parameter_file: Path | None,
    awkward: bool,
    style: str | None,
    folder: Path | None,
    mess: str,
    errors: int,
) -> None:
    """Write a filled intake workbook, or a flat log, of invented patients whose true results are known.

    Prints what was made and the true values of what analysis estimates: stone-free probabilities, the effects of the
    sheath-to-scope ratio and of suction, infection, complications by grade, reviews, failures of scopes, the surgeon's
    judgement, the kidneys' function. They are worked out from a population of 200,000 operations, each error being that
    of the simulation.

    \b
    Example:
      gravelbook synth --operations 600 --seed 7 --missing not_random --output cohort.xlsx --truth truth.json
      gravelbook synth --operations 200 --log yearly --folder yearly-log --errors 30
    """
    from registry.schema.errors import GravelbookError

    if style is not None:
        if folder is None or output is not None:
            raise click.UsageError("--log writes to a folder: give --folder, and no --output.")
        if missing is not None or truth is not None or parameter_file is not None or awkward:
            raise click.UsageError("--log goes without --missing, --truth, --parameters and --awkward.")
        _log(style, folder, operations, seed, mess, errors)
        return
    if output is None:
        raise click.UsageError("Missing option '--output' (or '--log' with '--folder').")
    if folder is not None or errors:
        raise click.UsageError("--folder and --errors belong to a log: give --log as well.")
    from synthetic_cohort.synthesis import make, report

    try:
        made = make(operations, seed, missing, parameter_file, awkward)
        made.write(output, truth)
    except GravelbookError as problem:
        click.echo(str(problem), err=True)
        raise SystemExit(1) from problem
    click.echo(report(made, output))


def _log(style: str, folder: Path, operations: int, seed: int, mess: str, errors: int) -> None:
    from registry.schema.errors import GravelbookError
    from synthetic_cohort.logs.make_log import MESSES, make_log

    try:
        made = make_log(style, operations, seed, mess=MESSES[mess](), errors=errors)
        written = made.write(folder)
    except GravelbookError as problem:
        click.echo(str(problem), err=True)
        raise SystemExit(1) from problem
    click.echo(made.report())
    names = ", ".join(path.name for path in written)
    click.echo(f"Written to {folder}: {names}, mapping.toml, truth.json, planted.json")
