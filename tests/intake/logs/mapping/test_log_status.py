"""A status at a size is a range, read by the outcome rules as it was meant: unknown rather than wrong."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.outcomes.fragments import FAILED, FREE, UNDECIDED, element_codes
from analysis.outcomes.thresholds import Threshold
from registry.intake.load_plan import make_plan
from registry.store.registry import Registry
from tests.intake.logs.mapping.logs import case, found, only, plan_of

SCAN = """
[[column]]
heading = "Scanned"
to = "examination.examined_on"
group = "ct"
[[constant]]
to = "examination.modality"
value = "ct"
"""


def status(heading: str, at: str) -> str:
    return f"""
[[column]]
heading = "{heading}"
status = "reading"
{at}
yes = ["y", "SF"]
no = ["n", "residual"]
group = "ct"
"""


def shown(plan_rows: dict[str, list[dict[str, object]]], threshold: Threshold) -> int:
    """What the reading shows at a threshold, by the outcome rules."""
    reading = plan_rows["reading"][0]
    if reading["finding"] == "none_seen":
        return FREE
    rows = plan_rows.get("fragment") or [{}]
    frame = pd.DataFrame(
        {
            "low_mm": [row.get("diameter_low_mm", np.nan) for row in rows],
            "high_mm": [row.get("diameter_high_mm", np.nan) for row in rows],
            "above": [row.get("larger_than_low") == "yes" for row in rows],
            "of_doubt": False,
            "finding_open": reading["finding"] == "indeterminate",
        }
    ).astype({"low_mm": float, "high_mm": float})
    return int(element_codes(frame, threshold).max())


@pytest.mark.parametrize(
    ("at", "word", "expected"),
    [
        ("at_mm = 2", "y", {2: FREE, 4: FREE}),
        ("at_mm = 2", "n", {0: FAILED, 2: FAILED, 4: UNDECIDED}),
        ("at_mm = 4", "SF", {2: UNDECIDED, 4: FREE}),
        ("at_mm = 0", "y", {0: FREE, 2: FREE}),
        ("at_mm = 0", "n", {0: FAILED, 2: UNDECIDED}),
        ("", "y", {2: UNDECIDED, 4: UNDECIDED}),
        ("", "residual", {2: UNDECIDED, 4: UNDECIDED}),
        ("at_mm = 2\nbelow = true", "y", {1: UNDECIDED, 2: FREE}),
        ("at_mm = 2\nbelow = true", "n", {1: FAILED, 2: UNDECIDED, 4: UNDECIDED}),
    ],
)
def test_a_status_at_a_size(unit: Registry, tmp_path: Path, at: str, word: str, expected: dict[int, int]) -> None:
    plan = plan_of(unit, case(tmp_path, SCAN + status("SFR", at), ["Scanned", "SFR"], ["02.06.2024", word]))
    assert {size: shown(plan.new, Threshold(size)) for size in expected} == expected


def test_yes_up_to_a_size_is_the_range_from_nothing_to_it(unit: Registry, tmp_path: Path) -> None:
    more = SCAN + status("SFR", "at_mm = 2")
    fragment = only(plan_of(unit, case(tmp_path, more, ["Scanned", "SFR"], ["02.06.2024", "y"])), "fragment")
    assert (fragment["diameter_low_mm"], fragment["diameter_high_mm"]) == (0, 2)
    assert "larger_than_low" not in fragment


def test_below_a_size_settles_the_threshold_below_it(unit: Registry, tmp_path: Path) -> None:
    below = SCAN + status("SFR", "at_mm = 2\nbelow = true")
    yes = plan_of(unit, case(tmp_path, below, ["Scanned", "SFR"], ["02.06.2024", "y"]))
    no = plan_of(unit, case(tmp_path, below, ["Scanned", "SFR"], ["02.06.2024", "n"]))
    assert shown(yes.new, Threshold(2, strict=True)) == FREE
    assert shown(no.new, Threshold(2, strict=True)) == FAILED
    up_to = SCAN + status("SFR", "at_mm = 2")
    plan = plan_of(unit, case(tmp_path, up_to, ["Scanned", "SFR"], ["02.06.2024", "y"]))
    assert shown(plan.new, Threshold(2, strict=True)) == UNDECIDED


def test_two_statuses_of_one_scan_narrow_each_other(unit: Registry, tmp_path: Path) -> None:
    both = SCAN + status("SF0", "at_mm = 0") + status("SF2", "at_mm = 2")
    plan = plan_of(unit, case(tmp_path, both, ["Scanned", "SF0", "SF2"], ["02.06.2024", "n", "y"]))
    fragment = only(plan, "fragment")
    assert (fragment["diameter_low_mm"], fragment["diameter_high_mm"]) == (0, 2)
    assert fragment["larger_than_low"] == "yes"
    assert only(plan, "reading")["wording"] == "n; y"
    against = make_plan(unit, case(tmp_path, both, ["Scanned", "SF0", "SF2"], ["02.06.2024", "y", "n"]))
    assert found(against, "log.status.agree").column == "E, F"


def test_a_word_on_neither_list_is_not_guessed(unit: Registry, tmp_path: Path) -> None:
    source = case(tmp_path, SCAN + status("SFR", "at_mm = 2"), ["Scanned", "SFR"], ["02.06.2024", "probably"])
    finding = found(make_plan(unit, source), "log.status.word")
    assert (finding.row, finding.column, finding.severity) == (2, "E", "error")


def test_measured_fragments_go_before_the_status(unit: Registry, tmp_path: Path) -> None:
    size = """
[[column]]
heading = "Size"
to = ["fragment.diameter_low_mm", "fragment.diameter_high_mm"]
values = { "0" = "none_seen" }
group = "ct"
[[constant]]
to = "fragment.kind"
value = "single"
"""
    more = SCAN + status("SFR", "at_mm = 2") + size
    plan = plan_of(unit, case(tmp_path, more, ["Scanned", "SFR", "Size"], ["02.06.2024", "n", "5"]))
    assert only(plan, "fragment")["diameter_low_mm"] == 5
    nothing = plan_of(unit, case(tmp_path, SCAN + size, ["Scanned", "Size"], ["02.06.2024", "0"]))
    assert only(nothing, "reading")["finding"] == "none_seen"
    assert nothing.new["fragment"] == [] if "fragment" in nothing.new else True
