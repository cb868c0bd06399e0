"""The stone-free figure: the data behind it, its words, its bytes."""

from __future__ import annotations

import math
from pathlib import Path

import pandas as pd
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import PathCollection
from matplotlib.figure import Figure

from analysis.figures.stone_free import MOST_GROUPS, TOGETHER, Wording, draw
from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.figure_kind import kind_of
from analysis.reports.stone_free.answer import Answer
from analysis.reports.stone_free.figure_data import figure_data, in_words
from analysis.reports.stone_free.figure_of import _notes, figure_of
from analysis.reports.stone_free.rates import UNSCANNED as MODES
from analysis.reports.stone_free.rates import stone_free_rates
from registry.schema.errors import GravelbookError

from ..reports.made import FAILED, FREE, UNSCANNED, answer, sides_of, statuses, unit


def asked(groups: int = 2, **typed: str) -> Answer:
    """Each group has 4 free, 2 that are free at 2 mm alone, 1 failed and 3 unscanned; the last has 3 fewer free."""
    one = [unit(FREE, FREE)] * 4 + [unit(FAILED, FREE)] * 2 + [unit(FAILED, FAILED)] + [unit(UNSCANNED, UNSCANNED)] * 3
    units, arm = [], []
    for number in range(groups):
        own = one[3:] if number == groups - 1 else one
        units += own
        arm += [f"S{number + 1}"] * len(own)
    frame = statuses(units)
    return answer(frame, sides_of(frame, arm=arm), by="arm", **typed)


def data_of(made: Answer) -> pd.DataFrame:
    rows = stone_free_rates(made.units, made.grouping, unscanned=tuple(MODES))
    return figure_data(rows, made.grouping.named(), ["0", "2"], made.request.small_number)


def test_the_data_are_the_complete_case_with_both_bounds():
    first = data_of(asked()).iloc[0]
    assert (first["group"], first["threshold"], first["x"]) == ("S1", "0", 0)
    assert (first["free"], first["n"], first["eligible"]) == (4, 7, 10)
    assert (first["rate"], first["bottom"], first["top"]) == (4 / 7, 4 / 10, 7 / 10)
    assert first["low"] < first["rate"] < first["high"]


def test_a_rate_from_too_few_is_not_in_the_data_and_its_counts_are_written():
    last = data_of(asked()).iloc[-1]
    assert last["instead"] == "3 of 4, n < 5"
    assert all(math.isnan(last[name]) for name in ("rate", "low", "high", "bottom", "top"))
    assert data_of(asked(small_number="4")).iloc[-1]["instead"] == ""


def texts(made: Answer) -> list[str]:
    import matplotlib.text

    figure = draw(data_of(made), Wording(title="Stone-free treated sides, by arm", notes=["As of a day."], group="arm"))
    found = figure.findobj(matplotlib.text.Text)
    return [text.get_text() for text in found if isinstance(text, matplotlib.text.Text) and text.get_text()]


def test_the_figure_says_what_it_shows():
    said = texts(asked())
    for words in ("Stone-free treated sides, by arm", "As of a day.", "arm", "S1\nn 7 of 10", "S2\nn 4 of 7"):
        assert words in said
    assert "largest fragment that still counts as stone-free, mm" in said
    assert "3 of 4, n < 5" in said


def test_a_group_may_be_named_with_any_sign():
    frame = statuses([unit(FREE, FREE)] * 5)
    odd = answer(frame, sides_of(frame, arm=["a $x_{ & <b>"] * 5), by="arm")
    assert "a $x_{ & <b>\nn 5 of 5" in texts(odd)
    assert figure_of(odd, "svg")


def test_many_groups_have_a_panel_each_with_their_numbers():
    said = texts(asked(TOGETHER + 2))
    assert said.count("S1\nn 7 of 10") == 1
    assert "interval" not in said


def test_groups_differ_by_marker_and_not_by_shade_alone():
    figure = draw(data_of(asked(TOGETHER)), Wording(title="t", notes=[], group="arm"))
    legend = figure.axes[0].get_legend()
    assert legend is not None
    markers = [line.get_marker() for line in legend.get_lines()][:TOGETHER]
    assert len(set(markers)) == TOGETHER


@pytest.mark.parametrize("kind", ["svg", "png"])
@pytest.mark.parametrize("groups", [2, TOGETHER + 2])
def test_the_same_answer_gives_the_same_bytes(kind: str, groups: int):
    once, again = (figure_of(asked(groups), kind) for _ in range(2))  # type: ignore[arg-type]
    assert once == again
    assert once.startswith(b"<?xml" if kind == "svg" else b"\x89PNG")


def test_the_file_keeps_its_content_in_words_and_no_date():
    svg = figure_of(asked(), "svg").decode()
    assert "S1, 0 mm: 4 of 7 known, 57.1 %" in svg
    assert "S2, ≤ 2 mm: 3 of 4 known, no rate shown." in svg
    assert "<dc:date>" not in svg


def test_the_words_hold_the_rounded_numbers():
    first = in_words(data_of(asked()))[0]
    assert first == "S1, 0 mm: 4 of 7 known, 57.1 % (25.0 % to 84.2 %); with the unknown 40.0 % to 70.0 %."


def test_more_groups_than_a_figure_holds_are_refused():
    with pytest.raises(GravelbookError, match=f"a figure shows 1 to {MOST_GROUPS}"):
        figure_of(asked(MOST_GROUPS + 1), "svg")


def test_the_ending_says_what_kind_of_file_it_is():
    assert (kind_of(Path("a.PNG")), kind_of(Path("a.svg"))) == ("png", "svg")
    for name in ("a.pdf", "a"):
        with pytest.raises(MalformedOptionError, match=r"has to end in \.png or \.svg"):
            kind_of(Path(name))


def leaning(groups: int = 1, name: str = "S", times: int = 1, **typed: str) -> Answer:
    """Each group has 4 free, 2 failed on CT and 3 on ultrasound alone at 0 mm; all free at 2 mm."""
    one = [unit(FREE, FREE)] * 4 + [unit(FAILED, FREE)] * 2
    one += [unit(FAILED, FREE, inadequate=True, modality="ultrasound")] * 3
    arm = [f"{name}{number + 1}" for number in range(groups) for _ in one * times]
    frame = statuses(one * times * groups)
    return answer(frame, sides_of(frame, arm=arm), by="arm", **typed)


def drawn(made: Answer) -> Figure:
    return draw(data_of(made), Wording(title="A title", notes=["A note."], group="arm"))


def test_the_rate_of_the_adequate_is_in_data_and_words_where_it_is_another():
    first, second = data_of(leaning()).to_dict("records")
    assert (first["n_adequate"], first["free_adequate"], first["rate_adequate"]) == (6, 4, 4 / 6)
    assert first["low_adequate"] < first["rate_adequate"] < first["high_adequate"]
    assert (second["n_adequate"], second["failed_inadequate"]) == (9, 0)
    assert math.isnan(second["rate_adequate"])
    words = in_words(data_of(leaning()))
    assert words[0].endswith("; among the adequate 4 of 6, 66.7 % (30.0 % to 90.3 %).")
    assert "adequate" not in words[1]


def test_a_rate_of_few_adequate_has_its_count_alone():
    data = data_of(leaning(small_number="7"))
    assert math.isnan(data["rate_adequate"].iloc[0])
    assert in_words(data)[0].endswith("; among the adequate 4 of 6.")


def test_the_adequate_stand_as_open_marks_beside_the_full_ones():
    panel = drawn(leaning()).axes[0]
    marks = [one for one in panel.collections if isinstance(one, PathCollection) and len(one.get_offsets()) == 1]
    (mark,) = [one for one in marks if one.get_facecolor()[0].tolist() == [1, 1, 1, 1]]
    assert mark.get_offsets().tolist() == [[0, pytest.approx(4 / 6)]]
    legend = panel.get_legend()
    assert legend is not None
    assert "S1\nn 9 of 9\nopen n 6, 9" in [text.get_text() for text in legend.get_texts()]
    assert "open: on adequate studies,\nand those who need none" in [text.get_text() for text in legend.get_texts()]


def test_the_notes_say_what_the_open_marks_are():
    said = " ".join(" ".join(figure_of(leaning(), "svg").decode().split()).split())
    assert "among the adequate 4 of 6" in said
    notes = " ".join(_notes(leaning()))
    assert "Open marks, to be read first: without those failures" in notes
    assert "Open marks" not in " ".join(_notes(asked()))


@pytest.mark.parametrize(
    "name", ["mini_percutaneous+combined, 10 to under 20 mm ", "W" * 30, "percutaneous, 20 mm and over "]
)
def test_titles_of_panels_stay_inside_their_panel(name: str):
    figure = drawn(leaning(TOGETHER + 2, name))
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    shown = [panel for panel in figure.axes if panel.get_visible()]
    boxes = [panel._left_title.get_window_extent(renderer) for panel in shown]  # type: ignore[attr-defined]
    for panel, box in zip(shown, boxes, strict=True):
        frame = panel.get_window_extent(renderer)
        assert box.x1 <= frame.x1 + 0.03 * frame.width
        assert box.y1 <= figure.bbox.y1
        assert not any(box.overlaps(other) for other in boxes if other is not box)
        assert not any(box.overlaps(other.get_window_extent(renderer)) for other in shown)


def test_a_mark_at_none_or_all_stands_whole():
    low, high = drawn(leaning()).axes[0].get_ylim()
    assert low < -0.02 and high > 1.02


def test_thousands_are_set_apart():
    assert "S1\nn 1,800 of 1,800\nopen n 1,200, 1,800" in texts(leaning(times=200))
    assert in_words(data_of(leaning(times=200)))[0].startswith("S1, 0 mm: 800 of 1,800 known")
