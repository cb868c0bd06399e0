"""A time to an event answered: every section, in the order they are read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from analysis.design.terms import Term
from analysis.outcomes.follow_up.rules import EVENT
from analysis.reports.request.source import Asked
from analysis.reports.sections.report import Section
from analysis.reports.time_to_event.dates import between_images_section, dates_section
from analysis.reports.time_to_event.flow import flow_section, followed_section
from analysis.reports.time_to_event.followed import Followed, followed
from analysis.reports.time_to_event.group_tests import mean_section, tests_section
from analysis.reports.time_to_event.hazards import hazard_section, models_of, proportional_section
from analysis.reports.time_to_event.incidence import incidence_section
from analysis.reports.time_to_event.options import read_options


def time_sections(
    asked: Asked,
    what: str,
    exposure: Term,
    adjusters: Sequence[Term],
    *,
    contrast: tuple[Any, Any] | None = None,
    level: float = 0.95,
    seed: int = 1,
    options: Mapping[str, str] | None = None,
    events_per_parameter: float = 10.0,
) -> list[Section]:
    """The sections of one time to an event.

    what: retreatment, recurrence, symptomatic_recurrence or fragment_event. exposure, adjusters: terms of a model, of
    columns that may stand there and in the shape that they ask for. contrast: two values of the exposure. seed: nothing
    here is drawn by chance; it is taken so that all outcomes are asked alike. options: as written in a model file.

    What these data cannot answer stands as a paragraph under the section that it is about. Raises MalformedOptionError
    for options at fault, GravelbookError for columns that are not there.
    """
    del seed
    of = followed(asked, read_options(what, options or {}), exposure)
    return sections_of(of, adjusters, contrast=contrast, level=level, events_per_parameter=events_per_parameter)


def sections_of(
    of: Followed,
    adjusters: Sequence[Term],
    *,
    contrast: tuple[Any, Any] | None = None,
    level: float = 0.95,
    events_per_parameter: float = 10.0,
) -> list[Section]:
    """The same of courses that are followed already."""
    made = [flow_section(of)]
    if not len(of.at_risk):
        return [_nothing(made[0], "Nobody is at risk with the exposure known, so that there is no time to tell of.")]
    made.append(followed_section(of))
    made.append(incidence_section(of, level))
    if not (of.at_risk["cause"] == EVENT).any():
        said = f"Nobody had {of.options.rule.label} within follow-up, so that nothing can be compared or modelled."
        return [*made[:-1], _nothing(made[-1], said), dates_section(of, level)]
    return [*made, *_compared(of, adjusters, contrast, level, events_per_parameter)]


def _compared(
    of: Followed, adjusters: Sequence[Term], contrast: tuple[Any, Any] | None, level: float, wanted: float
) -> list[Section]:
    models = models_of(of, adjusters, wanted)
    sections = [
        tests_section(of),
        hazard_section(of, models, contrast, level),
        proportional_section(of, models),
        mean_section(of, level),
        between_images_section(of, level),
        dates_section(of, level),
    ]
    return [one for one in sections if one is not None]


def _nothing(section: Section, said: str) -> Section:
    from dataclasses import replace

    return replace(section, notes=(*section.notes, said))
