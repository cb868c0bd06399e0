"""Everything but the rates: one report of the kinds asked for, with its figure and its cases."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.own_defaults import STONE_FREE
from analysis.reports.request.source import Asked, settings_in_force
from analysis.reports.sections.report import Report
from analysis.reports.stone_free.request import read_request
from analysis.reports.stone_free_scans.kinds import MAP, RATES, Shown, check_units
from analysis.reports.stone_free_scans.question import Question
from analysis.reports.stone_free_scans.shown import report_of, scan_cases, scan_sections
from registry.schema.errors import GravelbookError

if TYPE_CHECKING:
    from analysis.figures.stone_free import Kind

Say = Callable[[str], None]


@dataclass(frozen=True)
class Further:
    """The report as text, JSON or CSV, and the bytes of its figure and cases, empty when not asked for."""

    text: str
    figure: bytes
    cases: bytes


def further_answer(
    asked: Asked,
    typed: Mapping[str, str | None],
    shown: Shown,
    files: Mapping[str, Path],
    *,
    figure: Kind | None,
    cases: bool,
    say: Say,
) -> Further:
    """Work out the kinds that are no rates.

    figure: the kind of file to draw the map as, None for no figure. cases: list those behind the only kind. say: told
    how far the map is.

    Raises GravelbookError for what the registry or a file is at fault for.
    """
    given = [name for name, value in typed.items() if value is not None]
    settings = settings_in_force(asked.snapshot, asked.cohort.as_of, STONE_FREE, given)
    request = read_request(typed, settings)
    try:
        check_units(shown.kinds, request)
    except MalformedOptionError as fault:  # by a setting of the unit: nothing that was typed is wrong
        raise GravelbookError(f"{fault} It is the registry's own setting that says otherwise.") from None
    question = Question(request, asked)
    scans = scan_sections(shown.further, question, files)
    listed = scan_cases(shown.further[0], question, files) if cases else b""
    drawn, sections = b"", list(scans)
    if MAP in shown.kinds:
        from analysis.reports.definition_map.map_sections import full_sections, text_sections
        from analysis.reports.definition_map.worked import definition_map

        made = definition_map(asked, typed, settings, lambda done, whole: _progress(say, done, whole))
        sections = [*(text_sections if shown.output_format == "text" else full_sections)(made), *scans]
        if figure is not None:
            from analysis.reports.definition_map.figure_of import map_figure

            drawn = map_figure(made, asked.source, figure)
    after = RATES in shown.kinds
    report = report_of(request, asked, sections, kinds=shown.further)
    return Further(_rendered(report, shown.output_format, after_rates=after), drawn, listed)


def _rendered(report: Report, output_format: str, *, after_rates: bool) -> str:
    from analysis.reports.sections.render_text import section_text
    from analysis.reports.sections.rendered import rendered

    if after_rates:  # definition, source and cautions stand above already
        return "\n\n".join(section_text(one, report.small_number) for one in report.sections) + "\n"
    return rendered(report, output_format)


def _progress(say: Say, done: int, whole: int) -> None:
    if done % 15 == 0 or done == whole:
        say(f"Definition map: {done} of {whole} combinations worked out.")
