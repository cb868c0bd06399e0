"""``gravelbook demo``: the Larkspur Bay Stone Unit, from an invented workbook to the first figures.

It uses the other commands as a person would, by their names, and imports none of them.
"""

from __future__ import annotations

import io
import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from pathlib import Path

import click

from registry.schema.errors import GravelbookError

LAST_DAY = "2024-12-31"
WORKBOOK = "larkspur_bay.xlsx"
REGISTRY = "gravelbook.db"
OLD_LOG = "old_log"
QUALITY = "data_quality.html"
PERSON = "demo"
# The demo is about its own registry, whatever the person's own settings point at.
OWN_SETTINGS = ("GRAVELBOOK_REGISTRY", "GRAVELBOOK_KEY_FILE", "GRAVELBOOK_SNAPSHOTS", "GRAVELBOOK_USER")

# Each result: the file it goes to, and the command line that a person would type for it.
RESULTS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("stone_free.txt", ("stone-free", "--threshold", "0,2,4", "--unscanned", "complete,lower,upper")),
    (
        "stone_free_by_technique.txt",
        ("stone-free", "--by", "technique", "--cases", "results/cases.csv", "--figure", "results/by_technique.png"),
    ),
    ("stone_free_by_operator.txt", ("stone-free", "--threshold", "2", "--by", "operator")),
    (
        "stone_free_by_ratio_band.txt",
        ("stone-free", "--threshold", "2", "--by", "scope_to_sheath_band", "--figure", "results/by_ratio_band.svg"),
    ),
    ("stone_free_by_course.json", ("stone-free", "--unit", "course", "--sessions", "planned", "--format", "json")),
    (
        "flexible_against_percutaneous.txt",
        (
            "stone-free",
            "--threshold",
            "2",
            "--compare",
            "technique=flexible,mini_percutaneous",
            "--strata",
            "largest_mm:20",
        ),
    ),
    ("stone_free_unscanned.txt", ("stone-free", "--unscanned", "complete,lower,upper,weighted,imputed")),
    ("definition_map.txt", ("stone-free", "--show", "map", "--figure", "results/definition_map.png")),
    ("judgement_against_scan.txt", ("stone-free", "--show", "ct-grades,judgement,readers")),
    ("complications.txt", ("complications", "--figure", "results/complications.png")),
    ("infection_and_kidney.txt", ("complications", "--show", "infection,in-operation,kidney")),
    ("fit.txt", ("fit", "--scope", "7.5,8.5,9.5", "--sheath", "10,11,12", "--figure", "results/fit.png")),
    ("scores.txt", ("scores", "--figure", "results/scores.png")),
    ("equipment.txt", ("equipment", "--by", "reuse")),
    ("cost.txt", ("cost",)),
    (
        "ratio.txt",
        ("ratio", "--figure", "results/ratio.png", "--forest", "results/ratio_forest.png"),
    ),
    (
        "adjustment_turns_it_round.txt",
        (
            "ratio",
            "models/mini_against_flexible.toml",
            "--rules",
            "models/two_techniques.toml",
            "--show",
            "support,effect",
        ),
    ),
    ("refused_for_lack_of_overlap.txt", ("ratio", "models/ratio_within_one_scope.toml")),
)
REFUSED = ("refused_for_lack_of_overlap.txt",)
"""Questions that the data cannot answer: the refusal is the result."""
MODELS = (
    *("mini_against_flexible.toml", "two_techniques.toml"),
    *("ratio_within_one_scope.toml", "treated_again.toml"),
)
MORE_RESULTS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("stone_free_by_year.csv", ("stone-free", "--by", "year", "--format", "csv")),
    ("stone_free_ct_only.txt", ("stone-free", "--imaging", "ct", "--threshold", "0,lt2,2,3,lt4,4")),
    ("stone_free_as_published.txt", ("stone-free", "--adequacy", "as-published")),
    ("stone_free_by_patient.txt", ("stone-free", "--unit", "patient")),
    ("stone_free_by_stone.txt", ("stone-free", "--unit", "stone", "--stones", "targeted")),
    ("stone_free_by_suction.txt", ("stone-free", "--by", "suction", "--figure", "results/by_suction.png")),
    ("complications_by_operator.txt", ("complications", "--by", "operator", "--days", "30,90")),
    ("treated_again.txt", ("ratio", "models/treated_again.toml", "--figure", "results/treated_again.png")),
    ("agreement_of_graders.txt", ("complications", "--show", "agreement,events")),
    ("cost_of_techniques.txt", ("cost", "--compare", "technique=mini_percutaneous,flexible")),
)


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path("larkspur_bay"))
@click.option("--everything", is_flag=True, help="Make the further results too.")
@click.option("--seed", default=1, show_default=True, help="Another seed gives another invented unit.")
def demo(folder: Path, everything: bool, seed: int) -> None:
    """Make the Larkspur Bay demo in FOLDER: an invented unit's registry, its workbook and its first results."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise GravelbookError(
            f"{folder} is there already and is left alone. Remove it, or name another folder: gravelbook demo OTHER"
        )
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        part = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
    except OSError as fault:
        why = (fault.strerror or "cannot be written").lower()
        raise GravelbookError(f"The folder {folder} cannot be made: {why}. Name another place.") from fault
    try:
        with _inside(part):
            lines = _make(seed, everything)
        if folder.exists():
            folder.rmdir()
        part.chmod(0o755)
        part.rename(folder)
    finally:
        shutil.rmtree(part, ignore_errors=True)
    click.echo("\n".join(line.replace("FOLDER", str(folder)) for line in lines))


def _make(seed: int, everything: bool) -> list[str]:
    from synthetic_cohort.synthesis import demo_records
    from synthetic_cohort.workbook import write_workbook

    click.echo("Inventing the unit's patients ...", err=True)
    records = demo_records(seed)
    write_workbook(records, Path(WORKBOOK))
    click.echo("Making the registry and loading the workbook ...", err=True)
    run("store", "create", "--registry", REGISTRY)
    run("intake", "load", WORKBOOK, "--registry", REGISTRY, "--by-whom", PERSON)
    run("snapshot", "take", "demo", "--registry", REGISTRY)
    Path("results").mkdir()
    Path("models").mkdir()
    for name in MODELS:
        shutil.copyfile(Path(__file__).parent / "models" / name, Path("models", name))
    results = (*RESULTS, *MORE_RESULTS) if everything else RESULTS
    for number, (name, command) in enumerate(results, start=1):
        click.echo(f"Asking question {number} of {len(results)}: {name} ...", err=True)
        answer = _answer(name, *command, "--registry", REGISTRY, "--snapshot", "demo")
        Path("results", name).write_text(answer, encoding="utf-8")
    click.echo("Writing the quality report, and an old log to try the intake on ...", err=True)
    run("quality", "report", f"results/{QUALITY}", "--on", LAST_DAY, "--registry", REGISTRY)
    log = ("--operations", "150", "--seed", str(seed + 4), "--log", "yearly", "--errors", "12", "--folder", OLD_LOG)
    run("synth", *log)
    site = ("--site", "OB", "--site-name", "Old Boathouse Clinic", "--time-zone", "Europe/Lisbon")
    run("store", "create", "--registry", f"{OLD_LOG}/{REGISTRY}", *site)
    operations, sides = len(records["operation"]), len(records["treated_side"])
    return [
        f"Made the Larkspur Bay Stone Unit in FOLDER: {operations:,} operations, {sides:,} sides, all invented.",
        f"  FOLDER/{REGISTRY:<22} the registry (its key is in {REGISTRY}.key)",
        f"  FOLDER/{WORKBOOK:<22} the workbook it was filled from, through the ordinary intake",
        f"  FOLDER/{'results/':<22} {len(results)} answers with their definitions, a list of cases and figures",
        f"  FOLDER/{'models/':<22} questions for a regression: one that adjustment turns round, one refused",
        f"  FOLDER/results/{QUALITY:<14} how good the data are, what is due and what to do first",
        f"  FOLDER/{OLD_LOG + '/':<22} another unit's messy old log, 12 errors planted, its mapping, a registry",
        f"Stone-free, 2 mm or less, on a scan that can tell: {_headline()}.",
        "Try next, in that folder:",
        "  gravelbook stone-free --by operator              who, with how many, on which scans",
        "  gravelbook stone-free --threshold 0,lt2,2,4 --imaging ct --unscanned complete,lower,upper",
        "  gravelbook stone-free --cases cases.csv          the cases behind every number",
        "  gravelbook complications --by technique          what went wrong, graded, among those reviewed",
        "  gravelbook quality due --on 2024-12-31           stents in place, scans and reviews to see to",
        f"  cd {OLD_LOG} && gravelbook intake check stone-log.xlsx --mapping mapping.toml --marked marked.xlsx",
        "  gravelbook store verify                          the proof that nothing was changed around the program",
        "  gravelbook intake template empty.xlsx            a workbook for your own unit",
        "Audit and research software on invented data; not advice for treating anybody.",
    ]


def _answer(name: str, *command: str) -> str:
    """What a question printed; of one that has to be refused, the refusal.

    Raises:
        GravelbookError: a question was refused that has an answer, or answered that has none.
    """
    if name not in REFUSED:
        return run(*command)
    try:
        run(*command)
    except GravelbookError as refusal:
        return f"{refusal}\n"
    raise GravelbookError(f"{name}: this question has no answer in the demo, and one was given.")


def _headline() -> str:
    """The rate among those whose study can tell, with those who are missing, as the command's own JSON has it."""
    asked = ("stone-free", "--threshold", "2", "--unscanned", "complete,lower,upper", "--format", "json")
    row, lower, upper = json.loads(run(*asked, "--registry", REGISTRY, "--snapshot", "demo"))["rows"]
    return (
        f"{row['rate_adequate']:.1%} of {row['n_adequate']:,} ({row['low_adequate']:.1%} to "
        f"{row['high_adequate']:.1%}); {row['unknown']:,} of {row['eligible']:,} not known, bounds {lower['rate']:.1%} "
        f"to {upper['rate']:.1%}"
    )


def run(name: str, *arguments: str) -> str:
    """Run another command of the program by its name, as a person would, and give back what it printed.

    Raises:
        GravelbookError: there is no such command, or it refused.
    """
    from importlib.metadata import entry_points

    found = [point for point in entry_points(group="gravelbook.commands") if point.name == name]
    if not found:
        raise GravelbookError(f"The command '{name}' is not installed. Install gravelbook again, then try once more.")
    command: click.Command = found[0].load()
    said = io.StringIO()
    with redirect_stdout(said):
        command.main(args=list(arguments), prog_name=f"gravelbook {name}", standalone_mode=False)
    return said.getvalue()


@contextmanager
def _inside(folder: Path) -> Iterator[None]:
    """Work inside a folder, with the person's own settings set aside."""
    here, kept = Path.cwd(), {name: os.environ.pop(name) for name in OWN_SETTINGS if name in os.environ}
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(here)
        os.environ.update(kept)
