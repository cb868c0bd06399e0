"""A model file whose outcome is a time to an event: what of it a time can take, its report and its figure."""

from __future__ import annotations

import platform
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from analysis.outcomes.follow_up.rules import WHATS
from analysis.reports.ratio.model_file import Model
from analysis.reports.ratio.outcome_options import read_as_typed
from analysis.reports.request.own_defaults import SMALL_NUMBER, STONE_FREE
from analysis.reports.request.source import Asked, settings_in_force
from analysis.reports.sections.report import Report, Section
from analysis.reports.time_to_event.answer import sections_of
from analysis.reports.time_to_event.figure_of import figure_of
from analysis.reports.time_to_event.followed import Followed, followed
from analysis.reports.time_to_event.options import read_options
from registry.schema.errors import GravelbookError

if TYPE_CHECKING:
    from analysis.figures.stone_free import Kind

SOFTWARE = ("numpy", "scipy", "pandas", "statsmodels", "lifelines", "comprisk", "formulaic")
CAUSE = (
    "An adjusted association is no proof of a cause: whatever else goes with the exposure and was not held alike "
    "still stands in it."
)


def is_time(model: Model) -> bool:
    """Whether a model's outcome is a time to an event."""
    return model.outcome in WHATS


def followed_of(model: Model, asked: Asked) -> Followed:
    """The courses of a model, followed.

    Raises GravelbookError for options at fault, and for what of the file a time to an event does not take.
    """
    _check(model)
    return read_as_typed(model, lambda: followed(asked, read_options(model.outcome, model.options), model.exposure))


def time_report(model: Model, asked: Asked, question: Sequence[tuple[str, str]]) -> Report:
    """The report of a model. question: its lines in words (of `ratio.question`), printed before any number.

    Raises GravelbookError as `followed_of`.
    """
    of = followed_of(model, asked)
    sections = _sections(of, model)
    return Report(
        title=f"{model.name[0].upper()}{model.name[1:]}, as of {asked.cohort.as_of.isoformat()}",
        sections=sections,
        definition={
            "outcome": {"what": model.outcome, **model.options, "kind": "time", "rows": "course"},
            "outcome_definition": of.definition(),
            "exposure": {"column": of.exposure.column, "shape": of.exposure.shape, "per": of.exposure.per},
            "adjusters": [one.term.column for one in model.adjusters],
            "contrast": list(model.contrast) if model.contrast else None,
            "level": model.level,
            "seed": model.seed,
            "events_per_parameter": model.events_per_parameter,
            "software": {"python": platform.python_version(), **{name: _version(name) for name in SOFTWARE}},
        },
        in_words=question,
        source=asked.source,
        own_defaults=of.own_defaults,
        small_number=small_number_of(asked),
        cautions=(CAUSE, *(of.stone_free.cautions() if of.stone_free else ())),
    )


def time_drawing(model: Model, asked: Asked, kind: Kind) -> bytes:
    """The figure of a model as a file. Raises GravelbookError as `followed_of`, and when nothing can be drawn."""
    of = followed_of(model, asked)
    return figure_of(of, level=model.level, kind=kind, small_number=small_number_of(asked))


def small_number_of(asked: Asked) -> int:
    """The unit's own number below which text shows no rate, else 5."""
    held = settings_in_force(asked.snapshot, asked.cohort.as_of, STONE_FREE)
    return next((int(one.value) for one in held if one.option == SMALL_NUMBER), 5)


def _sections(of: Followed, model: Model) -> list[Section]:
    return sections_of(
        of,
        [one.term for one in model.adjusters],
        contrast=model.contrast,
        level=model.level,
        events_per_parameter=model.events_per_parameter,
    )


def _check(model: Model) -> None:
    """What a model file may say that a time to an event does not take, each with what to write."""
    wrong: list[tuple[bool, str, str]] = [
        (model.cluster_by != "patient" or model.cluster_method != "robust", "[cluster]",
         'errors of a time to an event allow for several courses of a patient; write by = "patient" and method = '
         '"robust"'),
        (model.covariates != "complete", "[missing] covariates",
         'covariates of a time to an event are not imputed; write "complete"'),
        (model.fit != "likelihood", "[fit] method", 'a time to an event is fitted by "likelihood" alone'),
        (bool(model.interactions), "[[interaction]]", "a time to an event takes no products of terms; leave them out"),
    ]  # fmt: skip
    for fault, where, said in wrong:
        if fault:
            raise GravelbookError(f"{model.place}, {where}: {said}.")


def _version(name: str) -> Any:
    from importlib.metadata import version

    return version(name)
