"""The figure of scores: what is drawn, its words, its limits."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd
import pytest
from matplotlib.collections import PathCollection

from analysis.figures.scores import MOST_PANELS, Wording, draw
from analysis.figures.stone_free import as_bytes

WORDS = Wording(title="Stone-free rate by complexity score", notes=["As of a day.", "Audit figures."])


def observed(panels: int = 2, **more: Any) -> pd.DataFrame:
    """Of each panel a value with a rate and one from too few."""
    row = {"area": "n 30, 12 not free", "lowest": 1, "highest": 4}
    known = {"value": 1, "n": 28, "rate": 0.75, "low": 0.56, "high": 0.88, "instead": ""}
    few = {"value": 2, "n": 2, "rate": math.nan, "low": math.nan, "high": math.nan, "instead": "1 of 2, n < 5"}
    made = [{**row, "panel": f"Score {at}", **own, **more} for at in range(panels) for own in (known, few)]
    return pd.DataFrame(made)


def published(*rows: dict[str, Any]) -> pd.DataFrame:
    return pd.DataFrame(list(rows), columns=["panel", "low", "high", "rate", "from_memory"])


def texts(figure: Any) -> list[str]:
    import matplotlib.text

    return [one.get_text() for one in figure.findobj(matplotlib.text.Text) if one.get_text()]


def test_a_panel_a_score_with_counts_and_no_rate_from_too_few() -> None:
    figure = draw(observed(), published(), WORDS)
    said = texts(figure)
    assert {"Score 0\n", "Score 1\n", "n 30, 12 not free", "28", "2", "1 of 2, n < 5", WORDS.title} <= set(said)
    shown = [panel for panel in figure.axes if panel.get_visible()]
    assert len(shown) == 2
    (points,) = [one for one in shown[0].collections if isinstance(one, PathCollection)]
    assert [tuple(at) for at in points.get_offsets()] == [(1.0, 0.75)]


def test_a_published_rate_from_memory_is_dashed() -> None:
    bars = published(
        {"panel": "Score 0", "low": 1, "high": 2, "rate": 0.9, "from_memory": True},
        {"panel": "Score 0", "low": 3, "high": 3, "rate": 0.4, "from_memory": False},
    )
    figure = draw(observed(1), bars, WORDS)
    lines = {tuple(line.get_ydata()): line.get_linestyle() for line in figure.axes[0].lines}
    assert (lines[0.9, 0.9], lines[0.4, 0.4]) == ("--", "-")
    assert "published, from memory" in texts_of_legend(figure)
    assert "published" not in texts_of_legend(draw(observed(1), published(), WORDS))


def texts_of_legend(figure: Any) -> list[str]:
    return [text.get_text() for legend in figure.legends for text in legend.get_texts()]


def test_the_bytes_are_the_same_and_hold_the_words() -> None:
    made = [as_bytes(draw(observed(5), published(), WORDS), "svg", title="t", description="seen") for _ in range(2)]
    assert made[0] == made[1]
    assert b"seen" in made[0]


@pytest.mark.parametrize("panels", [0, MOST_PANELS + 1])
def test_no_panel_or_too_many_are_refused(panels: int) -> None:
    with pytest.raises(ValueError, match="1 to 8"):
        draw(observed(max(panels, 1)).iloc[: None if panels else 0], published(), WORDS)
