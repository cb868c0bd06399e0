"""The survival figure: steps, the numbers at risk under them, groups that differ without colour."""

from __future__ import annotations

import pandas as pd
import pytest

from analysis.figures.stone_free import as_bytes
from analysis.figures.survival_curve import MOST_GROUPS, SurvivalWording, draw, rises

from .drawn import words_of

WORDS = SurvivalWording("Time to event", ["Kaplan-Meier."], "months", "without event", "arm", shown=["p = 0.03"])


def curves(groups: int = 2, *, rising: bool = False) -> pd.DataFrame:
    rows = [
        {"group": f"G{at}", "time": time, "estimate": 1 - value if rising else value, "low": None, "high": None}
        for at in range(groups)
        for time, value in ((0, 1.0), (3, 0.8), (9, 0.5 + 0.01 * at))
    ]
    return pd.DataFrame(rows).astype({"low": float, "high": float})


def at_risk(groups: int = 2) -> pd.DataFrame:
    rows = [{"group": f"G{g}", "time": time, "n": n} for g in range(groups) for time, n in ((0, 1040), (6, 17 + g))]
    return pd.DataFrame(rows)


def test_the_numbers_at_risk_stand_under_their_times() -> None:
    figure = draw(curves(), at_risk(), WORDS)
    assert {"at risk", "G0", "G1", "1,040", "17", "18", "p = 0.03", "months", "without event"} <= set(words_of(figure))
    numbers = {text.get_text(): text.get_position()[0] for text in figure.axes[0].texts}
    assert (numbers["17"], numbers["18"]) == (6, 6)
    assert list(figure.axes[0].get_xticks()) == [0, 6]


def test_a_curve_is_a_step_that_ends_at_its_last_time() -> None:
    thick = [line for line in draw(curves(), at_risk(), WORDS).axes[0].lines if line.get_linewidth() > 1.5]
    assert [line.get_drawstyle() for line in thick] == ["steps-post"] * 2
    assert list(thick[0].get_xdata()) == [0, 3, 9]  # type: ignore[arg-type]


def test_what_is_known_only_between_two_times_slopes() -> None:
    thick = draw(curves().assign(sloped=True), at_risk(), WORDS).axes[0].lines[-1]
    assert thick.get_drawstyle() == "default"


def test_incidence_rises_from_nothing_on_an_axis_of_its_own() -> None:
    rising = curves(rising=True)
    assert (rises(rising), rises(curves())) == (True, False)
    assert draw(rising, at_risk(), WORDS).axes[0].get_ylim()[1] < 1
    assert draw(curves(), at_risk(), WORDS).axes[0].get_ylim() == (0, 1.02)


def test_groups_differ_by_dashes_and_not_by_shade_alone() -> None:
    figure = draw(curves(MOST_GROUPS), at_risk(MOST_GROUPS), WORDS)
    thick = [line for line in figure.axes[0].lines if line.get_linewidth() > 1.5]
    assert len({str(line._dash_pattern) for line in thick}) == MOST_GROUPS  # type: ignore[attr-defined]


@pytest.mark.parametrize("groups", [0, MOST_GROUPS + 1])
def test_too_many_groups_or_none_are_refused(groups: int) -> None:
    data = curves(groups) if groups else curves().iloc[:0]
    with pytest.raises(ValueError, match=f"1 to {MOST_GROUPS}"):
        draw(data, at_risk(), WORDS)


def test_the_same_curves_give_the_same_bytes() -> None:
    made = [as_bytes(draw(curves(), at_risk(), WORDS), "svg", title="t", description="d") for _ in range(2)]
    assert made[0] == made[1]
