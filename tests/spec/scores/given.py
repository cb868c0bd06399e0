"""Stones and sides for the scores: what a test does not say is ordinary and recorded."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from analysis.outcomes.scores.all_scores import SCORES
from analysis.outcomes.scores.case import Case, Stone, bits
from analysis.outcomes.scores.score import Scored, scored

ORDINARY = Stone(location="pelvis", length_mm=10.0, width_mm=8.0, attenuation_hu=800.0, skin_to_stone_mm=90.0)


def stone(location: str | None = "pelvis", *sites: str, **more: Any) -> Stone:
    return replace(ORDINARY, location=location, sites=bits(sites), **more)


def side(*stones: Stone, **more: Any) -> Case:
    """A side with one ordinary stone in the pelvis unless others are named."""
    ordinary: dict[str, Any] = {
        "anatomy": "normal",
        "spinal_disease": "no",
        "hydronephrosis": "none",
        "angle_deg": 60.0,
        "infundibular_length_mm": 20.0,
    }
    return Case(stones=stones or (ORDINARY,), **{**ordinary, **more})


def score_of(code: str, case: Case) -> Scored:
    return scored(SCORES[code], case)


def value(code: str, case: Case) -> int | None:
    return score_of(code, case).value


def points(code: str, case: Case) -> dict[str, tuple[int, int]]:
    """Fewest and most points of each item."""
    return {item.name: (item.low, item.high) for item in score_of(code, case).items}
