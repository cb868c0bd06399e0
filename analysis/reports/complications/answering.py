"""From a registry to a report on complications: cohort, defaults, request, and the sections asked for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from analysis.cohort.columns import cohort_columns
from analysis.reports.complications.agreement_section import agreement_sections
from analysis.reports.complications.attendance_section import attendance_section
from analysis.reports.complications.deaths_section import deaths_section
from analysis.reports.complications.definition_lines import definition, in_words
from analysis.reports.complications.events_section import event_sections
from analysis.reports.complications.gathered import Gathered, gather
from analysis.reports.complications.grades_section import grade_sections
from analysis.reports.complications.index_section import index_section
from analysis.reports.complications.not_read import not_read_after_as_of, not_read_notes
from analysis.reports.complications.rates import HowCounted
from analysis.reports.complications.request import COMPLICATIONS, Request, read_request
from analysis.reports.complications.units import Status, Units, status_at, units_of
from analysis.reports.request.grouping import Grouping, grouped
from analysis.reports.request.grouping import units_of as spoken_units
from analysis.reports.request.source import Asked, ask_cohort, settings_in_force
from analysis.reports.sections.report import Report, Section


@dataclass(frozen=True, eq=False)
class Answer:
    """request, asked: what was asked, of which cohort. units: what is counted; statuses: what is known of them at each
    of the request's days; grouping: the groups of `--by`. report: all of it in sections.
    """

    request: Request
    asked: Asked
    gathered: Gathered
    units: Units
    statuses: tuple[Status, ...]
    grouping: Grouping
    report: Report


def ask(
    location: str,
    typed: Mapping[str, str | None],
    as_of: dt.date | None,
    rules_file: Path | None,
    snapshot_name: str | None,
    *,
    research: bool,
) -> Answer:
    """The answer of a registry. Raises GravelbookError for whatever is at fault in registry, files or request."""
    asked = ask_cohort(location, rules_file=rules_file, snapshot_name=snapshot_name, research=research, as_of=as_of)
    return answer_asked(asked, typed)


def answer_asked(asked: Asked, typed: Mapping[str, str | None]) -> Answer:
    """The same of a cohort that is at hand. typed: the options as typed, by name with underscores."""
    given = [name for name, value in typed.items() if value is not None]
    request = read_request(typed, settings_in_force(asked.snapshot, asked.cohort.as_of, COMPLICATIONS, given))
    gathered = gather(asked, denominator=request.denominator, choices=request.choices, grades=request.grades)
    units = units_of(gathered, request.unit)
    statuses = tuple(status_at(units, gathered, days) for days in request.days)
    grouping = grouped(
        units.frame["side_id"].to_numpy(dtype="int64"),
        units.frame["counted"].to_numpy(dtype=bool),
        gathered.operations,
        request.by,
        unit_of=spoken_units(cohort_columns()),
    )
    sections = [
        section
        for name in request.show
        for section in _sections(name, request, asked, gathered, units, statuses, grouping)
    ]
    report = Report(
        title=_title(request, asked),
        sections=sections,
        definition=definition(request, gathered, units),
        in_words=in_words(request, gathered, units),
        source=asked.source,
        own_defaults=request.own_defaults,
        small_number=request.small_number,
    )
    return Answer(request, asked, gathered, units, statuses, grouping, report)


def _sections(
    name: str,
    request: Request,
    asked: Asked,
    gathered: Gathered,
    units: Units,
    statuses: tuple[Status, ...],
    grouping: Grouping,
) -> list[Section]:
    how = HowCounted(
        request.unreviewed, request.interval, request.level, request.seed, request.replicates, request.small_number
    )
    match name:
        case "grades":
            notes = not_read_notes(not_read_after_as_of(gathered, units), gathered.as_of)
            return grade_sections(units, statuses, grouping, how, notes)
        case "index":
            return [index_section(units, statuses, grouping, how)]
        case "attendance":
            return [attendance_section(gathered, units, statuses, grouping, how)]
        case "deaths":
            return [deaths_section(gathered, units, statuses, grouping, how)]
        case "events":
            return event_sections(units, statuses, grouping)
        case "agreement":
            return agreement_sections(gathered, units, request.level)
    return [_of_another(name, request, asked)]


def _of_another(name: str, request: Request, asked: Asked) -> Section:
    """The sections that are worked out from other tables than the complications."""
    if name == "infection":
        from analysis.reports.complications.infection_section import infection_section as section
    elif name == "kidney":
        from analysis.reports.complications.kidney_section import kidney_section as section
    else:
        from analysis.reports.complications.in_operation_section import in_operation_section as section
    return section(asked, request.by, request.level, request.interval, request.days, request.settings)


def _title(request: Request, asked: Asked) -> str:
    by = " and ".join(split.column for split in request.by)
    return f"Complications after operations{f', by {by}' if by else ''}, as of {asked.cohort.as_of.isoformat()}"
