"""What the sections of validation share: the threshold in words, and what they were computed under."""

from __future__ import annotations

from typing import Any

from analysis.outcomes.thresholds import Threshold
from analysis.reports.scores.gathered import Gathered
from analysis.reports.scores.words import definitions
from analysis.reports.sections.report import Column
from analysis.reports.stone_free.request import Request


def free_when(asked: Request) -> list[Column]:
    """A column of the threshold where there are several; one is said in the definition."""
    return [Column("free when", "free_when")] if len(asked.definition.thresholds) > 1 else []


def of_threshold(threshold: Threshold) -> dict[str, Any]:
    """A threshold's part of a row."""
    sign = f"{threshold.comparison} {threshold.value_mm:g} mm" if threshold.value_mm else "none seen"
    return {"threshold_mm": threshold.value_mm, "comparison": threshold.comparison, "free_when": sign}


def validated_under(held: Gathered) -> dict[str, Any]:
    """Scores, technique and stone-free definition, ready for JSON."""
    request = held.request
    return {
        "scores": definitions(request.scores),
        "any_technique": request.any_technique,
        "stone_free": request.stone_free.definition.as_dict(),
        "level": request.stone_free.level,
    }
