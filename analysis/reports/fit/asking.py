"""From options to the report on the fit of scope and sheath."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from analysis.outcomes.fit.pair import Pair
from analysis.reports.fit.exposures import exposure_sections
from analysis.reports.fit.fit_sections import sections_of
from analysis.reports.fit.own_pairs import own_pair_counts, own_sections
from analysis.reports.fit.request import FIT, FitRequest, read_request
from analysis.reports.fit.words import request_definition, request_lines
from analysis.reports.request.source import Asked, settings_in_force
from analysis.reports.sections.report import Report
from registry.schema.errors import GravelbookError


@dataclass(frozen=True, kw_only=True)
class FitAnswer:
    """own_pairs: the unit's pairs with how many sides each; None when no registry was asked."""

    request: FitRequest
    report: Report
    own_pairs: Mapping[Pair, int] | None


def answered(typed: Mapping[str, str | None], asked: Asked | None, *, in_full: bool) -> FitAnswer:
    """The whole answer.

    typed: options as typed. asked: the unit's cohort, if any. in_full: with states, operators and exposures.
    Raises MalformedOptionError for options that cannot be read; GravelbookError when nothing could be answered.
    """
    given = [name for name, value in typed.items() if value is not None]
    own = settings_in_force(asked.snapshot, asked.cohort.as_of, FIT, given) if asked else ()
    request = read_request(typed, own, nothing_asked=in_full)
    check_answerable(request, nothing_asked=in_full)
    sections = sections_of(request)
    if asked is not None:
        sides = asked.cohort.sides_frame
        made = own_sections(sides, request)
        sections += [*made, *exposure_sections(sides)] if in_full else made[:1]
    report = Report(
        title="Fit of scope and sheath",
        sections=sections,
        definition=request_definition(request),
        in_words=request_lines(request),
        source=asked.source if asked else None,
        own_defaults=own,
        small_number=request.small_number,
        cautions=("An idealised flow says nothing of the pressure in a patient's kidney.",),
    )
    pairs = own_pair_counts(asked.cohort.sides_frame) if asked else None
    return FitAnswer(request=request, report=report, own_pairs=pairs)


def check_answerable(request: FitRequest, *, nothing_asked: bool) -> None:
    """Raises GravelbookError, with every case and its reason, when no size that was asked has an answer."""
    if request.pairs or (request.channels and request.devices) or nothing_asked:
        return
    cases = " ".join(f"{one.case}: {one.reason}" for one in request.unanswered)
    raise GravelbookError(
        f"Nothing could be answered. {cases} Give a scope's shaft and a larger inner diameter of a sheath, in Fr or "
        "with the unit, such as --scope 7.5 --sheath 10,11,12."
    )
