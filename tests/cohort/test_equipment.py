"""Which scope and sheath count for a side, and how they fit."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from tests.cohort.rows import Rows


def fit(row: dict[str, Any]) -> tuple[Any, ...]:
    """(scope, sheath, state, pairs)"""
    sizes = [None if pd.isna(row[name]) else row[name] for name in ("scope_fr", "sheath_inner_fr")]
    return (*sizes, row["ratio_state"], None if pd.isna(row["ratio_pairs"]) else row["ratio_pairs"])


# Published bands are closed below: 7.5 in 10 and 8.5 in 10 lie exactly on a limit.
@pytest.mark.parametrize(
    ("shaft", "inner", "band", "split"),
    [
        (74, 100, "under 0.75", "0.85 and under"),
        (75, 100, "0.75 to under 0.85", "0.85 and under"),
        (84, 100, "0.75 to under 0.85", "0.85 and under"),
        (85, 100, "0.85 and over", "0.85 and under"),
        (86, 100, "0.85 and over", "over 0.85"),
        (90, 120, "0.75 to under 0.85", "0.85 and under"),
        (102, 120, "0.85 and over", "0.85 and under"),
        (89, 120, "under 0.75", "0.85 and under"),
    ],
)
def test_bands(rows: Rows, folder: Path, shaft: int, inner: int, band: str, split: str) -> None:
    side = rows.side()
    rows.used(side, rows.sheath(inner))
    rows.used(side, rows.scope(shaft))
    row = rows.row(folder, side)
    assert (row["scope_to_sheath_band"], row["scope_to_sheath_split"]) == (band, split)
    assert row["sheath_to_scope_ratio"] == inner / shaft
    assert row["scope_to_sheath_ratio"] == shaft / inner


@pytest.mark.parametrize(
    ("shaft", "inner", "state"), [(None, 100, "missing"), (75, None, "missing"), (100, 100, "impossible")]
)
def test_a_ratio_that_is_not_known(rows: Rows, folder: Path, shaft: int | None, inner: int | None, state: str) -> None:
    side = rows.side()
    rows.used(side, rows.sheath(inner))
    rows.used(side, rows.scope(shaft))
    row = rows.row(folder, side)
    assert row["ratio_state"] == state
    for name in ("sheath_to_scope_ratio", "scope_to_sheath_ratio", "scope_to_sheath_band", "scope_to_sheath_split"):
        assert pd.isna(row[name])


def test_without_a_sheath_the_ratio_is_not_applicable(rows: Rows, folder: Path) -> None:
    side = rows.side()
    rows.used(side, rows.scope(75))
    row = rows.row(folder, side)
    assert fit(row) == (7.5, None, "not applicable", 0)
    assert pd.isna(row["sheath_failed"])


def test_a_percutaneous_sheath_has_no_ratio(rows: Rows, folder: Path) -> None:
    side = rows.side(techniques=("percutaneous",))
    rows.used(side, rows.model("percutaneous_sheath", inner_tenths_fr=240))
    rows.used(side, rows.scope(75))
    assert fit(rows.row(folder, side)) == (7.5, None, "not applicable", 0)


def test_nothing_recorded_of_equipment_is_missing_where_a_sheath_may_have_been(rows: Rows, folder: Path) -> None:
    flexible, shock_wave = rows.side(), rows.side(techniques=("shock_wave",))
    frame = rows.cohort(folder).sides_frame.set_index("side_id")
    assert list(frame.loc[[flexible, shock_wave], "ratio_state"]) == ["missing", "not applicable"]
    assert frame["ratio_pairs"].isna().all()


def test_a_sheath_that_failed_was_not_in_place(rows: Rows, folder: Path) -> None:
    side = rows.side()
    rows.used(side, rows.sheath(120, 140), "failed", first_intended="yes")
    rows.used(side, rows.scope(75))
    row = rows.row(folder, side)
    assert fit(row) == (7.5, None, "not applicable", 0)
    assert (row["sheath_failed"], row["sheath_downsized"]) == ("yes", "no")


def test_a_smaller_sheath_after_a_failed_one(rows: Rows, folder: Path) -> None:
    side = rows.side()
    rows.used(side, rows.sheath(120, 140), "failed", first_intended="yes")
    rows.used(side, rows.sheath(100, 120))
    rows.used(side, rows.scope(75))
    row = rows.row(folder, side)
    assert fit(row) == (7.5, 10.0, "known", 1)
    assert (row["sheath_failed"], row["sheath_downsized"]) == ("yes", "yes")


def test_a_sheath_changed_before_the_scope_came_makes_no_pair(rows: Rows, folder: Path) -> None:
    side = rows.side()
    rows.used(side, rows.sheath(100), "exchanged")
    rows.used(side, rows.sheath(120))
    rows.used(side, rows.scope(75))
    row = rows.row(folder, side)
    assert fit(row) == (7.5, 12.0, "known", 1)
    assert (row["sheath_failed"], row["sheath_downsized"]) == ("no", "no")


def test_of_several_pairs_the_last_counts_unless_one_lasted_longest(rows: Rows, folder: Path) -> None:
    sheath, first, second = rows.sheath(100), rows.scope(75), rows.scope(85)
    unsaid, said = rows.side(), rows.side()
    for side, most in ((unsaid, None), (said, "yes")):
        rows.used(side, sheath, most_of_lithotripsy=most)
        rows.used(side, first, "exchanged", most_of_lithotripsy=most)
        rows.used(side, second)
    frame = rows.cohort(folder).sides_frame.set_index("side_id")
    assert [fit(dict(frame.loc[side])) for side in (unsaid, said)] == [
        (8.5, 10.0, "known", 2),
        (7.5, 10.0, "known", 2),
    ]


def test_the_sheath_that_lasted_longest_counts_with_its_scope(rows: Rows, folder: Path) -> None:
    side = rows.side()
    rows.used(side, rows.sheath(120), "exchanged", most_of_lithotripsy="yes")
    rows.used(side, rows.scope(75), most_of_lithotripsy="yes")
    rows.used(side, rows.sheath(100))
    assert fit(rows.row(folder, side)) == (7.5, 12.0, "known", 2)


def test_without_a_sheath_the_scope_that_lasted_longest_counts_else_the_last(rows: Rows, folder: Path) -> None:
    first, second = rows.scope(75), rows.scope(85)
    unsaid, said = rows.side(), rows.side()
    for side, most in ((unsaid, None), (said, "yes")):
        rows.used(side, first, "exchanged", most_of_lithotripsy=most)
        rows.used(side, second)
    frame = rows.cohort(folder).sides_frame.set_index("side_id")
    assert list(frame.loc[[unsaid, said], "scope_fr"]) == [8.5, 7.5]


def test_the_same_model_again_is_no_second_pair(rows: Rows, folder: Path) -> None:
    side, scope = rows.side(), rows.scope(75)
    rows.used(side, rows.sheath(100))
    rows.used(side, scope, "exchanged")
    rows.used(side, scope)
    assert fit(rows.row(folder, side)) == (7.5, 10.0, "known", 1)


def test_a_scope_withdrawn_unused_makes_no_pair(rows: Rows, folder: Path) -> None:
    side = rows.side()
    rows.used(side, rows.sheath(100))
    rows.used(side, rows.scope(75))
    rows.used(side, rows.scope(85), "withdrawn")
    assert fit(rows.row(folder, side)) == (7.5, 10.0, "known", 1)


def test_what_the_catalogue_says_of_the_pair(rows: Rows, folder: Path) -> None:
    side = rows.side()
    rows.used(side, rows.sheath(110, 130, length_cm=45.0, suction="yes", steerable_tip="no"))
    rows.used(side, rows.scope(75, single_use="yes"))
    row = rows.row(folder, side)
    named = ("sheath_model", "sheath_outer_fr", "sheath_length_cm", "sheath_suction", "sheath_steerable")
    assert [row[name] for name in named] == ["M1", 13.0, 45.0, "yes", "no"]
    assert (row["scope_model"], row["scope_single_use"]) == ("M2", "yes")
