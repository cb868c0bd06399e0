"""The figure of the fit: its data, its words, its axes and its bytes."""

from __future__ import annotations

import math
from dataclasses import replace

import matplotlib.text
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from analysis.figures.fit import MOST_SCOPES, FitData, FitWording, draw, reciprocal_ticks
from analysis.outcomes.fit.pair import Pair
from analysis.outcomes.fit.size import of_tenths_fr
from analysis.reports.fit.asking import FitAnswer, answered
from analysis.reports.fit.figure_of import figure_data, figure_of, in_words, notes_of

OWN = {Pair(of_tenths_fr(75), of_tenths_fr(100)): 12, Pair(of_tenths_fr(95), of_tenths_fr(110)): 3}


def asked(scope: str = "7.5,8.5", sheath: str = "10,12", own: dict[Pair, int] | None = None, **typed: str) -> FitAnswer:
    made = answered({"scope": scope, "sheath": sheath, **typed}, None, in_full=False)
    return FitAnswer(request=made.request, report=made.report, own_pairs=own)


def texts(data: FitData) -> list[str]:
    figure = draw(data, FitWording(title="Scope in sheath", notes=["Idealised."], reference="7.5 in 10 Fr"))
    found = figure.findobj(matplotlib.text.Text)
    return [text.get_text() for text in found if isinstance(text, matplotlib.text.Text) and text.get_text()]


def test_the_data_hold_the_asked_pairs_at_their_own_sizes():
    points = figure_data(asked()).asked.set_index("pair")
    assert points.loc["7.5 in 10 Fr", "pressure"] == pytest.approx(1)
    # Pressures for the same flow at one sheath: G(0.75) / G(0.85).
    assert points.loc["8.5 in 10 Fr", "pressure"] == pytest.approx(4.383, abs=5e-3)
    assert points.loc["7.5 in 12 Fr", "ratio"] == pytest.approx(1.6)


def test_a_curve_goes_through_its_scopes_points_and_the_wall_needs_less():
    data = figure_data(asked("7.5", "10"))
    curve = data.curves[data.curves["position"] == "centred"]
    above, below = curve[curve["ratio"] <= 4 / 3], curve[curve["ratio"] > 4 / 3]
    assert above["pressure"].min() >= 1 > below["pressure"].max()
    wall = data.curves[data.curves["position"] == "on the wall"]
    share = wall["pressure"].to_numpy() / curve["pressure"].to_numpy()
    assert ((share > 1 / 2.5) & (share < 1 / 2.3)).all()


def test_the_units_other_scopes_have_a_curve_of_their_own():
    curves = figure_data(asked(own=OWN)).curves
    assert set(curves.loc[~curves["asked"], "scope"]) == {"9.5 Fr"}
    assert set(curves.loc[curves["asked"], "scope"]) == {"7.5 Fr", "8.5 Fr"}


def test_bands_meet_at_the_reciprocals_of_the_published_limits():
    bands = figure_data(asked()).bands
    assert [name for name, _, _ in bands] == ["0.85 and over", "0.75 to under 0.85", "under 0.75"]
    assert [1 / low for _, low, _ in bands] == pytest.approx([1, 0.85, 0.75])
    assert bands[-1][2] == math.inf


def test_the_figure_names_both_axes_its_bands_and_its_pairs():
    said = texts(figure_data(asked(own=OWN)))
    for words in (
        "sheath-to-scope ratio (sheath inner over scope shaft)",
        "its reciprocal, the scope-to-sheath ratio; published bands shaded",
        "pressure for the same flow, 7.5 in 10 Fr = 1",
        "7.5 in 10 Fr, n 12",
        "9.5 in 11 Fr, n 3",
        "8.5 in 12 Fr",
        "0.85 and\nover",
        "Idealised.",
    ):
        assert words in said


def test_the_pressure_axis_is_logarithmic_and_the_upper_axis_the_reciprocal():
    data = figure_data(asked())
    figure = draw(data, FitWording(title="t", notes=[], reference="7.5 in 10 Fr"))
    panel = figure.axes[0]
    assert panel.get_yscale() == "log"
    figure.draw_without_rendering()
    (top,) = panel.child_axes
    for ratio in (1.2, 4 / 3, 1.6):
        above = top.transData.transform((1 / ratio, 0))[0]
        assert above == pytest.approx(panel.transData.transform((ratio, 1))[0])


def test_scopes_differ_by_marker_and_not_by_shade_alone():
    figure = draw(figure_data(asked("6,7,8,9,9.5", "10")), FitWording(title="t", notes=[], reference="7.5 in 10 Fr"))
    legend = figure.axes[0].get_legend()
    assert legend is not None
    assert len({line.get_marker() for line in legend.get_lines()[:MOST_SCOPES]}) == MOST_SCOPES


def test_more_scopes_than_a_figure_holds_are_refused():
    with pytest.raises(ValueError, match="at most 5"):
        draw(figure_data(asked("5,6,7,8,9,9.5", "10")), FitWording(title="t", notes=[], reference="r"))


def test_a_pressure_that_is_withheld_is_not_drawn():
    # At 600 cmH2O the reference itself is not laminar.
    data = figure_data(asked(pressure="600"))
    assert data.asked["pressure"].isna().all()
    assert "8.5 in 10 Fr" not in texts(data)
    assert "no pressure is given" in in_words(data)[0]


@pytest.mark.parametrize("own", [None, OWN, {}])
@pytest.mark.parametrize("kind", ["svg", "png"])
def test_the_same_answer_gives_the_same_bytes(kind: str, own: dict[Pair, int] | None):
    once, again = (figure_of(asked(own=own), kind) for _ in range(2))  # type: ignore[arg-type]
    assert once == again
    assert once.startswith(b"<?xml" if kind == "svg" else b"\x89PNG")


def test_the_file_keeps_its_content_in_words():
    svg = figure_of(asked(own=OWN), "svg").decode()
    assert "8.5 in 10 Fr: ratio 1.176, pressure 4.38 times the reference" in svg
    assert "Own pair 9.5 in 11 Fr, 3 sides" in svg
    assert "<dc:date>" not in svg


def test_names_do_not_cover_one_another():
    many = {Pair(of_tenths_fr(75 + at), of_tenths_fr(100 + at)): 5 + at for at in range(12)}
    data = figure_data(asked(own=many))
    figure = draw(data, FitWording(title="t", notes=[], reference="7.5 in 10 Fr"))
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    names = [one for one in figure.findobj(matplotlib.text.Text) if isinstance(one, matplotlib.text.Annotation)]
    assert len(names) >= 4
    # Of the words alone, without the line that leads to the mark.
    flat = [matplotlib.text.Text.get_window_extent(one, renderer) for one in names]
    overlaps = [(a, b) for at, a in enumerate(flat) for b in flat[at + 1 :] if a.shrunk(0.95, 0.8).overlaps(b)]
    assert not overlaps


def test_a_pair_beyond_the_axis_is_named_and_not_drawn():
    answer = asked("4,9.9", "10,39")
    data = figure_data(answer)
    assert set(data.asked["pair"]) == {"4 in 10 Fr"}
    assert data.span == (1.02, 2.6)
    assert "Beyond the axis, not drawn: 4 in 39 Fr, 9.9 in 10 Fr, 9.9 in 39 Fr." in "".join(notes_of(answer))


def test_the_upper_axis_keeps_the_limits_of_the_bands():
    for high in (1.8, 2.6):
        ticks = reciprocal_ticks(1.02, high)
        assert {0.75, 0.85} <= set(ticks)
        assert all(1.02 <= 1 / tick <= high for tick in ticks)


def test_no_pair_at_all_is_an_empty_frame():
    data = figure_data(asked(own=OWN))
    empty = replace(data, asked=data.asked.iloc[:0], own=data.own.iloc[:0])
    assert "8.5 in 12 Fr" not in texts(empty)
