"""The command `gravelbook stone-free`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from registry.command_options import (
    COHORT_OPTIONS,
    WrongUsage,
    format_option,
    registry_option,
    research_option,
    typed_options,
)

if TYPE_CHECKING:
    from analysis.reports.stone_free.answer import Answer

FILES = ("rules", "cases", "figure")


OPTIONS = (
    ("threshold", "0,2,4", "Largest fragments still allowed, mm; 2 is <= 2 mm, lt2 is < 2 mm.  [default: 0,2,4]"),
    ("imaging", "any|ct|us|kub|us+kub|second-look", "Which studies count.  [default: any]"),
    ("pick", "nearest|last|best", "Which of several adequate studies speaks.  [default: nearest]"),
    ("adequacy", "NAME|FILE", "adequacy-1, as-published, or a TOML file of your own.  [default: adequacy-1]"),
    ("assume-slice", "MM", "Slice of a CT that has none recorded."),
    ("window", "FIRST:LAST", "Days after the operation, both included.  [default: 14:90]"),
    ("target", "DAY", "The day 'nearest' is nearest to.  [default: 30, else the middle]"),
    ("unit", "side|stone|operation|course|patient", "What is judged.  [default: side]"),
    ("sessions", "single|planned|auxiliary", "After which treatments.  [default: single]"),
    ("unscanned", "LIST", "complete, lower, upper, one or more.  [default: complete]"),
    ("stones", "any|targeted", "Which stones count.  [default: any]"),
    ("retreated", "failed|unknown", "Treated again before a study.  [default: failed]"),
    ("died", "out|failed", "Died before a study.  [default: out]"),
    ("denominator", "intended|protocol", "Who is in.  [default: intended]"),
    ("interval", "wilson|exact|mid-p|jeffreys", "Interval of a rate.  [default: wilson]"),
    ("level", "SHARE", "Confidence level.  [default: 0.95]"),
    ("by", "COLUMN[:CUTS][,COLUMN]", "Split by one or two columns; cuts are closed below: largest_mm:10,20."),
    ("compare", "COLUMN=INDEX,COMPARATOR", "Compare two groups of a column."),
    ("strata", "COLUMN[:CUTS]", "Column to adjust the comparison for."),
    ("seed", "NUMBER", "Of the resampling.  [default: 1]"),
    ("replicates", "NUMBER", "Resamples of patients.  [default: 2000]"),
    ("cases", "FILE", "Write the cases behind the numbers as CSV."),
    ("figure", "FILE", "Write a figure, .png or .svg."),
    *COHORT_OPTIONS,
)


@click.command("stone-free")
@typed_options(OPTIONS)
@research_option
@format_option
@registry_option
def stone_free(location: str, output_format: str, research: bool, snapshot: str | None, **typed: str | None) -> None:
    """Stone-free rates, by a definition that is printed with them.

    Of the renal units treated to remove a stone: how many are free of fragments larger than each threshold, on which
    study, how long after, and what of those never scanned. Settings of the registry may stand in for defaults and
    are named. Audit figures: small numbers and case mix mislead, and a figure never ranks a surgeon.
    """
    from analysis.reports.request.faults import MalformedOptionError
    from analysis.reports.request.files_named import file_named
    from analysis.reports.request.values import read_as_of
    from analysis.reports.stone_free.figure_of import figure_of, kind_of
    from analysis.reports.stone_free.request import read_request
    from analysis.reports.whole_file import write_whole

    named = {name: typed.pop(name) for name in FILES}
    as_of = typed.pop("as_of")
    try:
        files = {name: file_named(name, path) for name, path in named.items() if path is not None}
        kind = kind_of(files["figure"]) if "figure" in files else None
        day = read_as_of(as_of)
        read_request(typed)  # what is wrong with the options alone is said before the registry is opened
    except MalformedOptionError as fault:
        raise WrongUsage(str(fault)) from None

    from analysis.reports.stone_free.asking import ask

    answer, sides = ask(location, typed, day, files.get("rules"), snapshot, research=research)
    drawn = figure_of(answer, kind) if kind is not None else b""  # before anything is written: it may be refused
    if "cases" in files:
        from analysis.reports.stone_free.cases import case_list, cases_csv

        write_whole(files["cases"], cases_csv(case_list(answer, sides)), private=True)
        click.echo(f"Cases written to {files['cases']}: patients' data, not to leave the unit.", err=True)
    if kind is not None:
        write_whole(files["figure"], drawn)
        click.echo(f"Figure written to {files['figure']}.", err=True)
    for said in _remarks(answer):
        click.echo(said, err=True)
    click.echo(_rendered(answer, output_format), nl=False)


def _rendered(answer: Answer, output_format: str) -> str:
    if output_format == "json":
        from analysis.reports.stone_free.render_json import as_json

        return as_json(answer)
    if output_format == "csv":
        from analysis.reports.stone_free.render_csv import as_csv

        return as_csv(answer)
    from analysis.reports.stone_free.render_text import as_text

    return as_text(answer)


def _remarks(answer: Answer) -> list[str]:
    from analysis.cohort.columns import cohort_columns

    groups = len(answer.grouping)
    numbers = {name for name, column in cohort_columns().items() if column.holds in ("whole", "number")}
    uncut = [split.column for split in answer.request.by if not split.cuts and split.column in numbers]
    if groups > 40 and uncut:
        return [
            f"{groups} groups: a column of numbers is easier to read in stretches, --by {uncut[0]}:10,20 for example."
        ]
    return []
