"""The command `gravelbook fit`."""

from __future__ import annotations

import click
from click.core import ParameterSource

from registry.command_options import (
    COHORT_OPTIONS,
    WrongUsage,
    format_option,
    registry_option,
    research_option,
    typed_options,
)

OPTIONS = (
    ("scope", "SIZES", "Shafts of scopes: 7.5 or 7.5Fr, 2.5mm; several by commas."),
    ("sheath", "SIZES", "Inner diameters of sheaths; of a label 10/12 the inner is taken."),
    ("length", "CM", "Length of the sheath.  [default: 45]"),
    ("viscosity", "MPA_S", "Of the fluid, mPa s.  [default: 0.69, water at 37 C]"),
    ("density", "KG_M3", "Of the fluid, kg/m3.  [default: 1000]"),
    ("pressure", "CMH2O", "Pressure difference, or with its unit: 30mmHg, 4kPa.  [default: 40]"),
    ("eccentricity", "LIST", "How the scope lies, 0 centred to 1 on the wall.  [default: 0,1]"),
    ("reference", "SCOPE/SHEATH", "The pair that others are compared with.  [default: 7.5/10]"),
    ("channel", "SIZES", "Working channels: 3.6 or 1.2mm."),
    ("device", "SIZES", "What goes through them: 1.9, 0.035in, 200um."),
    ("figure", "FILE", "Write the curve of pressure over ratio, .png or .svg."),
    *COHORT_OPTIONS,
)


@click.command("fit")
@typed_options(OPTIONS)
@click.option(
    "--own/--no-own",
    default=None,
    help="With the unit's own pairs, operators and exposures, or without any registry.  "
    "[default: its pairs, if there is a registry]",
)
@research_option
@format_option
@registry_option
def fit(
    location: str,
    output_format: str,
    research: bool,
    snapshot: str | None,
    own: bool | None,
    **typed: str | None,
) -> None:
    """How a scope fits a sheath: ratio, gap, and idealised outflow.

    Of each scope in each sheath: the sheath-to-scope ratio and its reciprocal, the free area, and how much flows past
    the scope and at which pressure, relative to a reference pair, with the scope centred and lying on the wall. An
    ideal gap: never a patient's pressure. No registry is needed.
    """
    from analysis.reports.fit.asking import answered
    from analysis.reports.fit.figure_of import check_figure, figure_of
    from analysis.reports.fit.own_source import own_source
    from analysis.reports.fit.request import read_request
    from analysis.reports.request.faults import MalformedOptionError
    from analysis.reports.request.figure_kind import kind_of
    from analysis.reports.request.files_named import file_named
    from analysis.reports.request.values import read_as_of
    from analysis.reports.sections.rendered import rendered
    from analysis.reports.whole_file import write_whole

    named = {name: typed.pop(name) for name in ("rules", "figure")}
    day_typed = typed.pop("as_of")
    about_registry = research or any(value is not None for value in (snapshot, day_typed, named["rules"]))
    try:
        if about_registry and own is False:
            raise MalformedOptionError(
                "--no-own asks no registry, so --rules, --as-of, --snapshot and --research mean nothing with it. "
                "Leave --no-own out, or them."
            )
        in_full = bool(own) or about_registry
        files = {name: file_named(name, path) for name, path in named.items() if path is not None}
        kind = kind_of(files["figure"]) if "figure" in files else None
        day = read_as_of(day_typed)
        read_request(typed, nothing_asked=in_full)  # what is wrong with the options alone is said first
    except MalformedOptionError as fault:
        raise WrongUsage(str(fault)) from None

    source = own_source(
        location,
        wanted=True if in_full else own if typed["scope"] is not None else False,  # a channel has no pairs
        named=click.get_current_context().get_parameter_source("location") is not ParameterSource.DEFAULT,
        rules_file=files.get("rules"),
        snapshot_name=snapshot,
        research=research,
        as_of=day,
    )
    answer = answered(typed, source.asked, in_full=in_full)
    if kind is not None:
        check_figure(answer)
        write_whole(files["figure"], figure_of(answer, kind))
        click.echo(f"Figure written to {files['figure']}.", err=True)
    if source.remark:
        click.echo(source.remark, err=True)
    click.echo(rendered(answer.report, output_format), nl=False)
