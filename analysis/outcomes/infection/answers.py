"""Yes, no or not computable, with what is missing: three-valued logic over rows of operations or days.

Pandas' nullable booleans know the logic (Kleene): no and unknown is no, yes or unknown is yes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import pandas as pd

JOINED = ", "


@dataclass(frozen=True, eq=False)
class Answer:
    """One answer a row.

    state: boolean, missing where it cannot be told. missing: text, the inputs that would be needed joined by commas,
    empty where there is an answer.
    """

    state: pd.Series
    missing: pd.Series

    def __and__(self, other: Answer) -> Answer:
        return _combined(self.state & other.state, self, other)

    def __or__(self, other: Answer) -> Answer:
        return _combined(self.state | other.state, self, other)

    def __invert__(self) -> Answer:
        return Answer(~self.state, self.missing)


def answer(state: pd.Series, missing: pd.Series | str) -> Answer:
    """An answer whose missing inputs are said only where it is open."""
    told = pd.Series(missing, index=state.index, dtype="string")
    return Answer(state.astype("boolean"), told.where(state.isna(), ""))


def number(values: pd.Series) -> pd.Series:
    """Numbers with a missing value that comparisons keep missing."""
    return values.astype("Float64")


def named(open_inputs: Mapping[str, pd.Series]) -> pd.Series:
    """The names of what is missing in each row, joined; each series is true where its input is missing."""
    first = next(iter(open_inputs.values()))
    told = pd.Series("", index=first.index, dtype="string")
    for name, missing in open_inputs.items():
        told = joined(told, pd.Series(name, index=first.index, dtype="string").where(missing, ""))
    return told


def joined(left: pd.Series, right: pd.Series) -> pd.Series:
    """Two lists of missing inputs as one, each named once."""
    pairs = zip(left, right, strict=True)
    return pd.Series([_union(str(one), str(two)) for one, two in pairs], index=left.index, dtype="string")


def points(criteria: Iterable[pd.Series]) -> tuple[pd.Series, pd.Series]:
    """How many criteria are met: the least (missing counts as not met) and the most (missing counts as met)."""
    met = list(criteria)
    low = sum((one.fillna(False).astype("int64") for one in met[1:]), met[0].fillna(False).astype("int64"))
    high = sum((one.fillna(True).astype("int64") for one in met[1:]), met[0].fillna(True).astype("int64"))
    return low, high


def reached(low: pd.Series, high: pd.Series, at_least: float) -> pd.Series:
    """Whether a score that lies between low and high reaches a number: missing where it may go either way."""
    state = pd.Series(pd.NA, index=low.index, dtype="boolean")
    return state.mask(low >= at_least, True).mask(high < at_least, False)


def _combined(state: pd.Series, one: Answer, two: Answer) -> Answer:
    left = one.missing.where(one.state.isna(), "")
    right = two.missing.where(two.state.isna(), "")
    return answer(state, joined(left, right))


def _union(one: str, two: str) -> str:
    if not one or not two:
        return one or two
    return JOINED.join(dict.fromkeys([*one.split(JOINED), *two.split(JOINED)]))
