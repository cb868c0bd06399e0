"""From a registry to an answer: snapshot, cohort, the unit's own defaults, request."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from analysis.cohort.columns import cohort_columns
from analysis.cohort.rules import Rules
from analysis.cohort.snapshot import Snapshot
from analysis.reports.request.own_defaults import STONE_FREE
from analysis.reports.request.source import Asked, ask_cohort, ask_snapshot_cohort, settings_in_force
from analysis.reports.stone_free.answer import Answer, answered
from analysis.reports.stone_free.request import read_request


def ask(
    location: str,
    typed: Mapping[str, str | None],
    as_of: dt.date | None,
    rules_file: Path | None,
    snapshot_name: str | None,
    *,
    research: bool,
) -> tuple[Answer, pd.DataFrame]:
    """The answer, and the cohort's frame of sides it was worked out from.

    location: the registry. typed: the options as typed. rules_file: steps of inclusion and exclusion.
    Raises GravelbookError for whatever is at fault in registry, files or request.
    """
    asked = ask_cohort(location, rules_file=rules_file, snapshot_name=snapshot_name, research=research, as_of=as_of)
    return answer_asked(asked, typed)


def ask_snapshot(
    snapshot: Snapshot, typed: Mapping[str, str | None], as_of: dt.date | None, rules: Rules | None, *, research: bool
) -> tuple[Answer, pd.DataFrame]:
    """The same of a snapshot that is at hand."""
    return answer_asked(ask_snapshot_cohort(snapshot, rules, research=research, as_of=as_of), typed)


def answer_asked(asked: Asked, typed: Mapping[str, str | None]) -> tuple[Answer, pd.DataFrame]:
    """The same of a cohort that is at hand, so that several questions share it."""
    cohort = asked.cohort
    given = [name for name, value in typed.items() if value is not None]
    request = read_request(typed, settings_in_force(asked.snapshot, cohort.as_of, STONE_FREE, given))
    answer = answered(request, asked.source, cohort.sides_frame, cohort.outcome_frames, cohort_columns())
    return answer, cohort.sides_frame
