"""Follow-up that is not one is refused, in a sentence."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.survival.cox import cox
from analysis.estimators.survival.cumulative_incidence import cumulative_incidence
from analysis.estimators.survival.fine_gray import fine_gray
from analysis.estimators.survival.follow_up import causes, follow_up
from analysis.estimators.survival.kaplan_meier import kaplan_meier


@pytest.mark.parametrize(
    ("time", "event", "said"),
    [
        ([], [], "There is nobody to follow"),
        ([0.0, 1, 2], [True, False, True], "1 of 3 times are 0 or below"),
        ([-1.0, 0, 2], [True, False, True], "2 of 3 times are 0 or below"),
    ],
)
def test_data_that_cannot_be_followed(time: list[float], event: list[bool], said: str) -> None:
    with pytest.raises(NotEstimable, match=said):
        follow_up(time, event)


@pytest.mark.parametrize(
    ("time", "event", "said"),
    [
        ([1.0, np.nan], [True, True], "none missing or infinite"),
        ([1.0, np.inf], [True, True], "none missing or infinite"),
        ([1.0, 2], ["0", "1"], "True or False in every row"),
        ([1.0, 2], [0, 2], "True or False in every row"),
        ([1.0, 2], [0, np.nan], "True or False in every row"),
        ([1.0, 2], [True], "equal length"),
    ],
)
def test_columns_that_are_no_follow_up(time: Any, event: Any, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        follow_up(time, event)


@pytest.mark.parametrize("cause", [[0, -1], [0, 1.5], ["a", "b"], [0, np.nan]])
def test_columns_that_are_no_causes(cause: Any) -> None:
    with pytest.raises(ValueError, match="cause must be 0"):
        causes([1, 2], cause)


def test_late_entry_is_refused_everywhere_and_entry_at_the_origin_is_not() -> None:
    time, event, x = [2.0, 3, 4], [True, False, True], np.array([[0.0], [1], [0]])
    late, none = [0, 1, 0], [0, 0, 0]
    calls = [
        lambda entry: kaplan_meier(time, event, entry=entry),
        lambda entry: cumulative_incidence(time, np.array(event).astype(int), entry=entry),
        lambda entry: cox(time, event, x, ["x"], entry=entry, force=True),
        lambda entry: fine_gray(time, np.array(event).astype(int), x, ["x"], entry=entry, force=True),
    ]
    for call in calls:
        with pytest.raises(NotEstimable, match=r"1 of 3 come under observation after the origin \(left truncation\)"):
            call(late)
    calls[0](none)
    calls[1](none)
