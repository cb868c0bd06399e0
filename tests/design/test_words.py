"""How words become levels: by what is written, whatever kind of column holds them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from analysis.design.errors import DesignError
from analysis.design.matrix import design_of
from analysis.design.terms import Term

TERM = [Term(column="site", shape="levels")]
ORDERED = ["c", "b", "never met", "a"]


@pytest.mark.parametrize(
    ("values", "levels"),
    [
        (list("abcabc"), ("a", "b", "c")),
        (pd.Categorical(list("abcabc"), categories=ORDERED), ("c", "b", "a")),
        (pd.array(list("abcabc"), dtype="string"), ("a", "b", "c")),
        ([10, 9, 10, 9, 11, 9], ("10", "11", "9")),
        (pd.array([10, 9, 10, 9, 11, 9], dtype="Int64"), ("10", "11", "9")),
        ([1.5, 2.0, 1.5, 2.0, 2.0, 2.0], ("1.5", "2.0")),
        ([True, False, True, False, True, True], ("False", "True")),
        ([1, "1", 2, "2", 1, 2], ("1", "2")),
    ],
)
def test_every_row_stands_at_its_own_level(values: Any, levels: tuple[str, ...]) -> None:
    frame = pd.DataFrame({"site": values}, index=[7, 7, 3, 1, 0, 9])
    made = design_of(frame, TERM)
    assert made.levels["site"] == levels
    indicators = [[float(str(value) == level) for level in levels[1:]] for value in frame["site"]]
    assert made.x[:, 1:].tolist() == indicators
    assert made.encode(frame).tolist() == made.x.tolist()


@pytest.mark.parametrize("missing", [None, np.nan])
@pytest.mark.parametrize("words", [list("abcabc"), ["nan", "b", "a", "b", "a", "nan"]])
@pytest.mark.parametrize("as_category", [True, False])
def test_a_missing_word_is_left_out_and_in_new_rows_refused(words: list[str], missing: Any, as_category: bool) -> None:
    whole = pd.DataFrame({"site": words})
    holes = pd.DataFrame({"site": [*words, missing]})
    if as_category:
        holes["site"] = holes["site"].astype("category")
    made = design_of(holes, TERM)
    assert made.dropped == {"site": 1}
    assert made.x.tolist() == design_of(whole, TERM).x.tolist()
    with pytest.raises((DesignError, ValueError)):
        made.encode(holes)
