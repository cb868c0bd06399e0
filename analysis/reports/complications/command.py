"""The command `gravelbook complications`."""

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
    ("days", "30|90|30,90", "Days after the operation; day 0 is the operation, the last is in.  [default: 30]"),
    ("unit", "operation|patient", "What is counted; a patient at the first operation.  [default: operation]"),
    ("grades", "person|rule", "Whose grade counts: a person's, else the rule's.  [default: person]"),
    ("unreviewed", "LIST", "reviewed, lower, upper, weighted, one or more.  [default: reviewed]"),
    ("show", "LIST", "grades, index, attendance, deaths, events, agreement, in-operation, infection, kidney, or all."),
    ("by", "COLUMN[:CUTS][,COLUMN]", "Split by one or two columns; cuts are closed below: largest_mm:10,20."),
    ("denominator", "intended|all", "Operations to remove a stone, or every one.  [default: intended]"),
    ("catheter", "I|II|IIIa", "Grade of a urethral catheter on the ward.  [default: I]"),
    ("alpha-blocker", "II|I", "Grade of an alpha-blocker.  [default: II]"),
    ("fever-c", "CELSIUS", "Temperature from which it is fever.  [default: 38.0]"),
    ("fever-strict", "yes|no", "Fever is above that temperature, not from it.  [default: no]"),
    ("culture-log10", "NUMBER", "Positive urine culture, log10 of cfu/mL.  [default: 5]"),
    ("baseline-days", "DAYS", "How long before the operation a value is a baseline.  [default: 90]"),
    ("egfr-day", "DAY|last", "Which creatinine after the operation speaks.  [default: 30]"),
    ("egfr-window", "FIRST:LAST", "Days after the operation that creatinine is looked for.  [default: 14:365]"),
    ("infection-days", "DAYS", "Window of the cases of infection.  [default: 30]"),
    ("interval", "wilson|exact|mid-p|jeffreys", "Interval of a rate.  [default: wilson]"),
    ("level", "SHARE", "Confidence level.  [default: 0.95]"),
    ("seed", "NUMBER", "Of the resampling.  [default: 1]"),
    ("replicates", "NUMBER", "Resamples of patients.  [default: 2000]"),
    ("cases", "FILE", "Write every complication and every operation's reviewed state as CSV."),
    ("figure", "FILE", "Write a figure of worst grades by group, .png or .svg."),
    *COHORT_OPTIONS,
)


@click.command("complications")
@typed_options(OPTIONS)
@research_option
@format_option
@registry_option
def complications(location: str, output_format: str, research: bool, snapshot: str | None, **typed: str | None) -> None:
    """Complications, graded from what was done about them by published rules.

    Worst grade of each operation or patient within 30 or 90 days, the comprehensive index, readmission, unplanned
    attendance and death: first among those reviewed to that day, with the bounds for all beside, because no
    complication recorded is not "no complication". Settings of the registry may stand in for defaults and are named.
    Audit figures: small numbers and case mix mislead, and a figure never ranks a surgeon by itself.
    """
    from analysis.reports.complications.figure_of import figure_of
    from analysis.reports.complications.request import read_request
    from analysis.reports.request.faults import MalformedOptionError
    from analysis.reports.request.figure_kind import kind_of
    from analysis.reports.request.files_named import file_named
    from analysis.reports.request.values import read_as_of
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

    from analysis.reports.complications.answering import ask
    from analysis.reports.sections.rendered import rendered

    answer = ask(location, typed, day, files.get("rules"), snapshot, research=research)
    drawn = figure_of(answer, kind) if kind is not None else b""  # before anything is written: it may be refused
    said = rendered(answer.report, output_format)
    if "cases" in files:
        from analysis.reports.complications.cases import cases_csv

        write_whole(files["cases"], cases_csv(answer), private=True)
        click.echo(f"Cases written to {files['cases']}: patients' data, not to leave the unit.", err=True)
    if kind is not None:
        write_whole(files["figure"], drawn)
        click.echo(f"Figure written to {files['figure']}.", err=True)
    click.echo(said, nl=False)
