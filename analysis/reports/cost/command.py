"""The command `gravelbook cost`."""

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
    ("horizon", "DAYS", "Days from the index operation over which costs count, at most 365.  [default: 90]"),
    ("minutes", "room|operating", "Minutes in the room (else operating minutes), or these alone.  [default: room]"),
    ("reusable", "reprocessing|purchase", "What a use of reusable equipment costs.  [default: reprocessing]"),
    ("components", "LIST", "theatre, consumables, reusables, beds, ... ; what is left out is said.  [default: all]"),
    ("missing-price", "refuse|zero", "Used, and no price known: no cost, or nothing.  [default: refuse]"),
    ("price-year", "YEAR", "Only rates written in the prices of that year count, for all days."),
    ("willing", "AMOUNT[,AMOUNT]", "What one more stone-free case is worth, for --compare."),
    ("threshold", "0,2,4", "Largest fragments still allowed, mm; 2 is <= 2 mm, lt2 is < 2 mm.  [default: 0,2,4]"),
    ("imaging", "any|ct|us|kub|us+kub|second-look", "Which studies count.  [default: any]"),
    ("pick", "nearest|last|best", "Which of several adequate studies speaks.  [default: nearest]"),
    ("adequacy", "NAME|FILE", "adequacy-1, as-published, or a TOML file of your own.  [default: adequacy-1]"),
    ("assume-slice", "MM", "Slice of a CT that has none recorded."),
    ("window", "FIRST:LAST", "Days after the operation, both included.  [default: 14:90]"),
    ("target", "DAY", "The day 'nearest' is nearest to.  [default: 30, else the middle]"),
    ("sessions", "single|planned|auxiliary", "After which treatments.  [default: planned]"),
    ("stones", "any|targeted", "Which stones count.  [default: any]"),
    ("retreated", "failed|unknown", "Treated again before a study.  [default: failed]"),
    ("died", "out|failed", "Died before a study.  [default: out]"),
    ("denominator", "intended|protocol", "Who is in.  [default: intended]"),
    ("unscanned", "LIST", "complete, lower, upper, one or more.  [default: complete,lower,upper]"),
    ("level", "SHARE", "Confidence level.  [default: 0.95]"),
    ("by", "COLUMN[:CUTS][,COLUMN]", "Split by one or two columns; cuts are closed below: largest_mm:10,20."),
    ("compare", "COLUMN=INDEX,COMPARATOR", "Compare two groups of a column."),
    ("seed", "NUMBER", "Of the resampling.  [default: 1]"),
    ("replicates", "NUMBER", "Resamples of patients.  [default: 2000]"),
    ("cases", "FILE", "Write each course with its components as CSV."),
    ("figure", "FILE", "Write a figure, .png or .svg: the plane of --compare, else cost per case by group."),
    *COHORT_OPTIONS,
)


@click.command("cost")
@typed_options(OPTIONS)
@research_option
@format_option
@registry_option
def cost(location: str, output_format: str, research: bool, snapshot: str | None, **typed: str | None) -> None:
    """What treatment costs, and what it costs per stone-free case.

    All that is recorded from the index operation of each course over 90 days, stages, retreatments and failures
    included, at the unit's own prices (sheet Price) and rates (sheet Cost rate), over the courses that are stone-free
    by the definition printed. A course that used equipment, theatre, beds, visits or scans here without a price or rate
    has no cost and is counted; drugs, treatment of complications and what was done elsewhere cost nothing without a
    rate, and the courses are counted too. Settings of the registry may stand in for defaults and are named. Audit
    figures: small numbers and case mix mislead.
    """
    from analysis.reports.cost.gathered import stone_free_options
    from analysis.reports.cost.request import read_request
    from analysis.reports.request.faults import MalformedOptionError
    from analysis.reports.request.figure_kind import kind_of
    from analysis.reports.request.files_named import file_named
    from analysis.reports.request.values import read_as_of
    from analysis.reports.stone_free.request import read_request as read_stone_free

    named = {name: typed.pop(name) for name in FILES}
    as_of = typed.pop("as_of")
    try:
        files = {name: file_named(name, path) for name, path in named.items() if path is not None}
        kind = kind_of(files["figure"]) if "figure" in files else None
        day = read_as_of(as_of)
        # What is wrong with the options alone is said before the registry is opened.
        read_stone_free(stone_free_options(read_request(typed)))
    except MalformedOptionError as fault:
        raise WrongUsage(str(fault)) from None

    from analysis.reports.cost.answer import report_of
    from analysis.reports.cost.cases import case_list, cases_csv
    from analysis.reports.cost.comparison_sections import compared
    from analysis.reports.cost.figure_of import figure_of
    from analysis.reports.cost.gathered import gathered
    from analysis.reports.request.source import ask_cohort
    from analysis.reports.sections.rendered import rendered
    from analysis.reports.whole_file import write_whole

    asked = ask_cohort(location, rules_file=files.get("rules"), snapshot_name=snapshot, research=research, as_of=day)
    held = gathered(asked, typed)
    found = compared(held)
    made = rendered(report_of(held, found), output_format)
    drawn = figure_of(held, found, kind) if kind is not None else b""  # before anything is written: it may be refused
    if "cases" in files:
        write_whole(files["cases"], cases_csv(case_list(held)), private=True)
        click.echo(f"Cases written to {files['cases']}: patients' data, not to leave the unit.", err=True)
    if kind is not None:
        write_whole(files["figure"], drawn)
        click.echo(f"Figure written to {files['figure']}.", err=True)
    if held.costs.zeroed:
        click.echo("Missing prices were counted as nothing: the figures are too low.", err=True)
    click.echo(made, nl=False)
