"""The command `gravelbook equipment`."""

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
    import datetime as dt
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from analysis.figures.stone_free import Kind
    from analysis.reports.equipment.notice import Notice
    from analysis.reports.sections.report import Report

    Made = dict[str, Callable[[], bytes]]

FILES = ("rules", "cases", "figure")
OPTIONS = (
    ("kind", "KIND", "Kind of equipment: scope, access_sheath, laser_fibre, ...  [default: scope]"),
    ("by", "COLUMN[:CUTS][,COLUMN]", "Split failures by columns of the cohort, or by model_code or reuse."),
    ("since", "DATE", "Operations from this day on."),
    ("until", "DATE", "Operations up to this day."),
    ("interval", "wilson|exact|mid-p|jeffreys", "Interval of a rate.  [default: wilson]"),
    ("level", "SHARE", "Confidence level.  [default: 0.95]"),
    ("model", "CODE", "Safety notice: everyone treated with this model."),
    ("lot", "LOT", "Safety notice: everyone treated with this lot."),
    ("serial", "SERIAL", "Safety notice: everyone treated with this piece."),
    ("udi", "TEXT", "Safety notice: a code as scanned, or as printed with its brackets."),
    ("cases", "FILE", "Write the cases behind the numbers as CSV."),
    ("figure", "FILE", "Write a figure of failures and lives, .png or .svg."),
    *COHORT_OPTIONS,
)


@click.command("equipment")
@typed_options(OPTIONS)
@research_option
@format_option
@registry_option
def equipment(location: str, output_format: str, research: bool, snapshot: str | None, **typed: str | None) -> None:
    """Failures and lives of equipment, and who was treated with it.

    Without a notice: failures per piece opened (not per case), each model, the uses and repairs of reusable pieces,
    and failures marked reportable that nobody reported. With --model, --lot, --serial or --udi, together or alone:
    everyone treated with it, certain and possible told apart, and those who cannot be excluded because nothing was
    recorded.
    """
    from analysis.reports.equipment.notice import names_something, read_notice
    from analysis.reports.equipment.request import read_request
    from analysis.reports.request.faults import MalformedOptionError
    from analysis.reports.request.figure_kind import kind_of
    from analysis.reports.request.files_named import file_named
    from analysis.reports.request.values import read_as_of
    from analysis.reports.sections.rendered import rendered

    notice = kind = None
    try:
        if names_something(typed):
            notice = read_notice({**typed, "snapshot": snapshot}, research=research)
        files = {name: file_named(name, path) for name in FILES if (path := typed.pop(name)) is not None}
        kind = kind_of(files["figure"]) if "figure" in files else None
        as_of = read_as_of(typed.pop("as_of"))
        read_request(typed)  # what is wrong with the options alone is said before the registry is opened
    except MalformedOptionError as fault:
        raise WrongUsage(str(fault)) from None
    if notice is not None:
        report, made = _traced(location, notice, output_format)
    else:
        report, made = _figures(location, typed, as_of, files.get("rules"), snapshot, research, kind)
    _write(files, made)
    click.echo(rendered(report, output_format), nl=False)


def _traced(location: str, notice: Notice, output_format: str) -> tuple[Report, Made]:
    from analysis.reports.equipment.tracing import trace
    from analysis.reports.equipment.tracing_report import FIRST_LINES, tracing_csv, tracing_report

    traced = trace(location, notice)
    report = tracing_report(traced, FIRST_LINES if output_format == "text" else None)
    return report, {"cases": lambda: tracing_csv(traced)}


def _figures(
    location: str,
    typed: Mapping[str, str | None],
    as_of: dt.date | None,
    rules_file: Path | None,
    snapshot: str | None,
    research: bool,
    kind: Kind | None,
) -> tuple[Report, Made]:
    from analysis.reports.equipment.answer import report_of
    from analysis.reports.equipment.asking import ask
    from analysis.reports.equipment.case_list import cases_csv

    found = ask(location, typed, as_of, rules_file, snapshot, research=research)
    made: Made = {"cases": lambda: cases_csv(found)}
    if kind is not None:
        from analysis.reports.equipment.figure_of import figure_of

        drawn = figure_of(found, kind)  # before anything is written: it may be refused
        made["figure"] = lambda: drawn
    return report_of(found), made


def _write(files: Mapping[str, Path], made: Made) -> None:
    from analysis.reports.whole_file import write_whole

    if "cases" in files:
        write_whole(files["cases"], made["cases"](), private=True)
        click.echo(f"Cases written to {files['cases']}: patients' data, not to leave the unit.", err=True)
    if "figure" in files:
        write_whole(files["figure"], made["figure"]())
        click.echo(f"Figure written to {files['figure']}.", err=True)
