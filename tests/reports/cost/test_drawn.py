"""The figures of cost, as they are drawn."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from analysis.figures.cost import Panel, draw_groups, draw_plane

SHARES = {"more_more": 0.25, "more_less": 0.0, "less_more": 0.75, "less_less": 0.0}


def panel(**changed: Any) -> Panel:
    cloud = np.array([[0.05, -300.0], [0.1, 200.0], [0.08, -100.0]])
    return Panel(**{"name": "<= 2 mm", "cloud": cloud, "rate": 0.08, "cost": -90.0, "shares": SHARES, **changed})


def words(place: Any) -> str:
    return " | ".join(text.get_text() for text in place.texts)


def test_every_quadrant_says_its_share_and_has_room() -> None:
    figure = draw_plane([panel()], title="t", notes=["n"], money="EUR", willing=[2000.0])
    (place,) = figure.axes
    for said in ("dearer,\nmore free\n25.0 %", "cheaper,\nmore free\n75.0 %", "dearer,\nfewer free\n0 %", "2,000"):
        assert said in words(place)
    left, right = place.get_xlim()
    bottom, top = place.get_ylim()
    assert left < -1 and right > 10 and bottom < -300 and top > 200
    assert place.get_ylabel() == "difference in mean cost, EUR"


def test_a_panel_without_anything_to_show_says_so() -> None:
    figure = draw_plane([panel(instead="n < 5"), panel()], title="t", notes=[], money="")
    assert words(figure.axes[0]) == "n < 5"
    assert len(figure.axes[0].collections) == 0


@pytest.mark.parametrize("many", [0, 4])
def test_too_many_panels_or_none_are_refused(many: int) -> None:
    with pytest.raises(ValueError, match="1 to 3"):
        draw_plane([panel()] * many, title="t", notes=[], money="")


def row(group: str, **changed: Any) -> dict[str, Any]:
    numbers = {"cost": 1500.0, "low": 1400.0, "high": 1700.0, "bottom": 1300.0, "top": 2600.0}
    return {"group": group, "threshold": "<= 2 mm", "stone_free": 12, "n": 20, "instead": "", **numbers, **changed}


def test_groups_show_their_counts_and_a_bound_without_end_stays_in_the_panel() -> None:
    rows = [row("flexible"), row("a group with a very long name indeed", top=np.inf)]
    figure = draw_groups(pd.DataFrame(rows), title="t", notes=[], money="EUR")
    (place,) = figure.axes
    assert words(place).count("12 of 20") == 2
    names = [label.get_text() for label in place.get_yticklabels()]
    assert names[0] == "flexible" and len(names[1]) == 24
    ends = np.concatenate([segment[:, 0] for segment in place.collections[0].get_segments()])
    assert np.isfinite(ends).all() and ends.max() <= place.get_xlim()[1]


def test_no_group_is_refused() -> None:
    with pytest.raises(ValueError, match="1 to 24"):
        draw_groups(pd.DataFrame([row("a")]).iloc[:0], title="t", notes=[], money="")
