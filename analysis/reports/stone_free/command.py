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
    from pathlib import Path

    from analysis.figures.stone_free import Kind
    from analysis.reports.request.source import Asked
    from analysis.reports.stone_free.answer import Answer
    from analysis.reports.stone_free_scans.kinds import Shown

FILES = ("rules", "cases", "figure", "detection", "grade_table")


OPTIONS = (
    (
        "show",
        "LIST",
        "rates; map: every definition side by side; ct-grades: grades A to D of what is left on CT; judgement: the "
        "surgeon's against the scan; readers: agreement of readers; corrected: rates corrected for scans that err. "
        "One or more as text; as JSON or CSV the rates alone, or the others together.  [default: rates]",
    ),
    ("threshold", "0,2,4", "Largest fragments still allowed, mm; 2 is <= 2 mm, lt2 is < 2 mm.  [default: 0,2,4]"),
    ("imaging", "any|ct|us|kub|us+kub|second-look", "Which studies count.  [default: any]"),
    ("pick", "nearest|last|best", "Which of several adequate studies speaks.  [default: nearest]"),
    ("adequacy", "NAME|FILE", "adequacy-1, as-published, or a TOML file of your own.  [default: adequacy-1]"),
    ("assume-slice", "MM", "Slice of a CT that has none recorded."),
    ("window", "FIRST:LAST", "Days after the operation, both included.  [default: 14:90]"),
    ("target", "DAY", "The day 'nearest' is nearest to.  [default: 30, else the middle]"),
    ("unit", "side|stone|operation|course|patient", "What is judged.  [default: side]"),
    ("sessions", "single|planned|auxiliary", "After which treatments.  [default: single]"),
    ("unscanned", "LIST", "complete, lower, upper, weighted, imputed, one or more.  [default: complete]"),
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
    ("imputations", "NUMBER", "Data sets that --unscanned imputed draws.  [default: 20]"),
    ("detection", "FILE", "TOML file with sensitivity and specificity of each kind of scan, for --show corrected."),
    ("grade-table", "FILE", "TOML file with grades of your own, for --show ct-grades."),
    ("cases", "FILE", "Write the cases behind the numbers as CSV: of the rates, else of the one kind shown."),
    ("figure", "FILE", "Write a figure, .png or .svg: of the rates, else of the map."),
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
    are named. Audit figures: small numbers and case mix mislead, and a figure never ranks a surgeon by itself.

    --show map prints how the rate moves with its definition: 6 thresholds, 5 kinds of imaging, 3 windows, sides,
    courses and patients, and what is done about the unscanned. What else is typed holds in all of it.
    """
    from analysis.reports.request.faults import MalformedOptionError
    from analysis.reports.request.figure_kind import kind_of
    from analysis.reports.request.files_named import file_named
    from analysis.reports.request.values import read_as_of
    from analysis.reports.stone_free.request import read_request
    from analysis.reports.stone_free_scans.kinds import check_units, read_shown

    named = {name: typed.pop(name) for name in FILES}
    as_of, show = typed.pop("as_of"), typed.pop("show")
    try:
        files = {name: file_named(name.replace("_", "-"), path) for name, path in named.items() if path is not None}
        given = {**files, **{name: value for name, value in typed.items() if value is not None}}
        shown = read_shown(show, output_format, given)
        kind = kind_of(files["figure"]) if "figure" in files else None
        day = read_as_of(as_of)
        # What is wrong with the options alone is said before the registry is opened; what was not typed may still be
        # set otherwise by the unit, and is looked at again then.
        check_units(shown.kinds, read_request(typed))
    except MalformedOptionError as fault:
        raise WrongUsage(str(fault)) from None

    from analysis.reports.request.source import ask_cohort

    asked = ask_cohort(location, rules_file=files.get("rules"), snapshot_name=snapshot, research=research, as_of=day)
    _answer(asked, typed, shown, files, kind)


def _answer(
    asked: Asked, typed: dict[str, str | None], shown: Shown, files: dict[str, Path], kind: Kind | None
) -> None:
    """Work out everything, then write files and print: whatever is refused leaves nothing behind."""
    from analysis.reports.stone_free.asking import answer_asked
    from analysis.reports.stone_free_scans.kinds import RATES
    from analysis.reports.whole_file import write_whole

    rates = RATES in shown.kinds
    cases, figure, texts = b"", b"", []
    if rates:
        answer, sides = answer_asked(asked, typed)
        texts.append(_rendered(answer, shown.output_format))
        if kind is not None:
            from analysis.reports.stone_free.figure_of import figure_of

            figure = figure_of(answer, kind)
        if "cases" in files:
            from analysis.reports.stone_free.cases import case_list, cases_csv

            cases = cases_csv(case_list(answer, sides))
    if shown.further:
        from analysis.reports.stone_free_scans.further import further_answer

        further = further_answer(
            asked, typed, shown, files, figure=None if rates else kind, cases="cases" in files and not rates, say=_say
        )
        texts.append(further.text)
        figure, cases = further.figure or figure, further.cases or cases
    if "cases" in files:
        write_whole(files["cases"], cases, private=True)
        _say(f"Cases written to {files['cases']}: patients' data, not to leave the unit.")
    if kind is not None:
        write_whole(files["figure"], figure)
        _say(f"Figure written to {files['figure']}.")
    for said in _remarks(answer) if rates else ():
        _say(said)
    click.echo("\n".join(texts), nl=False)


def _say(text: str) -> None:
    """Tell the person at the keyboard, apart from the answer."""
    click.echo(text, err=True)


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
