"""From a registry to the frames of its equipment, in the cohort and of whole lives."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from analysis.cohort.sql.failures import FAILURES
from analysis.cohort.subjects import subject_frames
from analysis.outcomes.equipment_failure import item_lives, pieces_opened
from analysis.reports.equipment.request import EQUIPMENT, Request, read_request
from analysis.reports.request.source import Asked, ask_cohort, settings_in_force

REUSE = {"yes": "single-use", "no": "reusable"}
NOT_SAID = "not recorded"
OF_THE_PIECE = {"reuse": "reuse", "model_code": "model"}
"""Columns to split by that describe the piece opened, and the column of `Equipment.opened` that holds each."""


@dataclass(frozen=True, kw_only=True)
class Equipment:
    """What the sections are made of.

    opened: pieces of the kind opened in the cohort, with the side's columns beside. reportable: all kinds' pieces
    of the cohort. lives: reusable pieces of the kind, over the whole registry.
    """

    request: Request
    asked: Asked
    opened: pd.DataFrame
    every_kind: pd.DataFrame
    lives: pd.DataFrame


def ask(
    location: str,
    typed: Mapping[str, str | None],
    as_of: dt.date | None,
    rules_file: Path | None,
    snapshot_name: str | None,
    *,
    research: bool,
) -> Equipment:
    """The frames behind an answer. Raises GravelbookError for whatever is at fault in registry, files or request."""
    asked = ask_cohort(location, rules_file=rules_file, snapshot_name=snapshot_name, research=research, as_of=as_of)
    return ask_frames(asked, typed)


def ask_frames(asked: Asked, typed: Mapping[str, str | None]) -> Equipment:
    """The same of a cohort that is at hand."""
    given = [name for name, value in typed.items() if value is not None]
    cohort = asked.cohort
    request = read_request(typed, settings_in_force(asked.snapshot, cohort.as_of, EQUIPMENT, given))
    frames = subject_frames(asked.snapshot, FAILURES, cohort.as_of)
    uses = frames["uses"].assign(model=_model_names(frames["uses"], frames["items"])[0])
    uses["reuse"] = uses["single_use"].map(REUSE).fillna(NOT_SAID).astype("string")
    inside = uses["side_id"].isin(cohort.sides_frame["side_id"]) & _between(uses["operated_on"], request)
    every = pieces_opened(uses[inside.to_numpy(dtype=bool)])
    opened = every[(every["kind"] == request.kind).to_numpy(dtype=bool)].reset_index(drop=True)
    items = frames["items"].assign(model=_model_names(frames["uses"], frames["items"])[1])
    items = items[(items["kind"] == request.kind).to_numpy(dtype=bool)]
    lives = item_lives(uses, items, frames["repairs"], pd.Timestamp(cohort.as_of))
    return Equipment(request=request, asked=asked, opened=opened, every_kind=every, lives=lives)


def columns_to_split_by(found: Equipment) -> pd.DataFrame:
    """The columns that `--by` may name, one row a piece opened: the side's, and the equipment's own.

    Its `side_id` is the row's number, so that every piece opened is a unit of its own.
    """
    sides = found.asked.cohort.sides_frame.set_index("side_id")
    beside = sides.reindex(found.opened["side_id"]).reset_index(drop=True)
    own = pd.DataFrame({name: found.opened[held] for name, held in OF_THE_PIECE.items()})
    beside = beside.drop(columns=[name for name in own if name in beside])
    return pd.concat([own, beside], axis=1).assign(side_id=np.arange(len(found.opened)))


def _between(days: pd.Series, request: Request) -> pd.Series:
    inside = days.notna()
    if request.since:
        inside &= days >= pd.Timestamp(request.since)
    if request.until:
        inside &= days <= pd.Timestamp(request.until)
    return inside


def _model_names(*frames: pd.DataFrame) -> list[pd.Series]:
    """The models' codes; with their site where two sites use one code."""
    both = pd.concat([frame[["model_site", "model_code"]] for frame in frames]).drop_duplicates()
    shared = set(both.loc[both["model_code"].duplicated(keep=False), "model_code"])
    return [
        frame["model_code"].where(~frame["model_code"].isin(shared), frame["model_site"] + " " + frame["model_code"])
        for frame in frames
    ]
