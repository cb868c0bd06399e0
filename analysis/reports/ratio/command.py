"""The command `gravelbook ratio`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from registry.command_options import COHORT_OPTIONS, WrongUsage, format_option, registry_option, typed_options

if TYPE_CHECKING:
    from pathlib import Path

    from analysis.figures.stone_free import Kind
    from analysis.reports.ratio.answer import Answer
    from analysis.reports.ratio.model_file import Model
    from analysis.reports.request.source import Asked

FIGURES = ("figure", "forest", "calibration")
FILES = (*FIGURES, "rules", "cases", "second", "write_model")
OPTIONS = (
    ("write-model", "FILE", "Write the model that comes with the program as a file to change, and stop."),
    ("second", "MODEL", "A second model on the same exposure, in the same figure: what pulls the other way."),
    ("contrast", "A,B", "Two values of the exposure whose risks are compared, index first: 1.4,1.2."),
    ("shape", "linear|spline|bands", "Of the exposure, instead of the model's; bands are the published categories."),
    ("knots", "K", "Of the spline, 3 to 7.  [default: the model's, else 3]"),
    (
        "show",
        "LIST",
        "rows, support, effect, risk, operators, checks, sensitivity, coefficients, one or more, or all; checks come "
        "with every estimate; --show support asks only what the data can carry.  [default: all but coefficients]",
    ),
    ("seed", "NUMBER", "Of the resampling.  [default: the model's, else 1]"),
    ("replicates", "NUMBER", "Resamples of clusters for the optimism of the model.  [default: the model's, else 200]"),
    ("figure", "FILE", "Write the adjusted risk over the exposure as a figure, .png or .svg."),
    ("forest", "FILE", "Write crude, adjusted and sensitivity estimates as a figure, .png or .svg."),
    ("calibration", "FILE", "Write the calibration of the model as a figure, .png or .svg."),
    ("cases", "FILE", "Write the cases behind the numbers as CSV, with who is in no model and why."),
    *COHORT_OPTIONS,
)


@click.command("ratio")
@click.argument("model", required=False, metavar="[MODEL]")
@typed_options(OPTIONS)
@format_option
@registry_option
def ratio(
    model: str | None, location: str, output_format: str, snapshot: str | None, as_of: str | None, **typed: str | None
) -> None:
    """Does the fit of scope and sheath go with the outcome, case mix allowed for?

    MODEL is a small file that states the question: outcome, exposure, what is held alike, clustering, gaps; without
    one, stone-free status on the sheath-to-scope ratio. What was asked is printed in words, then what the data can
    carry, then numbers. A question that the data cannot answer is refused in a sentence. Patients who refused
    research use are always left out.
    """
    from analysis.reports.ratio.model_file import TIMES
    from analysis.reports.ratio.request import read_request
    from analysis.reports.request.faults import MalformedOptionError
    from analysis.reports.request.figure_kind import kind_of
    from analysis.reports.request.files_named import file_named
    from analysis.reports.request.values import read_as_of

    named = {name: typed.pop(name) for name in FILES}
    try:
        files = {name: file_named(name.replace("_", "-"), path) for name, path in named.items() if path is not None}
        model_file = None if model is None else file_named("model", model)
        if "write_model" in files:
            _write_default(files["write_model"])
            return
        kinds = {name: kind_of(files[name], name) for name in FIGURES if name in files}
        day = read_as_of(as_of)
        request = read_request(model_file, {**typed, "second": named["second"]})
        _estimates_for(kinds, request.show)
        if request.model.outcome in TIMES:
            _no_more_than_a_time_takes(named, typed)
    except MalformedOptionError as fault:
        raise WrongUsage(str(fault)) from None

    from analysis.reports.ratio.answer import answered, report_of
    from analysis.reports.request.source import ask_cohort
    from analysis.reports.sections.rendered import rendered

    asked = ask_cohort(location, rules_file=files.get("rules"), snapshot_name=snapshot, research=True, as_of=day)
    if request.model.outcome in TIMES:
        _times(request.model, asked, files, kinds, output_format)
        return
    models = [request.model, *([request.second] if request.second else [])]
    answers = [answered(one, asked, contrast_asked=request.contrast_asked, show=request.show) for one in models]
    text = rendered(report_of(request, asked, answers), output_format)
    _write(files, kinds, answers)
    click.echo(text, nl=False)


def _no_more_than_a_time_takes(named: dict[str, str | None], typed: dict[str, str | None]) -> None:
    from analysis.reports.request.faults import MalformedOptionError

    given = [name for name in ("second", "cases", "forest", "calibration") if named.get(name) is not None]
    given += [name for name in ("show", "shape", "knots", "contrast", "replicates") if typed.get(name) is not None]
    if given:
        raise MalformedOptionError(
            f"--{given[0]} is for other outcomes than a time to an event; leave it out, or change the model file. "
            "--figure draws the curves."
        )


def _times(model: Model, asked: Asked, files: dict[str, Path], kinds: dict[str, Kind], output_format: str) -> None:
    """The report of a time to an event, and its figure."""
    from analysis.reports.ratio.question import question_lines
    from analysis.reports.sections.rendered import rendered
    from analysis.reports.time_to_event.of_model import time_drawing, time_report
    from analysis.reports.whole_file import write_whole

    text = rendered(time_report(model, asked, question_lines(model)), output_format)
    if "figure" in kinds:
        write_whole(files["figure"], time_drawing(model, asked, kinds["figure"]))
        _say(f"Figure written to {files['figure']}.")
    click.echo(text, nl=False)


def _estimates_for(kinds: dict[str, Kind], show: tuple[str, ...]) -> None:
    from analysis.reports.request.faults import MalformedOptionError

    if kinds and "checks" not in show:
        raise MalformedOptionError(
            f"--{next(iter(kinds))} draws estimates, and --show {','.join(show)} asks for none; leave one of them out."
        )


def _write_default(path: Path) -> None:
    from analysis.reports.ratio.model_file import DEFAULT
    from analysis.reports.whole_file import write_whole

    write_whole(path, DEFAULT.read_bytes())
    _say(f"Model written to {path}: change it, and give it back as MODEL.")


def _write(files: dict[str, Path], kinds: dict[str, Kind], answers: list[Answer]) -> None:
    """Everything is worked out first, so that whatever is refused leaves nothing behind."""
    from analysis.reports.whole_file import write_whole

    made: list[tuple[Path, bytes, str]] = []
    if kinds:
        from analysis.reports.ratio.figure_of import DRAWN

        made = [(files[name], DRAWN[name](answers, kind), "Figure") for name, kind in kinds.items()]
    if "cases" in files:
        from analysis.reports.ratio.cases import cases_csv

        write_whole(files["cases"], cases_csv(answers), private=True)
        _say(f"Cases written to {files['cases']}: patients' data, not to leave the unit.")
    for path, content, what in made:
        write_whole(path, content)
        _say(f"{what} written to {path}.")


def _say(text: str) -> None:
    """Tell the person at the keyboard, apart from the answer."""
    click.echo(text, err=True)
