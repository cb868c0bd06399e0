"""The cohort of a snapshot, ready to be analysed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import pandas as pd

from analysis.cohort.applying import apply_rules
from analysis.cohort.as_of import latest_day
from analysis.cohort.cache import prepared
from analysis.cohort.flow import Flow
from analysis.cohort.manifest import Manifest
from analysis.cohort.rules import Rules
from analysis.cohort.snapshot import Snapshot
from analysis.cohort.unit_settings import read_settings
from registry.schema.errors import GravelbookError


@dataclass(frozen=True)
class Cohort:
    """Who counts, from when, until when, and how many fell out and why.

    sides_frame: one row per treated side in the cohort (`columns.cohort_columns` describes the columns).
    outcome_frames: the frames from which outcomes are judged, of the whole snapshot; `sides` says in `in_cohort`
        who is in, for what happened to others (an earlier stage, a later retreatment) still matters.
    as_of: nothing dated later is read.
    flow: from all sides to those in the cohort. snapshot_manifest: where all this came from.
    settings: the unit's settings that were in force, for the report.
    """

    sides_frame: pd.DataFrame
    outcome_frames: dict[str, pd.DataFrame]
    as_of: dt.date
    flow: Flow
    snapshot_manifest: Manifest
    settings: dict[str, object]


def load_cohort(
    snapshot: Snapshot, rules: Rules | None = None, *, research: bool = False, as_of: dt.date | None = None
) -> Cohort:
    """The cohort of a snapshot.

    Args:
        snapshot: from `snapshot.open_snapshot`.
        rules: steps of inclusion and exclusion; None takes every treated side.
        research: leave out patients who refused research use.
        as_of: operations after this day are left out; by default the latest date of an operation, an examination,
            a contact or an entry after discharge.

    Raises:
        GravelbookError: the snapshot's files are spoilt, a setting cannot be read, or the registry is empty and no
            as-of date is given.
    """
    snapshot.check()
    day = as_of or latest_day(snapshot)
    if day is None:
        raise GravelbookError(
            "The registry holds no operation, examination or contact yet, so there is nothing to work out. Load cases "
            "first, for example with: gravelbook intake load FILE"
        )
    settings = read_settings(snapshot, day)
    made = prepared(snapshot, settings)
    frame = made.frame
    inside, flow = apply_rules(frame, rules, research=research, not_asked_out=settings.not_asked_out, as_of=as_of)
    outcome = dict(made.outcome)
    outcome["sides"] = outcome["sides"].assign(in_cohort=pd.array(inside, dtype="boolean"))
    return Cohort(
        sides_frame=frame if inside.all() else frame[inside].reset_index(drop=True),
        outcome_frames=outcome,
        as_of=day,
        flow=flow,
        snapshot_manifest=snapshot.manifest,
        settings=settings.described(),
    )
