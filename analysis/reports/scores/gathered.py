"""Everything the sections read, gathered once: scores, burden, lower pole, and stone-free statuses of the cohort."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.cohort.columns import cohort_columns
from analysis.cohort.sql.scoring import SUBJECT
from analysis.cohort.subjects import subject_frames
from analysis.outcomes.anatomy import lower_pole
from analysis.outcomes.burden import side_burden
from analysis.outcomes.inputs import Tables
from analysis.outcomes.scores.all_scores import complexity_scores
from analysis.outcomes.status import stone_free_status
from analysis.reports.request.grouping import Grouping, grouped, units_of
from analysis.reports.request.own_defaults import STONE_FREE
from analysis.reports.request.source import Asked, Source, settings_in_force
from analysis.reports.scores.request import ScoresRequest, read_scores_request

STATUSES = ("free", "failed", "unknown")
"""Statuses of a side that is eligible for a stone-free rate."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Gathered:
    """sides: the cohort where stone removal was intended, one row a side. other_intent: sides of the cohort that were
    treated for something else. grouping: of these sides. scored: one row a score and side (see
    `complexity_scores`), with patient_id and `place`, the side's row in `sides`. measures: of each side, burden and
    lower pole. statuses: one row a side and threshold, as `stone_free_status` gives them.
    """

    request: ScoresRequest
    source: Source
    sides: pd.DataFrame
    other_intent: int
    grouping: Grouping
    scored: pd.DataFrame
    measures: pd.DataFrame
    statuses: pd.DataFrame

    def of_score(self, code: str) -> pd.DataFrame:
        return self.scored[self.scored["score"] == code]

    def grouping_of(self, rows: pd.DataFrame) -> Grouping:
        """The same groups, for rows that know their place among the sides."""
        codes: npt.NDArray[np.int64] = self.grouping.codes[rows["place"].to_numpy(dtype=np.int64)]
        return Grouping(self.grouping.columns, self.grouping.labels, codes)

    def with_grouping(self, grouping: Grouping) -> Gathered:
        """The same, split otherwise."""
        return replace(self, grouping=grouping)

    def judged(self, code: str, threshold: str) -> pd.DataFrame:
        """The score's rows with each side's status at a threshold, and whether that is a failure known only from a
        study that cannot clear a side (`failed_inadequate`)."""
        at = self.statuses[self.statuses["threshold"] == threshold]
        rows = self.of_score(code)
        return rows.merge(
            at[["side_id", "status", "failed_inadequate"]], on="side_id", how="inner", validate="one_to_one"
        )


def gathered(asked: Asked, typed: Mapping[str, str | None], *, any_technique: bool) -> Gathered:
    """Work out what is asked of a cohort.

    typed: the options as typed. Raises GravelbookError for a setting or a column at fault.
    """
    cohort = asked.cohort
    given = [name for name, value in typed.items() if value is not None]
    settings = settings_in_force(asked.snapshot, cohort.as_of, STONE_FREE, given)
    request = read_scores_request(typed, settings, any_technique=any_technique)
    frames = subject_frames(asked.snapshot, SUBJECT, cohort.as_of)
    sides = cohort.sides_frame
    sides = sides[(sides["intent"] == "stone_removal").to_numpy(dtype=bool)].reset_index(drop=True)
    ids = sides["side_id"].to_numpy(dtype=np.int64)
    own = {name: frames[name][frames[name]["side_id"].isin(ids)].reset_index(drop=True) for name in ("sides", "stones")}
    scored = complexity_scores(**own, sites=frames["sites"], scores=request.scores, any_technique=any_technique)
    place = pd.Index(ids).get_indexer(pd.Index(scored["side_id"].astype("int64")))
    scored = scored.assign(place=place, patient_id=sides["patient_id"].to_numpy()[place])
    inside = (
        np.isin(ids, scored["side_id"].to_numpy()) if "burden" not in request.show else np.ones(len(ids), dtype=bool)
    )
    measures = lower_pole(own["sides"]).merge(side_burden(own["stones"]), on="side_id", how="left", validate="1:1")
    statuses = stone_free_status(Tables(**cohort.outcome_frames, as_of=cohort.as_of), request.stone_free.definition)
    return Gathered(
        request=request,
        source=asked.source,
        sides=sides,
        other_intent=len(cohort.sides_frame) - len(sides),
        grouping=grouped(ids, inside, sides, request.by, unit_of=units_of(cohort_columns())),
        scored=scored,
        measures=pd.DataFrame({"side_id": ids}).merge(measures, on="side_id", how="left", validate="1:1"),
        statuses=statuses,
    )
