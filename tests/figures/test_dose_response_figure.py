"""The dose-response figure: curves within the data, the reciprocal on top, bars of how many."""

from __future__ import annotations

import pandas as pd
import pytest
from matplotlib.figure import Figure

from analysis.figures.dose_response import MOST_OUTCOMES, DoseData, DoseWording, draw
from analysis.figures.stone_free import as_bytes

from .drawn import words_of

COUNTS = pd.DataFrame({"at": [1.1, 1.2, 1.4], "n": [20, 50, 8]})
WORDS = DoseWording("Risk over the ratio", ["Standardised over 78 sides."])


def curve(*outcomes: str, end: float = 1.4) -> pd.DataFrame:
    parts = [
        pd.DataFrame({"outcome": name, "at": [1.1, 1.2, end], "estimate": [0.2, 0.3, 0.4]})
        for name in outcomes
    ]  # fmt: skip
    made = pd.concat(parts)
    return made.assign(low=made["estimate"] - 0.1, high=made["estimate"] + 0.1)


def bars_of(figure: Figure) -> list[float]:
    return [float(bar.get_height()) for bar in figure.axes[0].patches]  # type: ignore[attr-defined]


def test_both_axes_the_outcomes_and_the_counts_are_there() -> None:
    figure = draw(DoseData(curve("free", "infection"), COUNTS, compared=(1.1, 1.4)), WORDS)
    said = set(words_of(figure))
    assert {"free", "infection", "sides", "adjusted risk", "20", "50", "8", " 1.10", " 1.40"} <= said
    assert {WORDS.exposure, "its reciprocal, the scope-to-sheath ratio"} <= said
    assert bars_of(figure) == [20, 50, 8]


def test_the_top_axis_is_the_reciprocal_of_the_one_below() -> None:
    figure = draw(DoseData(curve("free"), COUNTS), WORDS)
    top = figure.axes[2]
    for tick, label in zip(top.get_xticks(), top.get_xticklabels(), strict=True):
        assert 1 / tick == pytest.approx(float(label.get_text()))
    assert top.get_xlim() == figure.axes[1].get_xlim()


def test_a_share_starts_at_nothing_and_does_not_pass_all() -> None:
    high = curve("free").assign(high=1.0)
    assert draw(DoseData(high, COUNTS), WORDS).axes[1].get_ylim() == (0.0, 1.02)


def test_an_exposure_without_a_reciprocal_has_none() -> None:
    figure = draw(DoseData(curve("free"), COUNTS), DoseWording("t", [], exposure="age, years", reciprocal=None))
    assert len(figure.axes) == 2


def test_categories_are_marks_without_a_curve() -> None:
    figure = draw(DoseData(curve("free").iloc[:0], COUNTS, points=curve("free")), WORDS)
    assert not figure.axes[1].lines
    assert "free" in words_of(figure)


def test_nothing_is_drawn_where_no_side_is() -> None:
    with pytest.raises(ValueError, match="may not leave the values"):
        draw(DoseData(curve("free", end=1.5), COUNTS), WORDS)


def test_too_many_outcomes_or_none_are_refused() -> None:
    for names in (("a", "b", "c", "d"), ("a",)):
        data = curve(*names) if len(names) > 1 else curve("a").iloc[:0]
        with pytest.raises(ValueError, match=f"1 to {MOST_OUTCOMES}"):
            draw(DoseData(data, COUNTS), WORDS)


def test_outcomes_differ_by_dashes_and_not_by_shade_alone() -> None:
    figure = draw(DoseData(curve("a", "b", "c"), COUNTS), WORDS)
    thick = [line for line in figure.axes[1].lines if line.get_linewidth() == 2]
    assert len({str(line._dash_pattern) for line in thick}) == 3  # type: ignore[attr-defined]


def test_the_same_data_give_the_same_bytes() -> None:
    data = DoseData(curve("free"), COUNTS)
    made = [as_bytes(draw(data, WORDS), "png", title="t", description="d") for _ in range(2)]
    assert made[0] == made[1]
