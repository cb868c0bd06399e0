"""Rules of the ratio's model, each told as a sentence."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.cohort.columns import FAIR, cohort_columns
from analysis.design.terms import Term
from analysis.reports.ratio.exposure_values import contrast_of, distinct, places_of_risk
from analysis.reports.ratio.model_file import Adjuster, Model, published_bands
from analysis.reports.ratio.overlap import alone_by, apart, never_overlaps, overlap, parts_of
from analysis.reports.ratio.roles import checked
from analysis.reports.ratio.rows import OF_THE_RATIO, tidied
from registry.schema.errors import GravelbookError

EXPOSURE = Term(column="sheath_to_scope_ratio", per=0.1)
TAKEN = [name for name, column in cohort_columns().items() if column.holds in ("whole", "number", "code")]


def model(*adjusters: Adjuster) -> Model:
    return Model(name="m", outcome="stone_free", options={}, exposure=EXPOSURE, adjusters=adjusters, place="m.toml")


@pytest.mark.parametrize("name", [name for name in TAKEN if name not in OF_THE_RATIO])
def test_an_adjuster_arises_no_later_than_access_or_is_named_a_mediator(name: str) -> None:
    fair = cohort_columns()[name].arises in FAIR
    if fair:
        assert checked(model(Adjuster(Term(column=name)))).adjusters[0].term.column == name
    else:
        with pytest.raises(GravelbookError, match="write mediator = true"):
            checked(model(Adjuster(Term(column=name))))
    assert checked(model(Adjuster(Term(column=name), mediator=True))).adjusters[0].mediator


def test_published_bands_are_those_of_the_reciprocal_against_the_loosest() -> None:
    term = published_bands()
    assert (term.column, term.shape, term.reference) == ("scope_to_sheath_band", "levels", "under 0.75")


@pytest.mark.parametrize(
    ("state", "told"),
    [("known", "known"), ("not applicable", "not applicable"), ("missing", "missing"), ("impossible", "impossible")],
)
def test_a_side_without_a_sheath_lacks_nothing(state: str, told: str) -> None:
    frame = pd.DataFrame({"sheath_to_scope_ratio": [1.3 if state == "known" else np.nan], "ratio_state": [state]})
    assert list(tidied(frame, "sheath_to_scope_ratio")["exposure_state"]) == [told]
    # Of another exposure a gap is a gap, whatever the sheath.
    other = tidied(frame.assign(age_years=[np.nan]), "age_years")
    assert list(other["exposure_state"]) == ["missing"]


observed = st.lists(st.sampled_from([1.05, 1.18, 1.33, 1.41, 1.6]), min_size=2, max_size=60).filter(
    lambda values: len(set(values)) > 1
)


@given(observed, st.floats(0.5, 3), st.floats(0.5, 3))
def test_nothing_is_compared_beyond_what_was_observed(values: list[float], first: float, second: float) -> None:
    frame = pd.DataFrame({"sheath_to_scope_ratio": values})
    low, high = min(values), max(values)
    if low <= first <= high and low <= second <= high and abs(first - second) > 0.02:
        a, b = contrast_of(EXPOSURE, frame, (first, second), "m.toml, contrast")
        assert low <= a <= high
        assert low <= b <= high
    elif min(first, second) < low - 0.02 or max(first, second) > high + 0.02:
        with pytest.raises(GravelbookError, match="lies outside what was observed"):
            contrast_of(EXPOSURE, frame, (first, second), "m.toml, contrast")


@given(observed)
def test_risks_are_told_at_observed_values_alone(values: list[float]) -> None:
    frame = pd.DataFrame({"sheath_to_scope_ratio": values})
    assert set(places_of_risk(EXPOSURE, frame)) <= set(values)
    many = pd.DataFrame({"sheath_to_scope_ratio": [1 + number / 97 for number in range(50)]})
    assert set(places_of_risk(EXPOSURE, many)) <= set(many["sheath_to_scope_ratio"])


def test_of_own_bands_each_is_told_at_a_value_of_its_own() -> None:
    term = Term(column="sheath_to_scope_ratio", shape="bands", cuts=(1.2, 1.5))
    frame = pd.DataFrame({"sheath_to_scope_ratio": [1.05, 1.1, 1.1, 1.3, 1.6]})
    assert places_of_risk(term, frame) == [1.1, 1.3, 1.6]
    with pytest.raises(GravelbookError, match="stand in one category"):
        contrast_of(term, frame, (1.05, 1.1), "m.toml, contrast")
    with pytest.raises(GravelbookError, match="compared at values that were observed"):
        contrast_of(term, frame, (1.6, 1.4), "m.toml, contrast")
    assert contrast_of(term, frame, (1.6, 1.3), "m.toml, contrast") == (1.6, 1.3)


pairs = st.lists(st.tuples(st.sampled_from("ABC"), st.sampled_from([1.05, 1.18, 1.33])), min_size=1, max_size=40)


@given(pairs)
def test_operators_are_told_apart_from_the_ratio_only_where_one_used_two(rows: list[tuple[str, float]]) -> None:
    frame = pd.DataFrame(rows, columns=["operator", "ratio"])
    used = {who: {value for name, value in rows if name == who} for who, _ in rows}
    assert alone_by(frame, "operator", "ratio") == (len(used) > 1 and all(len(values) == 1 for values in used.values()))


@given(pairs)
def test_values_are_apart_when_they_share_no_code(rows: list[tuple[str, float]]) -> None:
    frame = pd.DataFrame(rows, columns=["operator", "ratio"])
    values = distinct(frame["ratio"])
    parts = parts_of(frame, "ratio", values)
    held = {value: {who for who, ratio in rows if ratio == value} for value in values}
    expected = {(a, b) for at, a in enumerate(values) for b in values[at + 1 :] if not held[a] & held[b]}
    assert set(apart(frame, "operator", parts)) == expected
    assert never_overlaps(frame, "operator", parts) == (
        len(values) > 1 and len(expected) == len(values) * (len(values) - 1) // 2
    )


@given(pairs)
def test_shares_of_all_codes_at_a_value_add_up_to_one(rows: list[tuple[str, float]]) -> None:
    frame = pd.DataFrame(rows, columns=["operator", "ratio"])
    parts = parts_of(frame, "ratio", distinct(frame["ratio"]))
    told = overlap(frame, "operator", parts)
    for value in parts:
        assert sum(one.by_value[value] or 0.0 for one in told) == pytest.approx(1.0)
