"""The forest figure: what is drawn, its numbers in words, its limits."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd
import pytest

from analysis.figures.forest import MOST_ROWS, ForestWording, columns, draw, reach, ticks_between
from analysis.figures.stone_free import as_bytes

from .drawn import words_of

WORDS = ForestWording("Being free", ["Adjusted."], "odds ratio", sides=("less often", "more often"))


def row(label: str, estimate: float, low: float, high: float, **more: Any) -> dict[str, Any]:
    own = {"label": label, "group": "", "estimate": estimate, "low": low, "high": high, "n": 120, "events": 30}
    return own | {"instead": "", "main": False} | more


def rows(*own: dict[str, Any]) -> pd.DataFrame:
    return pd.DataFrame(list(own), columns=list(columns()))


def test_every_row_has_its_label_its_counts_and_its_numbers() -> None:
    said = words_of(draw(rows(row("ratio", 1.31, 1.08, 1.59, main=True, n=1204)), WORDS))
    assert {"Being free", "Adjusted.", "ratio", "1,204", "30", "n", "events", "1.31 (1.08 to 1.59)"} <= set(said)
    assert {"◂ less often", "more often ▸", "odds ratio, logarithmic"} <= set(said)


def test_a_group_is_named_once_above_its_rows() -> None:
    made = rows(row("20 mm", 0.5, 0.3, 0.8, group="burden"), row("10 mm", 0.7, 0.5, 1.1, group="burden"))
    assert words_of(draw(made, WORDS)).count("burden") == 1


def test_what_has_no_estimate_has_its_reason_and_no_mark() -> None:
    nan = math.nan
    figure = draw(rows(row("a", 2, 1, 4), row("b", nan, nan, nan, instead="separated", events=nan)), WORDS)
    assert "separated" in words_of(figure)
    marks = [line for line in figure.axes[0].lines if line.get_marker() in ("o", "D")]
    assert len(marks) == 1


def test_a_limit_beyond_the_axis_ends_in_an_arrowhead() -> None:
    figure = draw(rows(row("a", 2, 0.7, math.inf)), WORDS)
    assert "2.00 (0.70 to no limit)" in words_of(figure)
    assert [line.get_marker() for line in figure.axes[0].lines].count(">") == 1
    assert "<" not in [line.get_marker() for line in figure.axes[0].lines]


@pytest.mark.parametrize("spread", [(0.9, 0.85, 1.1), (2, 0.1, 30), (0.01, 0.005, 40), (1.001, 1.0, 1.002)])
def test_the_axis_holds_estimate_and_reference_and_has_ticks(spread: tuple[float, float, float]) -> None:
    made = rows(row("a", *spread))
    low, high = reach(made, 1.0, linear=False)
    assert low < min(spread[0], 1) <= max(spread[0], 1) < high
    assert len(ticks_between(low, high, linear=False)) >= 2


def test_differences_are_read_from_nothing_on_a_plain_axis() -> None:
    wording = ForestWording("t", [], "risk difference", linear=True)
    figure = draw(rows(row("a", -0.05, -0.1, 0.0)), wording)
    assert "-0.050 (-0.100 to 0.000)" in words_of(figure)
    assert figure.axes[0].get_xscale() == "linear"
    assert wording.reference == 0


@pytest.mark.parametrize("many", [0, MOST_ROWS + 1])
def test_too_many_rows_or_none_are_refused(many: int) -> None:
    with pytest.raises(ValueError, match=f"1 to {MOST_ROWS}"):
        draw(rows(*[row("a", 1, 0.5, 2)] * many), WORDS)


def test_a_ratio_below_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="A ratio lies above 0"):
        draw(rows(row("a", -0.1, -0.2, 0.1)), WORDS)


def test_the_same_rows_give_the_same_bytes() -> None:
    made = [as_bytes(draw(rows(row("a", 2, 1, 4)), WORDS), "svg", title="t", description="d") for _ in range(2)]
    assert made[0] == made[1]
