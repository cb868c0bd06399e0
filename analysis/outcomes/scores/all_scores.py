"""Every complexity score there is, by name, and all of them worked out for a cohort's sides.

Left out on purpose: T.O.HO. (Hori et al., BJU Int 2020), whose table of points is not known surely.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import pandas as pd

from analysis.outcomes.scores.case import Case, Stone, bits
from analysis.outcomes.scores.guys import GUYS
from analysis.outcomes.scores.modified_sresc import MODIFIED_S_RESC
from analysis.outcomes.scores.resorlu_unsal import RESORLU_UNSAL
from analysis.outcomes.scores.rirs import RIRS
from analysis.outcomes.scores.score import Score, scored
from analysis.outcomes.scores.sresc import S_RESC
from analysis.outcomes.scores.stone_nephrolithometry import STONE_NEPHROLITHOMETRY

SCORES: Mapping[str, Score] = {
    score.code: score for score in (GUYS, STONE_NEPHROLITHOMETRY, S_RESC, MODIFIED_S_RESC, RESORLU_UNSAL, RIRS)
}
COLUMNS = ("score", "side_id", "meant", "state", "value", "low", "high", "items", "missing", "reason")


def complexity_scores(
    sides: pd.DataFrame,
    stones: pd.DataFrame,
    sites: pd.DataFrame,
    *,
    scores: Iterable[str] = tuple(SCORES),
    any_technique: bool = False,
) -> pd.DataFrame:
    """One row a score and a side of the techniques it is meant for (every side with `any_technique`).

    sides, stones, sites: the frames of `analysis.cohort.sql.scoring` for these sides; stones of others are ignored.
    Columns: COLUMNS; meant: bool, of a technique it is meant for; state: one of `score.State`; value: Int64; low and
    high: Int64, the span that is possible; items: tuple of Item; missing: tuple of words; reason: why it has no value.
    """
    cases = cases_of(sides, stones, sites)
    used = [
        (int(side), _techniques(words))
        for side, words in zip(sides["side_id"], sides["techniques"].astype(object), strict=True)
    ]
    rows = []
    for code in scores:
        score = SCORES[code]
        for side, techniques in used:
            meant = is_meant_for(score, techniques)
            if meant or any_technique:
                of = scored(score, cases[side])
                rows.append((code, side, meant, of.state, of.value, of.low, of.high, of.items, of.missing, of.reason))
    made = pd.DataFrame(rows, columns=list(COLUMNS))
    whole = dict.fromkeys(("value", "low", "high"), "Int64")
    return made.astype({**whole, "side_id": "int64", "meant": bool} if len(made) else whole)


def is_meant_for(score: Score, techniques: frozenset[str]) -> bool:
    """Whether a side treated by these techniques is one the score was made for.

    A score of percutaneous operations: any percutaneous technique among them. A score of flexible ureteroscopy: the
    flexible scope, with no other but the semirigid one.
    """
    if "flexible" in score.meant_for:
        return "flexible" in techniques and techniques <= {"flexible", "semirigid"}
    return bool(techniques & score.meant_for)


def cases_of(sides: pd.DataFrame, stones: pd.DataFrame, sites: pd.DataFrame) -> dict[int, Case]:
    """The case of each side, by side_id, from the frames of `analysis.cohort.sql.scoring`."""
    filled = sites.groupby("stone_id")["site_filled"].agg(bits).to_dict() if len(sites) else {}
    held: dict[int, list[Stone]] = {}
    for row in _records(stones):
        held.setdefault(row["side_id"], []).append(
            Stone(
                location=row["location"],
                face=row["calyx_face"],
                sites=filled.get(row["stone_id"], 0),
                length_mm=row["length_mm"],
                width_mm=row["width_mm"],
                attenuation_hu=row["attenuation_hu"],
                skin_to_stone_mm=row["skin_to_stone_mm"],
            )
        )
    return {
        row["side_id"]: Case(
            stones=tuple(held.get(row["side_id"], ())),
            anatomy=row["anatomy"],
            spinal_disease=row["spinal_disease"],
            hydronephrosis=row["hydronephrosis"],
            angle_deg=row["infundibulopelvic_angle_deg"],
            infundibular_length_mm=row["infundibular_length_mm"],
            stones_settled=bool(row["by_aim"]) or (row["stage_number"] or 0) == 0,
        )
        for row in _records(sides)
    }


def _records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows as plain values, None where missing."""
    plain = frame.astype(object)
    return plain.where(plain.notna(), None).to_dict("records")  # type: ignore[return-value]


def _techniques(words: object) -> frozenset[str]:
    return frozenset(words.split("+")) if isinstance(words, str) else frozenset()
