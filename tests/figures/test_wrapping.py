"""Text folded to a measured width."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextToPath

from analysis.figures.wrapping import folded

WORDS = st.text(alphabet="abcmW0 +_,", min_size=1, max_size=60)


def width(line: str, size: float, weight: str) -> float:
    font = FontProperties(family="DejaVu Sans", weight=weight, size=size)
    return float(TextToPath().get_text_width_height_descent(line, font, ismath=False)[0]) / 72


@given(WORDS, st.floats(0.3, 3.0))
def test_no_line_is_wider_than_asked_and_no_letter_is_lost(text: str, inches: float):
    lines = folded(text, inches, size=7.5, weight="bold").split("\n")
    assert all(width(line, 7.5, "bold") <= inches for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("mini_percutaneous+combined, 20 mm and over", ["mini_percutaneous+", "combined, 20 mm and", "over"]),
        ("flexible", ["flexible"]),
        ("", [""]),
    ],
)
def test_long_words_break_where_they_are_joined(text: str, lines: list[str]):
    assert folded(text, 1.575, size=7.5, weight="bold").split("\n") == lines


def test_a_word_without_a_joint_is_cut():
    assert folded("M" * 40, 1.0, size=8).count("\n") >= 3
