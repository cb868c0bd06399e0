"""Laws of infection and kidney function on generated values."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from analysis.estimators.mean_change import mean_change
from analysis.outcomes.infection.judged import fever
from analysis.outcomes.infection.rules import InfectionRules
from analysis.outcomes.infection.sirs import qsofa, sirs
from analysis.outcomes.infection.sofa import SYSTEMS, sofa
from analysis.outcomes.kidney.filtration import ckd_epi_2021
from analysis.outcomes.kidney.injury import kdigo_stage
from tests.spec.infection.story import Story, spoken

VALUES = {
    "temp": st.floats(34, 42),
    "heart": st.integers(40, 180),
    "breath": st.integers(8, 45),
    "systolic": st.integers(100, 200),
    "mean": st.integers(40, 100),
    "white": st.floats(0.5, 40),
    "bands": st.floats(0, 40),
    "lactate": st.floats(0.3, 12),
    "platelets": st.floats(5, 600),
    "bilirubin": st.floats(2, 400),
    "creatinine": st.floats(30, 900),
    "pf": st.floats(50, 600),
    "paco2": st.floats(20, 60),
    "coma": st.integers(3, 15),
    "urine": st.integers(0, 3000),
    "ventilated": st.booleans(),
    "vasopressor": st.booleans(),
}
ALL = st.fixed_dictionaries(VALUES)
SOME = st.fixed_dictionaries({}, optional=VALUES).filter(len)
FULL_SOFA = ("pf", "ventilated", "platelets", "bilirubin", "mean", "vasopressor", "coma", "creatinine", "urine")
OUTCOMES = ("fever-", "sirs-", "qsofa-", "sepsis-1991", "sepsis-3", "septic-shock", "febrile-urinary-infection-either")


def infected() -> Story:
    return Story().told("urinary_infection", 1)


def all_said(values: dict[str, Any]) -> dict[str, str]:
    made = infected().seen(1, **values).judged().outcomes
    return {name: spoken(next(o.answer for o in made if o.definition.id.startswith(name))) for name in OUTCOMES}


@settings(max_examples=15, deadline=None)
@given(SOME, st.data())
def test_learning_a_missing_value_never_takes_back_a_yes(values: dict[str, Any], data: st.DataObject):
    missing = sorted(set(VALUES) - set(values))
    assume(missing)
    learnt = data.draw(st.sampled_from(missing))
    before, after = all_said(values), all_said({**values, learnt: data.draw(VALUES[learnt])})
    assert {name for name, said in before.items() if said == "yes"} <= {n for n, s in after.items() if s == "yes"}


@settings(max_examples=40, deadline=None)
@given(SOME, st.data())
def test_learning_a_missing_component_never_changes_an_answer_of_qsofa(values: dict[str, Any], data: st.DataObject):
    named = [name for name in ("breath", "coma", "systolic") if name not in values]
    assume(named)
    learnt = data.draw(st.sampled_from(named))
    before = qsofa(infected().seen(1, **values).days())["state"]
    after = qsofa(infected().seen(1, **{**values, learnt: data.draw(VALUES[learnt])}).days())["state"]
    assert before.isna().iloc[0] or before.iloc[0] == after.iloc[0]


@settings(max_examples=15, deadline=None)
@given(ALL, st.floats(36, 42), st.floats(0, 3))
def test_a_higher_temperature_never_lowers_a_state(values: dict[str, Any], temp: float, rise: float):
    order = {"no": 0, "yes": 2}
    low, high = all_said({**values, "temp": temp}), all_said({**values, "temp": temp + rise})
    assert all(order.get(low[name], 1) <= order.get(high[name], 1) for name in OUTCOMES)


@settings(max_examples=40, deadline=None)
@given(st.floats(36, 42), st.floats(37, 40), st.floats(0, 2))
def test_a_higher_threshold_never_makes_a_fever(temp: float, threshold: float, more: float):
    days = Story().seen(1, temp=temp).days()

    def hot(**rules: Any) -> bool:
        return bool(fever(days, InfectionRules(**rules))["state"].iloc[0])

    assert hot(fever_c=threshold) >= hot(fever_c=threshold + more)
    assert hot(fever_c=threshold) >= hot(fever_c=threshold, fever_strict=True)


@settings(max_examples=40, deadline=None)
@given(SOME)
def test_scores_stay_within_their_points_and_the_least_is_never_above_the_most(values: dict[str, Any]):
    days = infected().seen(1, **values).days()
    for table, most in ((qsofa(days), 3), (sirs(days), 4), (sofa(days), 24)):
        assert 0 <= table["low"].iloc[0] <= table["high"].iloc[0] <= most


@settings(max_examples=40, deadline=None)
@given(ALL, st.data())
def test_a_known_sofa_lies_between_what_it_could_be_with_less_known(values: dict[str, Any], data: st.DataObject):
    values = {**values, "vasopressor": False}
    whole = sofa(Story().seen(1, **values).days()).iloc[0]
    kept = data.draw(st.sets(st.sampled_from(FULL_SOFA)))
    part = sofa(Story().seen(1, **{name: values[name] for name in kept}).days()).iloc[0]
    # Urine that was not measured leaves the kidney to creatinine alone, by definition.
    systems = [name for name in SYSTEMS if name != "kidney" or "urine" in kept or "creatinine" not in kept]
    for name in systems:
        assert part[f"{name}_low"] <= whole[f"{name}_low"] == whole[f"{name}_high"] <= part[f"{name}_high"]


@settings(max_examples=40, deadline=None)
@given(ALL, st.sampled_from([("platelets", -1), ("coma", -1), ("bilirubin", 1), ("creatinine", 1)]), st.floats(0, 1))
def test_a_worse_value_never_lowers_sofa(values: dict[str, Any], towards: tuple[str, int], share: float):
    name, sign = towards
    worse = values[name] * (1 + sign * 0.5 * share)
    worse = max(3, int(worse)) if name == "coma" else worse
    one, two = (sofa(Story().seen(1, **told).days()).iloc[0] for told in (values, {**values, name: worse}))
    assert one["low"] <= two["low"] and one["high"] <= two["high"]


@settings(max_examples=40, deadline=None)
@given(
    st.floats(20, 1500),
    st.floats(1.001, 3),
    st.integers(18, 100),
    st.integers(1, 20),
    st.sampled_from(["female", "male"]),
)
def test_filtration_falls_with_creatinine_and_with_age(scr: float, factor: float, age: int, older: int, sex: str):
    made = ckd_epi_2021(
        pd.Series([scr, scr * factor, scr], dtype="float64"),
        pd.Series([age, age, age + older], dtype="Int64"),
        pd.Series([sex] * 3, dtype="string"),
        pd.Series([False] * 3, dtype="boolean"),
    )["egfr"].to_numpy(np.float64)
    assert made[1] < made[0] and made[2] < made[0] and (made > 0).all()


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 7), st.floats(40, 900)), min_size=1, max_size=4), st.floats(40, 400), st.data()
)
def test_a_higher_peak_never_lowers_the_stage_of_kidney_injury(
    values: list[tuple[int, float]], before: float, data: st.DataObject
):
    rows = {day: value for day, value in values}  # noqa: C416
    day = max(rows, key=lambda each: (rows[each], each))
    higher = {**rows, day: rows[day] + data.draw(st.floats(0, 500))}
    stages = [_stage(each, before) for each in (rows, higher)]
    assert 0 <= stages[0] <= stages[1] <= 3


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(-50, 50), min_size=2, max_size=12), st.floats(-10, 10))
def test_the_mean_change_moves_with_its_values_and_one_value_a_patient_gives_the_plain_interval(
    values: list[float], shift: float
):
    x = np.array(values)
    one = mean_change(values=x, cluster=np.arange(len(x)))
    two = mean_change(values=x + shift, cluster=np.arange(len(x)))
    assert one.low is not None and one.high is not None and one.estimate is not None and two.estimate is not None
    assert np.isclose(two.estimate, one.estimate + shift, atol=1e-9)
    assert one.low <= one.estimate <= one.high
    assert np.isclose(one.low, one.low_clustered) and np.isclose(one.high, one.high_clustered)


def _stage(rows: dict[int, float], before: float) -> int:
    ids = pd.Index([1], name="operation_id")
    frame = pd.DataFrame({"operation_id": 1, "days_after": list(rows), "creatinine_umol_l": list(rows.values())})
    made = kdigo_stage(ids, pd.Series([before], index=ids), frame, pd.Series([False], index=ids))
    return int(made["stage"].iloc[0])
