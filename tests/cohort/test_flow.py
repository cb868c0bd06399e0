"""Laws of the flow on any cohort and any rules."""

from __future__ import annotations

import operator
from dataclasses import astuple
from typing import Any

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.cohort.applying import apply_rules
from analysis.cohort.flow import Flow
from analysis.cohort.rules import Rules, parse_rules

CODES = ["male", "female", "other"]


@st.composite
def cohorts(draw: st.DrawFn) -> pd.DataFrame:
    """Up to 30 sides: patient, operation, age, sex, largest stone, with gaps."""
    rows = draw(
        st.lists(
            st.tuples(
                st.integers(1, 6),
                st.integers(1, 3),
                st.none() | st.integers(0, 90),
                st.none() | st.sampled_from(CODES),
                st.none() | st.floats(1, 40),
                st.none() | st.sampled_from(["yes", "no", "not_asked"]),
            ),
            max_size=30,
        )
    )
    patients = [row[0] for row in rows]
    return pd.DataFrame(
        {
            "side_id": np.arange(len(rows)),
            "patient_id": patients,
            "operation_id": [10 * row[0] + row[1] for row in rows],
            "operated_on": pd.Series([pd.Timestamp("2024-01-01")] * len(rows), dtype="datetime64[s]"),
            "age_years": pd.array([row[2] for row in rows], dtype="Int64"),
            "sex": pd.Categorical([row[3] for row in rows], categories=CODES),
            "largest_mm": pd.Series([row[4] for row in rows], dtype="float64"),
            "research_use": pd.Categorical([row[5] for row in rows], categories=["yes", "no", "not_asked"]),
            "site": pd.Categorical(["A"] * len(rows), categories=["A"]),
        }
    )


@st.composite
def rules(draw: st.DrawFn) -> Rules:
    """Up to five steps."""
    number = st.integers(0, 90)
    conditions = st.one_of(
        st.tuples(st.just("age_years"), st.sampled_from(["at_least", "at_most", "above", "below", "equals"]), number),
        st.tuples(st.just("largest_mm"), st.sampled_from(["at_least", "below"]), st.integers(1, 40)),
        st.tuples(
            st.just("sex"),
            st.sampled_from(["among", "not_among"]),
            st.lists(st.sampled_from(CODES), min_size=1, max_size=3),
        ),
    )
    step = st.tuples(st.sampled_from(["include", "exclude"]), conditions, st.sampled_from([None, "keep", "exclude"]))
    text = ""
    for verb, (column, word, value), missing in draw(st.lists(step, max_size=5)):
        text += f'[[{verb}]]\ncolumn = "{column}"\n{word} = {value}\nreason = "r"\n'
        text += f'missing = "{missing}"\n' if missing else ""
    return parse_rules(text)


def added(*counts: Any) -> tuple[int, ...]:
    return tuple(np.sum([astuple(count) for count in counts], axis=0).tolist())


def check_sums(flow: Flow) -> None:
    stands = flow.entered
    for row in flow.rows:
        assert row.entered == stands
        assert astuple(row.entered) == added(row.left_out, row.left_out_missing, row.stayed)
        assert min(*astuple(row.left_out), *astuple(row.left_out_missing), *astuple(row.stayed)) >= 0
        stands = row.stayed
    assert stands == flow.stayed


@settings(deadline=None, max_examples=150)
@given(cohorts(), rules(), st.booleans(), st.booleans())
def test_everybody_is_in_or_out_exactly_once(frame: pd.DataFrame, asked: Rules, research: bool, out: bool) -> None:
    sites = frozenset({"A"}) if out else frozenset()
    inside, flow = apply_rules(frame, asked, research=research, not_asked_out=sites)
    check_sums(flow)
    stayed = frame[inside]
    assert astuple(flow.stayed) == (len(stayed), stayed["operation_id"].nunique(), stayed["patient_id"].nunique())
    # Row by row, in plain Python, the same sides stay.
    expected = [bool(stays(row, asked, research, out)) for row in frame.to_dict("records")]
    assert inside.tolist() == expected


MEETS = {
    "at_least": operator.ge,
    "at_most": operator.le,
    "above": operator.gt,
    "below": operator.lt,
    "equals": operator.eq,
    "among": lambda value, limit: value in limit,
    "not_among": lambda value, limit: value not in limit,
}


def stays(row: dict[str, Any], asked: Rules, research: bool, not_asked_out: bool) -> bool:
    use = row["research_use"]
    if research and (use == "no" or (not_asked_out and (pd.isna(use) or use == "not_asked"))):
        return False
    for step in asked.steps:
        value = row[step.column.name]
        ((word, limit),) = step.conditions
        if pd.isna(value):
            if step.missing_out:
                return False
        elif MEETS[word](value, limit) != (step.verb == "include"):
            return False
    return True


@settings(deadline=None, max_examples=30)
@given(cohorts(), rules())
def test_the_order_of_rows_does_not_matter(frame: pd.DataFrame, asked: Rules) -> None:
    _, flow = apply_rules(frame, asked)
    _, turned = apply_rules(frame.iloc[::-1].reset_index(drop=True), asked)
    assert turned == flow
