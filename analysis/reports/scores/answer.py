"""The whole answer about scores, as a report."""

from __future__ import annotations

from typing import Any

from analysis.outcomes.scores.all_scores import SCORES
from analysis.outcomes.scores.ureteroscopy_model import WHY_NONE
from analysis.reports.scores.burden_section import burden_section
from analysis.reports.scores.discrimination_section import discrimination_section
from analysis.reports.scores.gathered import Gathered
from analysis.reports.scores.rates_section import rates_section
from analysis.reports.scores.value_sections import computable_section, missing_section, values_section
from analysis.reports.scores.words import definition_lines, definitions
from analysis.reports.sections.report import Report, Section

OFF_LABEL = (
    "Scores were worked out for sides of every technique, those they were not made for included; the numbers say "
    "nothing of a score as it was published."
)


def report_of(held: Gathered) -> Report:
    """The sections asked for, under the scores' definitions."""
    request = held.request
    by = " and ".join(split.column for split in request.by)
    return Report(
        title=f"Complexity scores{f', by {by}' if by else ''}, as of {held.source.as_of.isoformat()}",
        sections=_sections(held),
        definition=_definition(held),
        in_words=definition_lines(request.scores),
        source=held.source,
        own_defaults=request.own_defaults,
        small_number=request.stone_free.small_number,
        cautions=_cautions(held),
    )


def _sections(held: Gathered) -> list[Section]:
    request = held.request
    made: list[Section] = []
    for shown in request.show:
        if shown == "burden":
            made.append(burden_section(held))
        elif shown == "missing":
            made.append(missing_section(held, WHY_NONE if request.ureteroscopy else ""))
        elif request.scores:
            made += (
                [computable_section(held), values_section(held)]
                if shown == "values"
                else [discrimination_section(held), rates_section(held)]
            )
    return made


def _cautions(held: Gathered) -> list[str]:
    request = held.request
    said = [OFF_LABEL] if request.any_technique else []
    if any(SCORES[code].from_memory for code in request.scores):
        said.append("Scores marked from memory have to be compared with their papers before anything is published.")
    if "validation" in request.show:
        said += list(request.stone_free.definition.cautions())
    return said


def _definition(held: Gathered) -> dict[str, Any]:
    request = held.request
    return {
        "show": list(request.show),
        "scores": definitions(request.scores),
        "ureteroscopy": WHY_NONE if request.ureteroscopy else None,
        "any_technique": request.any_technique,
        "by": [split.as_dict() for split in request.by],
        "stone_free": request.stone_free.definition.as_dict(),
        "interval": request.stone_free.interval,
        "level": request.stone_free.level,
        "seed": request.stone_free.seed,
        "replicates": request.stone_free.replicates,
    }
