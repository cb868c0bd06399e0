"""Words for a modality in a detection file, and the warning where a correction raises the rate."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from analysis.reports.stone_free_scans.detection_file import detection_table
from analysis.reports.stone_free_scans.raised import raised_notes
from tests.command_line import gravelbook

from .unit_with_scans import registry_of, unit_with_scans

PAIR = "sensitivity = 0.54\nspecificity = 0.91\n"


def written(folder: Path, text: str) -> Path:
    path = folder / "detection.toml"
    path.write_text(text, encoding="utf-8")
    return path


def row(name: str, more: str = "") -> str:
    return f'[[detection]]\nmodality = "{name}"\n{PAIR}{more}'


@pytest.mark.parametrize(
    ("name", "ours"),
    [("us", "ultrasound"), ("US", "ultrasound"), ("CT", "ct"), ("US+KUB", "us+kub"), ("second-look", "second_look")],
)
def test_the_command_lines_word_names_the_modality(tmp_path: Path, name: str, ours: str):
    table = detection_table(written(tmp_path, row(name)))
    assert [one.modality for one in table.rows] == [ours]
    assert table.of(ours, "2") is not None


def test_the_same_modality_by_two_words_is_there_twice(tmp_path: Path):
    with pytest.raises(Exception, match="has two rows for ultrasound at every threshold"):
        detection_table(written(tmp_path, row("us") + row("ultrasound")))


def notes(folder: Path, text: str, *, apparent: float, estimate: float, n: int = 50) -> list[str]:
    seen: dict[str, Any] = {"modality": "ultrasound", "seen_by": "ultrasound", "threshold_mm": 4.0}
    seen |= {"comparison": "<=", "threshold_words": "<= 4 mm", "n": n, "apparent": apparent, "estimate": estimate}
    return raised_notes([seen, seen | {"modality": "all"}], detection_table(written(folder, text)), 5)


def test_a_rate_raised_by_a_row_of_every_threshold_asks_for_one_of_this(tmp_path: Path):
    (note,) = notes(tmp_path, row("us"), apparent=0.9, estimate=0.99)
    assert note.startswith(
        "Corrected above what was scanned: ultrasound at <= 4 mm. A specificity below 1 was measured"
    )
    assert "stones of any size" in note and "give a row for this threshold" in note


def test_a_rate_raised_by_the_thresholds_own_row_is_said_apart(tmp_path: Path):
    (note,) = notes(tmp_path, row("us") + row("us", 'threshold = "4"\n'), apparent=0.9, estimate=0.99)
    assert "by the row for the threshold itself: ultrasound at <= 4 mm" in note
    assert "give a row" not in note


@pytest.mark.parametrize(("apparent", "estimate", "n"), [(0.9, 0.9, 50), (0.9, 0.8, 50), (0.5, 1.0, 4)])
def test_no_warning_where_nothing_is_raised_or_too_few_were_seen(
    tmp_path: Path, apparent: float, estimate: float, n: int
):
    assert notes(tmp_path, row("us"), apparent=apparent, estimate=estimate, n=n) == []


def test_the_command_warns(tmp_path: Path):
    location = registry_of(tmp_path, unit_with_scans())
    path = written(tmp_path, row("CT") + row("us"))
    options = ("--registry", location, "--show", "Corrected", "--detection", str(path), "--imaging", "CT")
    found = gravelbook("stone-free", *options, "--threshold", "0,5")
    assert found.status == 0, found.err
    flat = " ".join(found.out.split())
    # 0 mm: 6 of 8 CTs show something, corrected down. 5 mm: 2 of 8 do, 0.25 below 9 % false alarms and 46 % overlooked.
    assert "Corrected above what was scanned" not in flat
    path.write_text(path.read_text("utf-8").replace("specificity = 0.91", "specificity = 0.7"), encoding="utf-8")
    found = gravelbook("stone-free", *options, "--threshold", "0,5")
    assert "Corrected above what was scanned: CT at <= 5 mm." in " ".join(found.out.split())
