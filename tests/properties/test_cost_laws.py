"""Laws of costs and of cost per stone-free case."""

from __future__ import annotations

import math
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analysis.estimators.cost_effectiveness import cost_effectiveness
from analysis.estimators.ratio_of_sums import fieller_limits, ratio_of_sums
from tests.cohort.rows import Rows, day
from tests.spec.cost.accounts import accounts, costed, opened, stay

COURSES = st.lists(
    st.tuples(st.floats(10, 20_000).map(lambda each: round(each, 2)), st.booleans(), st.integers(0, 6)),
    min_size=1,
    max_size=40,
)
UNTIMED = settings(deadline=None)  # scipy is loaded by whoever comes first
FEW = settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def ratio(courses: list[tuple[float, bool, int]], **more: Any) -> Any:
    cost, free, patient = (np.array(each) for each in zip(*courses, strict=True))
    return ratio_of_sums(cost, free.astype(float), patient, replicates=50, **more)


@UNTIMED
@given(COURSES)
def test_doubling_every_price_doubles_the_ratio_and_its_limits(courses: list[tuple[float, bool, int]]) -> None:
    once, twice = ratio(courses), ratio([(2 * cost, free, patient) for cost, free, patient in courses])
    for name in ("bootstrap", "fieller"):
        for limit in ("low", "high"):
            before, after = getattr(getattr(once, name), limit), getattr(getattr(twice, name), limit)
            assert (after is None) == (before is None)
            assert before is None or after == pytest.approx(2 * before, rel=1e-6, abs=1e-4)
    assert (twice.estimate is None) == (once.estimate is None)
    assert once.estimate is None or twice.estimate == pytest.approx(2 * once.estimate)


@UNTIMED
@given(COURSES)
def test_a_stone_free_course_that_cost_nothing_never_raises_the_ratio(courses: list[tuple[float, bool, int]]) -> None:
    before, after = ratio(courses).estimate, ratio([*courses, (0.0, True, 99)]).estimate
    assert after is not None
    assert before is None or after < before


@UNTIMED
@given(COURSES)
def test_a_failure_never_lowers_it(courses: list[tuple[float, bool, int]]) -> None:
    before, after = ratio(courses).estimate, ratio([*courses, (500.0, False, 99)]).estimate
    assert (before is None) == (after is None)
    assert before is None or after > before


@UNTIMED
@given(COURSES, st.randoms())
def test_the_order_of_courses_and_the_names_of_patients_change_nothing(
    courses: list[tuple[float, bool, int]], chance: Any
) -> None:
    mixed = [(cost, free, 1000 - 7 * patient) for cost, free, patient in courses]
    chance.shuffle(mixed)
    one, other = ratio(courses), ratio(mixed)
    assert (one.bootstrap.low, one.bootstrap.high) == pytest.approx((other.bootstrap.low, other.bootstrap.high))
    assert (one.estimate, one.clusters) == (pytest.approx(other.estimate), other.clusters)


@UNTIMED
@given(COURSES, st.lists(st.sampled_from(("free", "failed", "unknown")), min_size=40, max_size=40))
def test_the_bounds_of_the_rate_turn_round_in_the_cost(
    courses: list[tuple[float, bool, int]], statuses: list[str]
) -> None:
    # Of the same courses, the lower bound of the rate gives the higher cost per case; nobody free is no upper end.
    known = statuses[: len(courses)]
    as_failed = ratio([(cost, status == "free", p) for (cost, _, p), status in zip(courses, known, strict=True)])
    as_free = ratio([(cost, status != "failed", p) for (cost, _, p), status in zip(courses, known, strict=True)])
    highest = math.inf if as_failed.estimate is None else as_failed.estimate
    lowest = math.inf if as_free.estimate is None else as_free.estimate
    assert lowest <= highest
    assert as_free.over == as_failed.over


@UNTIMED
@given(st.lists(st.tuples(st.floats(0, 1000), st.floats(1, 50)), min_size=3, max_size=30))
def test_fiellers_limits_hold_the_estimate(pairs: list[tuple[float, float]]) -> None:
    over, under = (np.array(each) for each in zip(*pairs, strict=True))
    made = fieller_limits(over, under)
    if made.low is not None and made.high is not None:
        estimate = over.mean() / under.mean()
        assert made.low <= estimate + 1e-6 * (1 + abs(estimate))
        assert made.high >= estimate - 1e-6 * (1 + abs(estimate))


GROUPS = st.lists(
    st.tuples(st.floats(10, 9000).map(round), st.booleans(), st.booleans(), st.integers(0, 8)), min_size=4, max_size=40
)


@UNTIMED
@given(GROUPS)
def test_changing_places_turns_every_difference_round(rows: list[tuple[float, bool, bool, int]]) -> None:
    cost, effect, index, patient = (np.array(each) for each in zip(*rows, strict=True))
    asked = {"cost": cost, "effect": effect, "cluster": patient, "willing": [100.0], "replicates": 40}
    one, other = cost_effectiveness(index=index, **asked), cost_effectiveness(index=~index, **asked)
    if one.cost.estimate is None or one.effect.estimate is None:
        assert other.cost.estimate is None
        return
    assert other.cost.estimate == pytest.approx(-one.cost.estimate)
    assert other.effect.estimate == pytest.approx(-one.effect.estimate)
    assert other.ratio == pytest.approx(one.ratio)
    if one.standing in ("dominates", "is dominated"):
        assert one.effect.clear
    assert other.net_benefits[0].estimate == pytest.approx(-one.net_benefits[0].estimate)  # type: ignore[operator]
    if one.quadrants is not None:
        assert sum(one.quadrants.values()) == pytest.approx(1)


@UNTIMED
@given(GROUPS, st.floats(0, 50_000))
def test_net_benefit_is_linear_in_what_a_case_is_worth(
    rows: list[tuple[float, bool, bool, int]], willing: float
) -> None:
    cost, effect, index, patient = (np.array(each) for each in zip(*rows, strict=True))
    made = cost_effectiveness(
        cost=cost, effect=effect, index=index, cluster=patient, willing=[0, willing], replicates=5
    )
    if made.cost.estimate is not None and made.effect.estimate is not None:
        none, some = (one.estimate for one in made.net_benefits)
        assert none == -made.cost.estimate
        assert some == pytest.approx(willing * made.effect.estimate - made.cost.estimate)


def unit(sides: list[tuple[int, ...]], prices: float, minutes: int, nights: int) -> Rows:
    """Patients, each with one operation of one or both sides, and a visit and a scan later on the days given."""
    rows = accounts(theatre_minute=10 * prices, bed_day=400 * prices, clinic_visit=90 * prices, ct=140 * prices)
    for later in sides:
        patient = rows.patient()
        admission = stay(rows, patient, 0, nights)
        operation = rows.operation(patient, 0, room_min=minutes, admission_id=admission)
        for name in ("left", "right")[: 1 + later[0] % 2]:
            renal_unit = rows.unit(patient, name)
            course = rows.add("course", renal_unit_id=renal_unit)
            opened(rows, rows.side(renal_unit, operation=operation, course_id=course, stage_number=0))
        for on in later:
            rows.add("contact", patient_id=patient, contacted_on=day(on), method="clinic")
            rows.add("examination", patient_id=patient, examined_on=day(on), modality="ct")
    return rows


def total(rows: Rows, **rules: Any) -> float:
    with tempfile.TemporaryDirectory() as folder:
        return float(costed(rows, Path(folder), **rules).courses["cost"].sum())


PATIENTS = st.lists(st.tuples(st.integers(1, 120), st.integers(1, 120)), min_size=1, max_size=4)


@FEW
@given(PATIENTS, st.integers(1, 300), st.integers(0, 9))
def test_splitting_an_operation_of_both_sides_keeps_the_total(
    sides: list[tuple[int, ...]], minutes: int, nights: int
) -> None:
    # Each side opens a sheath of its own; all else is used once, whether one side pays for it or two share it.
    double = sum(later[0] % 2 for later in sides)
    alone = [(later[0] + later[0] % 2, later[1]) for later in sides]  # the same patients, one side each
    moved = sum((90 + 140) * ((later[0] <= 90) - (later[0] + later[0] % 2 <= 90)) for later in sides)
    assert total(unit(sides, 1, minutes, nights)) == pytest.approx(
        total(unit(alone, 1, minutes, nights)) + 100 * double + moved
    )


@FEW
@given(PATIENTS, st.integers(1, 300), st.integers(0, 9))
def test_doubling_prices_doubles_what_courses_cost(sides: list[tuple[int, ...]], minutes: int, nights: int) -> None:
    parts = ("theatre", "beds", "clinic", "scans")
    once, twice = (total(unit(sides, prices, minutes, nights), components=parts) for prices in (1, 2))
    assert twice == pytest.approx(2 * once)


@FEW
@given(PATIENTS, st.integers(1, 90), st.integers(0, 60))
def test_a_longer_horizon_never_costs_less(sides: list[tuple[int, ...]], horizon: int, more: int) -> None:
    rows = unit(sides, 1, 60, 3)
    assert total(rows, horizon=horizon) <= total(rows, horizon=horizon + more)
