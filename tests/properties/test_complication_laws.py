"""Laws of grades, of the index and of the bounds, on generated events."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from hypothesis import assume, given
from hypothesis import strategies as st

from analysis.outcomes.complications.event import Event, Given
from analysis.outcomes.complications.index import WEIGHTS, comprehensive_index
from analysis.outcomes.complications.proposal import propose
from analysis.outcomes.complications.therapy_levels import CHOICES, GRADES, LocalChoices, number_of
from analysis.outcomes.complications.worst import indices, worst_grades
from analysis.reports.complications.rates import Happened, HowCounted, rate_rows
from analysis.reports.complications.units import Units
from analysis.reports.request.grouping import everyone
from registry.schema.lists_outcome import ComplicationKind, TherapyAnaesthesia, TherapyKind

therapies = st.builds(
    Given,
    st.sampled_from(TherapyKind.codes()),
    st.sampled_from([None, *TherapyAnaesthesia.codes()]),
    st.sampled_from([None, None, None, "planned_stage", "planned_removal"]),
)
choices = st.builds(LocalChoices, st.sampled_from(CHOICES["catheter"]), st.sampled_from(CHOICES["alpha_blocker"]))
events = st.builds(
    Event,
    st.sampled_from(ComplicationKind.codes()),
    st.lists(therapies, max_size=4).map(tuple),
    st.sampled_from([None, 0, 1, 2, 3]),
    st.sampled_from([None, True, False]),
    st.sampled_from([None, True, False]),
    st.sampled_from(["none", "before", "near", "later"]),
)
# Events in which something is missing and nothing contradicts itself.
lacking = st.builds(
    Event,
    st.just("sepsis"),
    st.lists(st.sampled_from(["stent_placed", "intensive_care", "dialysis", "antibiotic"]), min_size=1, max_size=3).map(
        lambda named: tuple(Given(what) for what in named)
    ),
    st.sampled_from([None, 1, 2]),
    st.sampled_from([None, False]),
    st.none(),
    st.sampled_from(["none", "near"]),
)
grades = st.lists(st.sampled_from(GRADES), max_size=6)


def with_therapy(event: Event, *more: Given) -> Event:
    return Event(
        event.what,
        (*event.therapies, *more),
        event.organs_failing,
        event.died_of_it,
        event.present_at_discharge,
        event.death,
    )


@given(events, therapies, choices)
def test_a_further_therapy_never_lowers_the_grade(event: Event, more: Given, local: LocalChoices):
    before, after = propose(event, local), propose(with_therapy(event, more), local)
    assume(before.grade is not None and after.grade is not None)
    assert number_of(str(after.grade)) >= number_of(str(before.grade))


@given(events, therapies, choices)
def test_what_stays_possible_never_moves_down(event: Event, more: Given, local: LocalChoices):
    # Without any therapy recorded everything is open, which one therapy narrows; observation contradicts what it joins.
    assume(event.therapies and more.what != TherapyKind.NONE)
    assert max(propose(with_therapy(event, more), local).possible, default=0) >= max(
        propose(event, local).possible, default=0
    )


@given(events, choices)
def test_a_grade_and_its_reasons_belong_together(event: Event, local: LocalChoices):
    made = propose(event, local)
    assert (made.grade is None) == (made.state != "graded")
    assert (len(made.possible) == 1) == (made.state == "graded")
    assert bool(made.possible) == (made.state != "no complication")
    if made.state == "not computable":
        assert made.missing or made.contradictions
    if made.state == "graded":
        assert not made.missing


@given(lacking, choices)
def test_filling_in_what_is_missing_gives_what_was_possible_and_nothing_else(event: Event, local: LocalChoices):
    made = propose(event, local)
    found_grades = set()
    for organs in (0, 1, 2) if event.organs_failing is None else (event.organs_failing,):
        for anaesthesia in TherapyAnaesthesia.codes():
            for died in (True, False) if event.died_of_it is None else (event.died_of_it,):
                told = tuple(
                    Given(one.what, anaesthesia if one.what == "stent_placed" else "none") for one in event.therapies
                )
                found = propose(Event(event.what, told, organs, died, None, event.death), local)
                found_grades |= set(found.possible) if not found.contradictions else set()
    assert found_grades == set(made.possible)


@given(grades, st.sampled_from(GRADES))
def test_a_further_complication_never_lowers_the_index(listed: list[str], more: str):
    before, after = comprehensive_index(listed), comprehensive_index([*listed, more])
    assert before <= after <= 100
    assert before < after or before == 100


@given(grades)
def test_the_index_does_not_know_the_order_and_is_at_least_that_of_the_worst(listed: list[str]):
    found = comprehensive_index(listed)
    assert found == comprehensive_index(sorted(listed, reverse=True))
    if listed:
        assert found >= max(comprehensive_index([grade]) for grade in listed)
    assert (found == 100) == ("V" in listed or sum(WEIGHTS.get(grade, 0) for grade in listed) >= 40_000)


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 7), st.integers(0, 7)), max_size=12))
def test_a_patients_worst_grade_is_at_least_that_of_each_operation(told: list[tuple[int, int, int]]):
    unit = np.array([one[0] for one in told], dtype=np.int64)
    low = np.array([min(one[1:]) for one in told], dtype=np.int64)
    high = np.array([max(one[1:]) for one in told], dtype=np.int64)
    by_operation, whole = worst_grades(4, unit, low, high), worst_grades(1, np.zeros_like(unit), low, high)
    assert whole[0][0] == by_operation[0].max()
    assert whole[1][0] == by_operation[1].max()
    one, parts = indices(1, np.zeros_like(unit), low, high), indices(4, unit, low, high)
    if not np.isnan(one[0]) and not np.isnan(parts).any():
        assert one[0] >= parts.max()


units = st.lists(
    st.tuples(st.sampled_from(["yes", "no", "open"]), st.booleans(), st.booleans(), st.integers(0, 4)),
    min_size=1,
    max_size=40,
)


@given(units)
def test_bounds_contain_the_rate_among_the_reviewed_and_that_of_every_completion(told: list[tuple[Any, ...]]):
    answer = np.array([one[0] for one in told])
    looked, due = (np.array([one[at] for one in told]) for at in (1, 2))
    patient = np.array([one[3] for one in told], dtype=np.int64)
    happened = Happened(yes=answer == "yes", no=answer == "no", looked=looked, due=due)
    empty = pd.DataFrame()
    made = Units("operation", pd.DataFrame(index=range(len(told))), empty, patient, pd.Timestamp("2024-01-01"))
    how = HowCounted(("reviewed", "lower", "upper"), "wilson", 0.95)
    seen, lower, upper = rate_rows(made, everyone(len(told)), happened, how, {})
    if not due.any():
        assert seen["estimate"] is lower["estimate"] is upper["estimate"] is None
        return
    if seen["estimate"] is not None:
        assert lower["estimate"] <= seen["estimate"] <= upper["estimate"]
    # Whatever the unknown had: none of them, or all.
    fewest = float((happened.yes & due).sum() / due.sum())
    most = float((~(happened.no & looked) & due).sum() / due.sum())
    assert lower["estimate"] <= fewest <= most == upper["estimate"]
    assert seen["n"] + seen["unknown"] == seen["reviewed"]
