"""A registry gives the same frames on either engine, and those of the rows themselves."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from analysis.cohort.load import load_cohort
from analysis.cohort.snapshot import open_snapshot
from registry.store.registry import Registry
from tests.cohort.full_registry import filled


def test_frames_are_those_of_the_rows(registry: Registry, folder: Path) -> None:
    rows = filled()
    rows.written(registry)
    # The door works out the age at the operation; the frame does so as well where it is missing.
    expected = rows.cohort(folder)
    cohort = load_cohort(open_snapshot(registry))
    pd.testing.assert_frame_equal(cohort.sides_frame, expected.sides_frame, check_exact=True)
    for name, frame in expected.outcome_frames.items():
        pd.testing.assert_frame_equal(cohort.outcome_frames[name], frame, check_exact=True)
    assert cohort.as_of == expected.as_of
    assert cohort.flow == expected.flow
    assert len(cohort.sides_frame) == 3


def test_the_frozen_bytes_are_those_of_the_rows_but_for_the_age(registry: Registry, folder: Path) -> None:
    rows = filled()
    rows.written(registry)
    taken, expected = open_snapshot(registry).manifest, rows.snapshot_of(folder).manifest
    differing = {name for name in expected.tables if taken.tables[name] != expected.tables[name]}
    assert differing == {"operation"}
