"""Acute kidney injury by creatinine: ratio to the last value before within 7 days, rise within 48 hours.

Steps of KDIGO, Kidney Int Suppl 2012;2:1-138 (from memory).
"""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from tests.spec.infection.story import Story
from tests.spec.kidney.test_filtration import of


def stage(after: float, *, before: float = 80.0, day: int = 5, **more: Any) -> int:
    return int(of(Story(**more).seen(-10, creatinine=before).seen(day, creatinine=after))["stage"])


@pytest.mark.parametrize(
    ("ratio", "expected"), [(1.0, 0), (1.49, 0), (1.5, 1), (1.99, 1), (2.0, 2), (2.99, 2), (3.0, 3), (5.0, 3)]
)
def test_the_stage_follows_the_ratio_and_each_step_is_in(ratio: float, expected: int):
    assert stage(80 * ratio) == expected


def test_a_rise_of_0_3_mg_per_dl_within_48_hours_is_stage_1():
    near = Story().seen(-1, creatinine=88.4)
    assert of(near.seen(1, creatinine=88.4 * 1.3))["stage"] == 1
    assert of(Story().seen(-1, creatinine=88.4).seen(1, creatinine=88.4 * 1.29))["stage"] == 0


def test_the_same_rise_over_more_than_48_hours_is_none():
    assert of(Story().seen(-2, creatinine=88.4).seen(1, creatinine=88.4 * 1.3))["stage"] == 0


def test_a_rise_between_two_values_after_the_operation_counts():
    story = Story().seen(-30, creatinine=100).seen(2, creatinine=90).seen(4, creatinine=120)
    assert of(story)["stage"] == 1


def test_4_mg_per_dl_is_stage_3_only_with_a_rise_that_qualifies():
    assert stage(4.0 * 88.4, before=2.5 * 88.4) == 3  # 1.6 times
    assert stage(4.1 * 88.4, before=3.5 * 88.4) == 0  # 1.17 times, ten days apart


def test_a_high_value_on_day_8_is_too_late():
    assert of(Story().seen(-10, creatinine=80).seen(8, creatinine=300))["stage"] is pd.NA


def test_renal_replacement_is_stage_3_whatever_creatinine_says():
    story = Story().seen(-10, creatinine=80)
    frames = story.frames()
    day = pd.Timestamp("2024-01-03")
    frames["dialyses"] = pd.DataFrame(
        {"operation_id": [1], "given_on": [day], "days_low": [2], "days_high": [2]}
    ).astype({"days_low": "Int64", "days_high": "Int64"})
    story.frames = lambda: frames  # type: ignore[method-assign]
    assert (of(story)["stage"], of(story)["any_stage"]) == (3, True)


def test_without_a_baseline_the_stage_is_not_computable_but_a_rise_is_injury():
    story = Story().seen(1, creatinine=80).seen(2, creatinine=120)
    assert (of(story)["stage"] is pd.NA, of(story)["any_stage"]) == (True, True)
    assert of(story)["stage_reason"] == "creatinine before"


def test_without_a_value_after_nothing_is_known():
    made = of(Story().seen(-10, creatinine=80))
    assert (made["any_stage"] is pd.NA, made["stage_reason"]) == (True, "creatinine in the 7 days after")
