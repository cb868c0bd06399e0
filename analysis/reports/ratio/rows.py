"""The rows of a model: one a treated side, operation or course, with the outcome and what is known of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
import pandas as pd

from analysis.cohort.columns import NOT_RECORDED
from analysis.reports.request.own_defaults import OwnDefault

Kind = Literal["yes_no", "ordered", "skewed", "count", "linear"]
KNOWN, UNKNOWN, NOT_DUE, DIED, OUT = "known", "unknown", "not due", "died", "out"
STATES = (KNOWN, UNKNOWN, NOT_DUE, DIED, OUT)
OF_THE_RATIO = ("sheath_to_scope_ratio", "scope_to_sheath_ratio", "scope_to_sheath_band", "scope_to_sheath_split")
"""Columns that a side without a sheath cannot have: not applicable, never missing."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Rows:
    """Every unit of the cohort.

    unit: treated side, operation or course. kind: of the outcome. frame: one row a unit, the cohort's columns of its
    side of reference, and unit_id, patient_id, outcome (number: 1 or 0, code of a level, or a quantity; NaN unless
    outcome_state is `known`), outcome_state (one of STATES), and of a yes/no outcome lower and upper: 1 or 0 with what
    is unknown taken as no and as yes, NaN outside the denominator. levels: of an ordered outcome, the lowest first.
    label: the outcome in words; measured: what a mean of it is called. who: whom the
    flow begins with, when not the whole cohort. definition: what it was judged by, ready for
    JSON; in_words: the same for people. own_defaults: the unit's settings that took part.
    """

    unit: str
    kind: Kind
    frame: pd.DataFrame
    label: str
    measured: str
    levels: tuple[str, ...] = ()
    definition: Mapping[str, Any] = field(default_factory=dict)
    in_words: tuple[tuple[str, str], ...] = ()
    own_defaults: tuple[OwnDefault, ...] = ()
    cautions: tuple[str, ...] = ()
    small_number: int = 5
    who: str = ""

    @property
    def first_step(self) -> str:
        """Who the flow begins with."""
        return self.who or f"{self.unit}s of the cohort"


def tidied(frame: pd.DataFrame, exposure: str) -> pd.DataFrame:
    """The frame with `not recorded` as a missing value, and `exposure_state` (known, not applicable, missing,
    impossible): of the ratio and its bands as the equipment tells, of any other column known or missing."""
    made = frame.copy()
    for name in made.columns:
        values = made[name]
        if isinstance(values.dtype, pd.CategoricalDtype) and NOT_RECORDED in values.cat.categories:
            made[name] = values.cat.remove_categories([NOT_RECORDED])
    known = made[exposure].notna()
    state = pd.Series(np.where(known, "known", "missing"), index=made.index, dtype=object)
    if exposure in OF_THE_RATIO:
        of_pair = made["ratio_state"].astype(object).fillna("missing")
        state = state.where(known, of_pair.where(of_pair != "known", "missing"))
    made["exposure_state"] = state
    return made


def tightest_known(operations: pd.DataFrame, sides: pd.DataFrame) -> pd.DataFrame:
    """Operations whose ratio is missing when that of any of their sides is: the tightest side is then not known."""
    doubtful = sides.loc[sides["ratio_state"].isin(["missing", "impossible"]), ["operation_id", "ratio_state"]]
    first = doubtful.drop_duplicates("operation_id").set_index("operation_id")["ratio_state"].astype(object)
    mine = operations["operation_id"].map(first)
    made = operations.copy()
    for name in OF_THE_RATIO:
        made[name] = made[name].where(mine.isna())
    made["ratio_state"] = made["ratio_state"].astype(object).where(mine.isna(), mine)
    return made
