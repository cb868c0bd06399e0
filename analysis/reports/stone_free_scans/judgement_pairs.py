"""Judgement and scan of every unit, side by side: what the sections of the judgement count."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.outcomes.surgeon_judgement import JUDGED, scan_positive
from analysis.reports.stone_free_scans.question import Question

BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Compared:
    """Units at one threshold, in the order of the packed units.

    eligible; judgement (code, missing without one); reference: a scan that can tell; residual: what it shows there.
    """

    words: str
    code: str
    eligible: BoolArray
    judgement: pd.Series
    reference: BoolArray
    residual: BoolArray
    modality: pd.Series

    @property
    def judged(self) -> BoolArray:
        """Something was judged."""
        return self.judgement.isin(list(JUDGED)).to_numpy(dtype=bool)


def compared(question: Question) -> list[Compared]:
    """Judgement and scan of every unit at each threshold."""
    judged = question.own
    sides = question.asked.cohort.sides_frame.set_index("side_id")["surgeon_judgement"]
    made = []
    for threshold, asked in zip(judged.definition.thresholds, judged.units.thresholds, strict=True):
        rows = judged.at(threshold.code)
        shows = scan_positive(rows)
        made.append(
            Compared(
                words=asked.in_words(),
                code=threshold.code,
                eligible=rows["status"].isin(["free", "failed", "unknown"]).to_numpy(dtype=bool),
                judgement=sides.reindex(rows["side_id"]).astype(object).reset_index(drop=True),
                reference=np.array([one is not None for one in shows], dtype=bool),
                residual=np.array([one is True for one in shows], dtype=bool),
                modality=rows["modality"],
            )
        )
    return made


def judgement_cases(question: Question) -> pd.DataFrame:
    """The units behind the comparison, one row a unit and threshold: judgement, what the scan shows, group."""
    judged = question.own
    names = np.array([*judged.grouping.named(), ""], dtype=object)
    parts = []
    for one in compared(question):
        rows = judged.at(one.code)
        shows = np.where(one.reference, np.where(one.residual, "residual", "none"), "cannot tell")
        part = pd.DataFrame(
            {
                "unit_id": rows["unit_id"],
                "side_id": rows["side_id"],
                "group": names[judged.grouping.codes],
                "threshold": one.code,
                "judged": one.judgement,
                "scan": shows,
                "modality": one.modality,
                "picked_study": rows["examination_id"],
                "examined_on": rows["studied_on"],
            }
        )
        parts.append(part[one.eligible])
    return pd.concat(parts, ignore_index=True)
