"""The calibration figure: groups of like risk, curves, the spread of predictions."""

from __future__ import annotations

import math

import pandas as pd
import pytest

from analysis.figures.calibration import MOST_CURVES, CalibrationData, CalibrationWording, draw, far
from analysis.figures.stone_free import as_bytes

from .drawn import words_of

WORDS = CalibrationWording("Do predictions come true?", ["600 sides."], "infection", figures=["slope 0.92"])


def data(curves: int = 1, top: float = 0.6) -> CalibrationData:
    groups = {"predicted": [0.1 * top, top], "observed": [0.12 * top, 0.9 * top], "low": [0.01, math.nan]}
    groups |= {"high": [top / 4, math.nan], "n": [60, 3], "events": [8, 2]}
    lines = pd.DataFrame(
        [{"curve": f"c{at}", "predicted": x, "observed": x} for at in range(curves) for x in (0.0, top)],
        columns=["curve", "predicted", "observed"],
    )
    spread = pd.DataFrame({"low": [0, top / 2], "high": [top / 2, top], "with_it": [9, 4], "without_it": [90, 3]})
    return CalibrationData(pd.DataFrame(groups), lines, spread)


def test_what_was_predicted_stands_against_what_happened() -> None:
    figure = draw(data(), WORDS)
    said = set(words_of(figure))
    assert {"observed share with infection", "predicted probability", "slope 0.92", "c0", "with it", "9", "90"} <= said
    panel = figure.axes[1]
    assert panel.get_xlim() == panel.get_ylim()
    (points,) = [one for one in panel.collections if type(one).__name__ == "PathCollection"]
    assert [tuple(at) for at in points.get_offsets()] == [(0.06, 0.072), (0.6, 0.54)]  # type: ignore[union-attr]
    assert [bar.get_height() for bar in figure.axes[0].patches] == [9, 4, -90, -3]  # type: ignore[attr-defined]


def test_a_rare_outcome_has_the_room_it_needs() -> None:
    assert far(data(top=0.05)) == pytest.approx(0.06)
    assert far(data(top=0.6)) == pytest.approx(0.6)
    assert far(data(top=1.0)) == 1


def test_too_many_curves_or_nothing_are_refused() -> None:
    with pytest.raises(ValueError, match=f"at most {MOST_CURVES}"):
        draw(data(MOST_CURVES + 1), WORDS)
    empty = data(0)
    with pytest.raises(ValueError, match="shows marks or curves"):
        draw(CalibrationData(empty.groups.iloc[:0], empty.curves, empty.spread), WORDS)


def test_a_share_beyond_all_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        draw(data(top=1.2), WORDS)


def test_the_same_data_give_the_same_bytes() -> None:
    made = [as_bytes(draw(data(), WORDS), "png", title="t", description="d") for _ in range(2)]
    assert made[0] == made[1]
