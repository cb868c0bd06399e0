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
    required=True,
    help="The intake workbook to write (.xlsx).",
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
def synth(
    operations: int,
    seed: int,
    missing: str | None,
    output: Path,
    truth: Path | None,
    parameter_file: Path | None,
    awkward: bool,
) -> None:
    """Write a filled intake workbook of invented patients whose true results are known.

    Prints what was made and the true values of what analysis estimates: stone-free probabilities, the effects of the
    sheath-to-scope ratio and of suction, and infection. They are worked out from a population of 200,000 operations,
    each error being that of the simulation.

    \b
    Example:
      gravelbook synth --operations 600 --seed 7 --missing not_random --output cohort.xlsx --truth truth.json
    """
    from registry.schema.errors import GravelbookError
    from synthetic_cohort.synthesis import make, report

    try:
        made = make(operations, seed, missing, parameter_file, awkward)
        made.write(output, truth)
    except GravelbookError as problem:
        click.echo(str(problem), err=True)
        raise SystemExit(1) from problem
    click.echo(report(made, output))
