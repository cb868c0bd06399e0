"""Answers about an invented cohort, for what is done about those never scanned."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pandas as pd

from analysis.reports.stone_free.answer import Answer, answered
from analysis.reports.stone_free.request import read_request
from synthetic_cohort.analysis_inputs import analysis_inputs
from synthetic_cohort.frames import cohort
from synthetic_cohort.parameters import Parameters

from .made import SOURCE

KNOWN_AS = {"age": "age_years", "burden_mm": "cumulative_mm", "female": "sex"}
"""The generator's columns by the cohort's names."""


@cache
def frames_of(parameters: Parameters, operations: int = 300, drawn: int = 5) -> dict[str, Any]:
    """The frames of an invented cohort, and as_of a year after them."""
    return analysis_inputs(cohort(parameters, operations, drawn))


def asked(
    parameters: Parameters, operations: int = 300, drawn: int = 5, *, shuffled: int | None = None, **typed: str
) -> Answer:
    """The answer to options as typed; shuffled: with the rows of every frame in another order."""
    inputs = dict(frames_of(parameters, operations, drawn))
    as_of = inputs.pop("as_of")
    if shuffled is not None:
        inputs = {name: frame.sample(frac=1, random_state=shuffled) for name, frame in inputs.items()}
    sides = inputs["sides"].rename(columns=KNOWN_AS)
    request = read_request({"unscanned": "complete,lower,upper,weighted,imputed", "replicates": "40"} | typed)
    source = replace(SOURCE, as_of=pd.Timestamp(as_of).date() + pd.Timedelta(days=400))
    return answered(request, source, sides, inputs)


def rates(answer: Answer) -> pd.DataFrame:
    """Rates, one row a group and threshold, a column a handling."""
    rows = answer.rows.astype({"rate": np.float64})
    return rows.pivot(index=["group", "threshold_mm"], columns="unscanned", values="rate")
