"""One matrix from a frame: what enters, what falls out, what is refused."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.design.errors import DesignError
from analysis.design.matrix import design_of
from analysis.design.splines import basis, knots_of
from analysis.design.terms import Interaction, Term


def frame(**columns: Any) -> pd.DataFrame:
    made = {
        "age": [30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 35.0, 45.0],
        "sex": pd.Categorical(["m", "f", "m", "f", "m", "f", "f", "m"], categories=["f", "m", "other"]),
        "site": ["B", "A", "C", "A", "B", "C", "A", "B"],
        "free": [0, 1, 1, 0, 1, 0, 1, 1],
    }
    return pd.DataFrame({**made, **columns})


def test_words_are_coded_against_the_first_level_that_occurs_or_the_one_named() -> None:
    made = design_of(frame(), [Term(column="sex", shape="levels"), Term(column="site", shape="levels", reference="B")])
    assert [column.label for column in made.columns] == ["intercept", "sex: m", "site: A", "site: C"]
    assert dict(made.levels) == {"sex": ("f", "m"), "site": ("B", "A", "C")}
    assert made.x[:3].tolist() == [[1, 1, 0, 0], [1, 0, 1, 0], [1, 1, 0, 1]]
    assert made.formula == "outcome ~ 1 + C(sex) + C(site, contr.treatment('B'))"


def test_an_effect_can_be_for_each_so_much() -> None:
    made = design_of(frame(), [Term(column="age", per=10)])
    assert made.x[:, 1].tolist() == (frame()["age"] / 10).tolist()
    assert made.columns[1].label == "age, per 10"


def test_bands_are_closed_below() -> None:
    made = design_of(frame(), [Term(column="age", shape="bands", cuts=(40, 60))])
    assert [column.label for column in made.columns[1:]] == ["age: 40 to under 60", "age: 60 and over"]
    assert made.x[:, 1:].tolist()[:4] == [[0, 0], [1, 0], [1, 0], [0, 1]]


def test_rows_that_lack_something_fall_out_and_are_counted_by_the_first_column_that_lacks_it() -> None:
    holes = frame(age=[np.nan, 40, 50, np.nan, 70, 80, 35, 45])
    holes.loc[[0, 1], "sex"] = np.nan
    holes["free"] = holes["free"].astype("Int64").where([True] * 7 + [False])
    made = design_of(holes, [Term(column="age"), Term(column="sex", shape="levels")], needed=["free"])
    assert made.rows.tolist() == [2, 4, 5, 6]
    assert dict(made.dropped) == {"free": 1, "age": 2, "sex": 1}


def test_a_product_has_columns_of_its_own() -> None:
    terms = [Term(column="age", per=10), Term(column="sex", shape="levels")]
    made = design_of(frame(), terms, interactions=[Interaction("age", "sex")])
    assert made.columns[-1].label == "age, per 10 x sex: m"
    assert made.places("age:sex").tolist() == [3]
    assert made.x[:, 3] == pytest.approx(made.x[:, 1] * made.x[:, 2])


def test_other_rows_are_coded_as_the_first_were() -> None:
    many = pd.DataFrame({"age": np.arange(20.0, 90.0), "site": list("ABCDEFG") * 10})
    made = design_of(many, [Term(column="age", shape="spline"), Term(column="site", shape="levels", reference="C")])
    few = many.iloc[[3, 60]]
    assert made.encode(few) == pytest.approx(made.x[[3, 60]])
    assert made.encode(few.assign(age=[200.0, -5.0]))[:, 1].tolist() == [200.0, -5.0]
    with pytest.raises(DesignError, match="site is 'Z' in some row"):
        made.encode(few.assign(site=["Z", "A"]))


@pytest.mark.parametrize(
    ("terms", "said"),
    [
        ([Term(column="agee")], r"'agee' is no column of the data. The nearest are: age"),
        ([Term(column="sex")], "sex holds words"),
        ([Term(column="site", shape="levels", reference="Q")], "nobody has the reference 'Q'. What occurs is: A, B, C"),
        ([Term(column="age"), Term(column="age", shape="spline")], "'age' stands in the model twice"),
        ([Term(column="constant")], "constant is 1 in all 8 rows"),
        ([Term(column="age"), Term(column="months")], "The columns months say the same"),
        ([Term(column="nothing")], "No row has all that the model needs. Rows that lack it: nothing 8"),
        ([Term(column="age", shape="spline", knots=8)], "has 3 to 7 knots, not 8"),
    ],
)
def test_what_cannot_be_coded_is_refused_in_a_sentence(terms: list[Term], said: str) -> None:
    made = frame(constant=1.0, nothing=np.nan)
    made["months"] = made["age"] * 12 + 3
    with pytest.raises(DesignError, match=said):
        design_of(made, terms)


def test_a_product_of_what_is_no_term_is_refused() -> None:
    with pytest.raises(DesignError, match="needs 'sex' as a term"):
        design_of(frame(), [Term(column="age")], interactions=[Interaction("age", "sex")])


@pytest.mark.parametrize(("distinct", "knots", "fits"), [(3, 3, False), (4, 3, True), (4, 4, False), (5, 4, True)])
def test_a_curve_needs_one_value_more_than_it_has_knots(distinct: int, knots: int, fits: bool) -> None:
    values = np.repeat(np.linspace(1.1, 1.7, distinct), 40)
    if fits:
        assert len(knots_of(values, knots)) == knots
    else:
        with pytest.raises(DesignError, match=f"needs at least {knots + 1} distinct values, and there are {distinct}"):
            knots_of(values, knots)


def test_knots_that_coincide_are_refused_and_the_neighbour_that_does_not_runs() -> None:
    most_at_one = np.repeat([1.1, 1.2, 1.3, 1.4, 1.5], [20, 20, 320, 20, 20])
    with pytest.raises(DesignError, match="two of them in one place"):
        knots_of(most_at_one, 4)
    assert len(knots_of(np.repeat([1.1, 1.2, 1.3, 1.4, 1.5], 80), 4)) == 4


@given(st.lists(st.floats(-50, 50), min_size=20, max_size=60, unique=True), st.sampled_from([3, 4, 5]))
def test_a_spline_is_straight_beyond_its_outer_knots_and_has_no_kink(values: list[float], count: int) -> None:
    try:
        knots = knots_of(values, count)
    except DesignError:
        return
    if min(np.diff(knots)) < 1e-3:
        return
    step = 0.5
    for start in (knots[0] - 10, knots[-1] + 1):
        at = basis(start + step * np.arange(4), knots)
        bend = np.diff(at, n=2, axis=0)
        assert np.abs(bend).max() <= 1e-6 * max(1.0, np.abs(at).max())
