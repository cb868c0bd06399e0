"""Laws of the imputations, and what is refused."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.estimators.chained_equations import HOW, Imputations, Kind, chained_equations
from analysis.estimators.missingness import missingness
from analysis.estimators.regression.fitted import NotEstimable

KINDS: dict[str, Kind] = {
    "age": "numeric",
    "nights": "numeric",
    "sex": "binary",
    "culture": "binary",
    "grade": "ordinal",
    "technique": "categorical",
    "free": "binary",
}


def gaps(seed: int, rows: int = 150) -> pd.DataFrame:
    """All kinds of columns, as pandas holds them with gaps."""
    draw = np.random.default_rng(seed)
    frame = pd.DataFrame(
        {
            "age": draw.normal(55, 12, rows),
            "nights": pd.array(draw.integers(0, 6, rows), dtype="Int64"),
            "sex": draw.choice(["female", "male"], rows),
            "culture": pd.array(draw.random(rows) < 0.3, dtype="boolean"),
            "grade": pd.Categorical(
                draw.choice(["none", "mild", "severe"], rows), ["none", "mild", "moderate", "severe"], ordered=True
            ),
            "technique": pd.Categorical(draw.choice(["flexible", "rigid", "mini"], rows)),
            "free": draw.integers(0, 2, rows).astype(float),
        }
    )
    for name in ("nights", "culture", "grade", "technique", "sex"):
        frame.loc[draw.random(rows) < 0.15, name] = None
    return frame


def made(seed: int, **more: int) -> Imputations:
    return chained_equations(gaps(seed), KINDS, seed=seed, **{"imputations": 3, "cycles": 2, **more})  # type: ignore[arg-type]


@given(st.integers(0, 10_000))
@settings(max_examples=15, deadline=None)
def test_what_is_known_stays_and_what_is_drawn_was_met(seed: int) -> None:
    found = made(seed)
    for number in range(3):
        full = found.completed(number)
        assert not full.isna().any(axis=None)
        assert (full.dtypes == found.frame.dtypes).all()
        for name in KINDS:
            known = found.frame[name].notna()
            assert (full.loc[known, name] == found.frame.loc[known, name]).all()
            assert set(full[name]) <= set(found.frame[name].dropna())


def test_same_seed_same_values_on_one_core_two_and_with_more_imputations() -> None:
    one, two, more = made(4), made(4, workers=2), made(4, imputations=5)
    for name in one.values:
        assert (one.values[name] == two.values[name]).all()
        assert (one.values[name] == more.values[name][:3]).all()
    again = chained_equations(gaps(4), KINDS, seed=5, imputations=3, cycles=2)
    assert any((one.values[name] != again.values[name]).any() for name in one.values)


def test_how_each_column_was_imputed_and_where_chains_went() -> None:
    found = made(1, cycles=6, imputations=4)
    assert found.how == {name: HOW[KINDS[name]] for name in ("nights", "sex", "culture", "grade", "technique")}
    assert {trace.column for trace in found.traces} == set(found.how)
    for trace in found.traces:
        assert trace.means.shape == trace.spreads.shape == (4, 6)
        assert trace.rhat is not None and 0.5 < trace.rhat < 3
    assert made(1).traces[0].rhat is None  # two cycles tell nothing


def test_chains_that_have_not_met_are_told() -> None:
    """Two columns that are nearly one and lack in the same rows hold each other where they began."""
    draw = np.random.default_rng(1)
    x = draw.normal(size=400)
    frame = pd.DataFrame({"a": x, "b": x + 0.02 * draw.normal(size=400), "c": draw.normal(size=400)})
    frame.loc[:199, ["a", "b"]] = np.nan
    found = chained_equations(frame, dict.fromkeys(frame.columns, "numeric"), seed=1, imputations=10, cycles=10)
    assert max(trace.rhat or 0 for trace in found.traces) > 1.2
    assert "take more cycles" in found.remarks[0]


def test_as_many_imputations_as_rows_in_a_hundred_lack_something_and_at_least_20() -> None:
    frame = gaps(2)
    many = chained_equations(frame, KINDS, seed=1, cycles=1)
    share = frame.isna().any(axis=1).mean()
    assert many.imputations == int(np.ceil(100 * share - 1e-9)) > 20
    few = frame.assign(**{name: frame[name].fillna(frame[name].mode()[0]) for name in ("nights", "grade", "technique")})
    few["sex"], few["culture"] = few["sex"].ffill().bfill(), few["culture"].ffill().bfill()
    few.loc[0, "age"] = np.nan
    assert chained_equations(few, KINDS, seed=1, cycles=1).imputations == 20


def test_without_a_gap_every_completed_frame_is_the_frame() -> None:
    whole = gaps(3).dropna()
    found = chained_equations(whole, KINDS, seed=1, imputations=2)
    pd.testing.assert_frame_equal(found.completed(1), whole)
    assert (found.traces, found.missing.incomplete_share) == ((), 0.0)


def test_a_level_that_says_all_about_another_column_breaks_nothing() -> None:
    """Everybody of technique mini has culture: a bare logistic fit would run to infinity."""
    frame = gaps(6)
    frame.loc[frame["technique"] == "mini", "culture"] = True
    frame.loc[[5, 6, 7], "culture"] = None
    found = chained_equations(frame, KINDS, seed=1, imputations=10, cycles=4)
    mini = (found.frame["technique"] == "mini") & found.frame["culture"].isna()
    drawn = np.mean([found.completed(number).loc[mini, "culture"].mean() for number in range(10)])
    assert mini.sum() > 0 and drawn > 0.6


def test_patterns_add_up_and_the_commonest_stands_first() -> None:
    frame = pd.DataFrame({"a": [1.0, None, None, 4, 5], "b": [1.0, None, 3, 4, 5], "c": [1.0] * 5})
    found = missingness(frame, ["a", "b", "c"])
    assert [(each.lacking, each.rows) for each in found.patterns] == [((), 3), (("a",), 1), (("a", "b"), 1)]
    assert [(each.n, each.missing) for each in found.columns] == [(3, 2), (4, 1), (5, 0)]
    assert (found.complete, found.incomplete_share) == (3, pytest.approx(0.4))
    assert missingness(frame[:0], ["a"]).incomplete_share == 0


@pytest.mark.parametrize(
    ("change", "kinds", "said"),
    [
        ({"age": np.nan}, {}, "age is known in no row"),
        ({"age": 3.0}, {}, "age is the same in every row"),
        ({"technique": [f"t{at % 14}" for at in range(149)] + [None]}, {}, "technique has 14 levels"),
        ({"age": [1.0, 2, 3] + [None] * 147}, {}, "age is known in 3 rows, too few"),
    ],
)
def test_columns_that_cannot_be_imputed_are_refused(change: dict, kinds: dict, said: str) -> None:
    with pytest.raises(NotEstimable, match=said):
        chained_equations(gaps(1).assign(**change), {**KINDS, **kinds}, seed=1, imputations=2)


@pytest.mark.parametrize(
    ("kinds", "numbers", "said"),
    [
        ({"nobody": "numeric"}, {}, "'nobody' is no column"),
        ({"sex": "numeric"}, {}, "sex holds words"),
        ({"grade": "binary"}, {}, "grade has 3 levels"),
        ({"grade": "wordy"}, {}, "'wordy' is no kind"),
        ({}, {"imputations": 1}, "two imputations or more"),
        ({}, {"cycles": 0}, "a cycle or more"),
        ({}, {"donors": 0}, "a donor or more"),
    ],
)
def test_what_is_asked_wrongly_is_refused(kinds: dict, numbers: dict, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        chained_equations(gaps(1), {**KINDS, **kinds}, seed=1, **numbers)
