"""Frames about one subject (complications, costs, ...), made from a snapshot when they are asked for.

Unlike the cohort frame they are not kept: a question about one subject reads few columns of few tables.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from analysis.cohort.snapshot import Snapshot
from analysis.cohort.typed import typed_frame
from analysis.cohort.unit_settings import read_settings


@dataclass(frozen=True)
class Subject:
    """What is read of a subject.

    frames: name to a SELECT over the snapshot's tables, its rows in a fixed order. holds: of each frame, column to
    what it holds (id, whole, number, flag, date, text). needs: statements run before, that make what the SELECTs
    read besides (from the other modules of `cohort.sql`).
    """

    name: str
    frames: Mapping[str, str]
    holds: Mapping[str, Mapping[str, str]]
    needs: tuple[str, ...] = ()


def subject_frames(snapshot: Snapshot, subject: Subject, as_of: dt.date) -> dict[str, pd.DataFrame]:
    """The frames of a subject, of the whole snapshot, typed as declared.

    Who is in the cohort, and what lies after the as-of date, is for the caller to leave out.
    """
    from analysis.cohort.build import engine_on

    made = {}
    with engine_on(snapshot, read_settings(snapshot, as_of)) as engine:
        for statement in subject.needs:
            engine.execute(statement)
        for name, query in subject.frames.items():
            table = engine.sql(query).to_arrow_table()
            made[name] = typed_frame(table, dict(subject.holds[name]))
    return made
