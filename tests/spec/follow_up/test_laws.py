"""Laws of the time to an event, on generated days."""

from __future__ import annotations

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.outcomes.follow_up.timed import AT_RISK, NO_FOLLOW_UP, no_events, timed, together

AS_OF = 400
UNTIMED = settings(deadline=None)
Event = tuple[int, int, int]
EVENTS = st.lists(st.tuples(st.integers(-50, 500), st.integers(0, 60), st.integers(1, 4)), max_size=6)


def worked(events: list[Event], origin: int = 0, end: int = 300) -> dict[str, object]:
    base = pd.DataFrame(
        {"key": [0], "origin_low": [float(origin)], "origin_high": [float(origin)], "end": [float(end)],
         "end_basis": ["x"], "state": [AT_RISK]}
    )  # fmt: skip
    rows = pd.DataFrame(
        [{"key": 0, "low": low, "high": low + wide, "cause": cause, "what": f"w{cause}"} for low, wide, cause in events]
    )
    return dict(timed(base, together([rows]) if len(rows) else no_events(), AS_OF).iloc[0])


@UNTIMED
@given(EVENTS, st.integers(-20, 300))
def test_a_time_is_above_nothing_or_there_is_none(events: list[Event], end: int) -> None:
    row = worked(events, end=end)
    if row["state"] == NO_FOLLOW_UP:
        assert np.isnan(row["time"])  # type: ignore[call-overload]
        assert row["cause"] == 0
    else:
        assert 0 < row["time"] <= max(end, 0.5)  # type: ignore[operator]
        assert row["time_earliest"] <= row["time"] <= row["time_latest"]  # type: ignore[operator]


@UNTIMED
@given(EVENTS)
def test_the_order_of_rows_does_not_matter(events: list[Event]) -> None:
    there, back = worked(events), worked(events[::-1])
    assert [there[name] for name in ("time", "cause", "what")] == [back[name] for name in ("time", "cause", "what")]


@UNTIMED
@given(EVENTS, st.integers(-500, 500))
def test_shifting_every_day_leaves_the_time_alone(events: list[Event], shift: int) -> None:
    """Of days before as-of, for what comes later is not read."""
    early = [one for one in events if one[0] + one[1] < AS_OF - 100]
    moved = [(low + shift, wide, cause) for low, wide, cause in early if low + wide + shift <= AS_OF]
    kept = early if len(moved) == len(early) else []
    row = worked(kept)
    again = worked(moved if kept else [], origin=shift, end=300 + shift)
    assert (row["time"], row["cause"]) == (again["time"], again["cause"])


@UNTIMED
@given(EVENTS, st.integers(1, 200))
def test_longer_follow_up_never_loses_an_event(events: list[Event], more: int) -> None:
    short, long = worked(events, end=150), worked(events, end=150 + more)
    if short["cause"]:
        assert (short["time"], short["cause"]) == (long["time"], long["cause"])
    elif short["state"] == AT_RISK:
        assert long["time"] >= short["time"]  # type: ignore[operator]


@UNTIMED
@given(EVENTS)
def test_what_is_not_counted_for_being_late_is_marked(events: list[Event]) -> None:
    row = worked(events)
    if row["event_later"]:
        assert row["cause"] == 0
        assert any((low + min(low + wide, AS_OF)) // 2 > 300 for low, wide, _ in events)
