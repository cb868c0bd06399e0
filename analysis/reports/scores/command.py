"""The command `gravelbook scores`."""

from __future__ import annotations

import click

from registry.command_options import (
    COHORT_OPTIONS,
    WrongUsage,
    format_option,
    registry_option,
    research_option,
    typed_options,
)

FILES = ("rules", "cases", "figure")

OPTIONS = (
    ("score", "LIST", "guys, stone, s_resc, modified_s_resc, resorlu_unsal, rirs, stone_ureteroscopy.  [default: all]"),
    ("show", "LIST", "values, validation, missing, burden, or all.  [default: values,validation,missing]"),
    ("threshold", "4", "Largest fragments still allowed, mm; 2 is <= 2 mm, lt2 is < 2 mm.  [default: 4]"),
    ("imaging", "any|ct|us|kub|us+kub|second-look", "Which studies count.  [default: any]"),
    ("pick", "nearest|last|best", "Which of several adequate studies speaks.  [default: nearest]"),
    ("adequacy", "NAME|FILE", "adequacy-1, as-published, or a TOML file of your own.  [default: adequacy-1]"),
    ("assume-slice", "MM", "Slice of a CT that has none recorded."),
    ("window", "FIRST:LAST", "Days after the operation, both included.  [default: 14:90]"),
    ("target", "DAY", "The day 'nearest' is nearest to.  [default: 30, else the middle]"),
    ("stones", "any|targeted", "Which stones count.  [default: any]"),
    ("retreated", "failed|unknown", "Treated again before a study.  [default: failed]"),
    ("died", "out|failed", "Died before a study.  [default: out]"),
    ("denominator", "intended|protocol", "Who is in.  [default: intended]"),
    ("interval", "wilson|exact|mid-p|jeffreys", "Interval of a rate.  [default: wilson]"),
    ("level", "SHARE", "Confidence level.  [default: 0.95]"),
    ("by", "COLUMN[:CUTS][,COLUMN]", "Split by one or two columns; cuts are closed below: age_years:50,70."),
    ("seed", "NUMBER", "Of the resampling.  [default: 1]"),
    ("replicates", "NUMBER", "Resamples of patients.  [default: 2000]"),
    ("cases", "FILE", "Write each side's scores, items, points and missing inputs as CSV."),
    ("figure", "FILE", "Write a figure of the rate by score, .png or .svg."),
    *COHORT_OPTIONS,
)


@click.command("scores")
@typed_options(OPTIONS)
@click.option("--any-technique", is_flag=True, help="Also sides of techniques a score was not made for.")
@research_option
@format_option
@registry_option
def scores(
    location: str,
    output_format: str,
    research: bool,
    any_technique: bool,
    snapshot: str | None,
    **typed: str | None,
) -> None:
    """Complexity scores of stones, and how well they tell who is left with stone in this unit.

    Each score is worked out for sides of the technique it was made for; where an input is missing that could change
    it, it is not computable and the input is named. Options of the definition are those of `stone-free`, always by
    treated side after a single session. Audit figures: small numbers and case mix mislead.
    """
    from analysis.reports.request.faults import MalformedOptionError
    from analysis.reports.request.figure_kind import kind_of
    from analysis.reports.request.files_named import file_named
    from analysis.reports.request.values import read_as_of
    from analysis.reports.scores.request import read_scores_request
    from analysis.reports.whole_file import write_whole

    named = {name: typed.pop(name) for name in FILES}
    as_of = typed.pop("as_of")
    try:
        files = {name: file_named(name, path) for name, path in named.items() if path is not None}
        kind = kind_of(files["figure"]) if "figure" in files else None
        day = read_as_of(as_of)
        read_scores_request(typed)  # what is wrong with the options alone is said before the registry is opened
    except MalformedOptionError as fault:
        raise WrongUsage(str(fault)) from None

    from analysis.reports.request.source import ask_cohort
    from analysis.reports.scores.answer import report_of
    from analysis.reports.scores.cases import case_list, cases_csv
    from analysis.reports.scores.figure_of import beside_the_question, figure_of
    from analysis.reports.scores.gathered import gathered
    from analysis.reports.sections.rendered import rendered

    asked = ask_cohort(location, rules_file=files.get("rules"), snapshot_name=snapshot, research=research, as_of=day)
    held = gathered(asked, typed, any_technique=any_technique)
    made = rendered(report_of(held), output_format)
    drawn = figure_of(held, kind) if kind is not None else b""  # before anything is written: it may be refused
    if "cases" in files:
        write_whole(files["cases"], cases_csv(case_list(held)), private=True)
        click.echo(f"Cases written to {files['cases']}: patients' data, not to leave the unit.", err=True)
    if kind is not None:
        write_whole(files["figure"], drawn)
        click.echo(f"Figure written to {files['figure']}.{beside_the_question(held)}", err=True)
    click.echo(made, nl=False)
