"""The map of definitions: every row is what the single command prints, impossible ones are named, differences found."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from analysis.figures.definition_map import draw_map
from analysis.figures.stone_free import Kind
from analysis.outcomes.adequacy import table_from_data
from analysis.outcomes.definition import Definition
from analysis.outcomes.thresholds import Threshold
from analysis.reports.definition_map.differences import AXES, comparable, differences_of, largest_differences
from analysis.reports.definition_map.figure_of import _notes, map_data, map_figure
from analysis.reports.definition_map.grid import IMAGINGS, THRESHOLDS, UNITS, WINDOWS, can_clear
from analysis.reports.definition_map.map_sections import counted_words, text_sections
from analysis.reports.definition_map.worked import DefinitionMap, definition_map
from analysis.reports.request.own_defaults import STONE_FREE
from analysis.reports.request.source import Source, ask_cohort, settings_in_force
from analysis.tables.rounding import points
from registry.store.registry import create_registry
from tests.command_line import gravelbook

from ..clinic import clinic

FEW = ("--replicates", "40")
"""The map's own numbers do not depend on it; weighting resamples as often as is asked."""


@pytest.fixture(scope="module")
def location(tmp_path_factory: pytest.TempPathFactory) -> str:
    return made(tmp_path_factory.mktemp("map"))


def made(folder: Path, **settings: str) -> str:
    location = str(folder / "unit.db")
    clinic(**settings).written(create_registry(location))
    return location


def mapped(location: str, *options: str) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    found = gravelbook("stone-free", "--registry", location, "--show", "map", "--format", "json", *FEW, *options)
    assert found.status == 0, found.err
    told = json.loads(found.out)
    return told["rows"], told["definition"]["sections"]["definition_map"]


@pytest.fixture(scope="module")
def whole(location: str) -> list[dict[str, Any]]:
    return mapped(location)[0]


def rows_in(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [row for row in rows if row["section"] == "definition_map"]


def test_every_definition_is_there_once(whole: list[dict[str, Any]]):
    rows = rows_in(whole)
    key = ("threshold", "imaging", "window", "unit", "sessions", "unscanned")
    names = [tuple(row[part] for part in key) for row in rows]
    assert len(set(names)) == len(names)
    for unscanned in ("complete", "lower", "upper"):
        every = {
            (threshold, imaging, window, *unit, unscanned)
            for threshold in THRESHOLDS
            for imaging in IMAGINGS
            for window in WINDOWS
            for unit in UNITS
        }
        assert every <= set(names)
    assert len(rows) >= 6 * 5 * 3 * 3 * 3


def test_rows_carry_their_whole_definition(whole: list[dict[str, Any]]):
    parts = {"pick", "target_day", "adequacy", "assume_slice_mm", "stones", "retreated", "died", "denominator"}
    for row in rows_in(whole):
        assert parts | {"interval", "level", "comparison", "threshold_mm"} <= set(row)


OTHERWISE = ("--adequacy", "as-published", "--interval", "exact", "--level", "0.9", "--retreated", "unknown")
ASKED = ("--imaging", "ct", "--threshold", "lt4", "--unscanned", "lower")


@pytest.fixture(scope="module")
def otherwise(location: str) -> list[dict[str, Any]]:
    return mapped(location, *OTHERWISE, *ASKED)[0]


@pytest.mark.parametrize(
    ("imaging", "window", "unit", "sessions", "more"),
    [
        ("any", "14:90", "side", "single", ()),
        ("ct", "14:60", "course", "planned", ()),
        ("us", "61:120", "patient", "planned", ()),
        ("us", "14:90", "patient", "planned", OTHERWISE),
        ("ct", "14:90", "side", "single", OTHERWISE),
    ],
)
def test_a_row_is_what_the_single_command_prints(
    location: str,
    whole: list[dict[str, Any]],
    otherwise: list[dict[str, Any]],
    imaging: str,
    window: str,
    unit: str,
    sessions: str,
    more: tuple[str, ...],
):
    rows = rows_in(otherwise if more else whole)
    options = {"imaging": imaging, "window": window, "unit": unit, "sessions": sessions}
    typed = [word for name, value in options.items() for word in (f"--{name}", value)]
    single = gravelbook(
        *("stone-free", "--registry", location, "--format", "json", "--threshold", ",".join(THRESHOLDS)),
        *("--unscanned", "complete,lower,upper", *typed, *more),
    )
    assert single.status == 0, single.err
    told = json.loads(single.out)["rows"]
    assert len(told) == 18
    for one in told:
        (row,) = [
            each
            for each in rows
            if all(each[name] == value for name, value in options.items())
            and (each["threshold_mm"], each["comparison"]) == (one["threshold_mm"], one["comparison"])
            and each["unscanned"] == one["unscanned"]
        ]
        names = ("eligible", "n", "unknown", "not_due", "stone_free", "low", "high", "low_clustered", "n_adequate")
        assert {name: row[name] for name in names} == {name: one[name] for name in names}
        assert (row["estimate"], row["estimate_adequate"]) == (one["rate"], one["rate_adequate"])
        assert row["modalities"] == one["modalities"]


def test_weighted_and_imputed_are_those_of_the_single_command(location: str, whole: list[dict[str, Any]]):
    for mode, thresholds in (("weighted", THRESHOLDS), ("imputed", ("0", "2", "4"))):
        single = gravelbook(
            *("stone-free", "--registry", location, "--format", "json", "--threshold", ",".join(thresholds)),
            *("--unscanned", mode, *FEW),
        )
        rows = [row for row in rows_in(whole) if row["unscanned"] == mode]
        if single.status:
            assert rows == []
            continue
        told = json.loads(single.out)["rows"]
        assert [row["threshold"] for row in rows] == list(thresholds)
        assert [row["estimate"] for row in rows] == [row["rate"] for row in told]
        assert [row["low"] for row in rows] == [row["low"] for row in told]


def test_a_policy_that_can_clear_nobody_is_named(whole: list[dict[str, Any]]):
    rows = [row for row in rows_in(whole) if row["imaging"] == "us" and row["unscanned"] == "complete"]
    assert len(rows) == 54
    for row in rows:
        assert (row["can_succeed"], row["estimate"] or 0) == (False, 0)
        assert "can show failure and never success" in row["reason"]


def test_the_definition_asked_for_is_marked(whole: list[dict[str, Any]], otherwise: list[dict[str, Any]]):
    marked = [row for row in rows_in(whole) if row["own_default"]]
    assert [(row["threshold"], row["imaging"], row["window"], row["unit"], row["unscanned"]) for row in marked] == [
        (code, "any", "14:90", "side", "complete") for code in ("0", "2", "4")
    ]
    (row,) = [row for row in rows_in(otherwise) if row["own_default"]]
    assert (row["threshold"], row["imaging"], row["unscanned"]) == ("lt4", "ct", "lower")


@pytest.fixture(scope="module")
def outside(tmp_path_factory: pytest.TempPathFactory) -> tuple[DefinitionMap, Source]:
    """The map of a unit whose own default lies outside the grid."""
    folder = tmp_path_factory.mktemp("outside")
    location = made(folder, stone_free_window="20:45", stone_free_target="40", stone_free_threshold="1,2")
    asked = ask_cohort(location)
    settings = settings_in_force(asked.snapshot, asked.cohort.as_of, STONE_FREE)
    return definition_map(asked, {"replicates": "40"}, settings), asked.source


def test_the_units_own_default_outside_the_grid_has_rows_of_its_own(outside: tuple[DefinitionMap, Source]):
    found, _ = outside
    own = [row for row in found.rows if row["own_default"]]
    assert [(row["threshold"], row["window"], row["target_day"]) for row in own] == [
        ("2", "20:45", 40),
        ("1", "20:45", 40),
    ]
    assert (found.outside, found.own.window) == (True, "20:45")
    # Elsewhere the window is another, and the unit's target day, which belongs to its own window, does not hold.
    assert {row["target_day"] for row in found.rows if row["window"] == "61:120"} == {90}
    notes = [note for section in text_sections(found) for note in section.notes]
    assert any("lies outside the grid and has rows of its own" in note for note in notes)
    assert "20:45" in set(map_data(found)["window"])


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_the_figure_is_the_same_file_every_time(outside: tuple[DefinitionMap, Source], kind: Kind):
    first, again = (map_figure(*outside, kind) for _ in range(2))
    assert first == again
    assert first[:4] == (b"\x89PNG" if kind == "png" else b"<?xm")


def test_combinations_that_are_impossible_are_named_and_not_dropped(location: str):
    rows, definition = mapped(location, "--target", "80")
    early = [row for row in rows_in(rows) if row["window"] == "14:60"]
    assert len(early) == 6 * 5 * 3 * 3
    assert all(row["estimate"] is None and "80 lies outside the window 14:60" in row["reason"] for row in early)
    assert any("Not possible" in note for note in definition["notes"])
    assert gravelbook("stone-free", "--registry", location, "--window", "14:60", "--target", "80").status == 2


def test_the_largest_differences_are_found_and_say_what_differs(whole: list[dict[str, Any]]):
    ends = [row for row in whole if row["section"] == "largest_differences"]
    assert len(ends) % 2 == 0
    by = {row["differs"]: row for row in ends if row["which"] == "higher"}
    low = {row["differs"]: row for row in ends if row["which"] == "lower"}
    assert set(by) == set(low)
    for name, high in by.items():
        assert high["difference"] == pytest.approx(high["estimate"] - low[name]["estimate"])
        assert min(high["n"], low[name]["n"]) >= 5
        assert high["can_succeed"] and low[name]["can_succeed"]
        if name in AXES:
            parts = [part for parts in AXES.values() for part in parts]
            differing = {part for part in parts if high[part] != low[name][part]}
            assert differing <= set(AXES[name])


def test_differences_by_hand():
    def row(threshold: str, imaging: str, unscanned: str, n: int, rate: float, **more: Any) -> dict[str, Any]:
        fixed = {"window": "14:90", "target_day": 30, "unit": "side", "sessions": "single", "can_succeed": True}
        return {
            **fixed,
            "threshold": threshold,
            "imaging": imaging,
            "unscanned": unscanned,
            "n": n,
            "estimate": rate,
        } | more

    rows = [
        row("0", "any", "complete", 40, 0.5),
        row("4", "any", "complete", 40, 0.8),
        row("0", "ct", "complete", 30, 0.55),
        row("4", "ct", "complete", 4, 1.0),  # too few
        row("0", "us", "complete", 50, 0.0, can_succeed=False),
        row("0", "any", "lower", 60, 0.33),
        row("0", "any", "upper", 60, 0.66),
    ]
    found = {one.differs: one for one in largest_differences(rows, 5)}
    assert set(found) == {"anything", "complete", "threshold", "imaging", "handling"}
    assert found["anything"].size == pytest.approx(0.8 - 0.33)
    assert found["threshold"].size == pytest.approx(0.3)
    assert found["imaging"].size == pytest.approx(0.05)
    assert found["handling"].size == pytest.approx(0.33)
    assert len(comparable(rows, 5)) == 5
    assert largest_differences([], 5) == []
    apart = {one.differs: one for one in largest_differences(rows, 5, lambda row: row["threshold"] == "4")}
    assert "handling" not in apart  # nothing but complete case is there at 4 mm
    assert apart["threshold"].size == found["threshold"].size


def test_which_studies_can_clear_a_kidney():
    def clears(imaging: str, code: float, *, strict: bool = False, **more: Any) -> bool:
        return can_clear(Definition(imaging=imaging, **more), Threshold(code, strict))

    assert clears("any", 0) and clears("ct", 0) and clears("second-look", 0)
    assert not clears("us", 4) and not clears("kub", 4) and not clears("us+kub", 4)
    table = table_from_data("ours", [{"modality": "ultrasound", "from_mm": 4}])
    assert clears("us", 4, adequacy=table) and clears("any", 4, adequacy=table)
    assert not clears("us", 3, adequacy=table) and not clears("us", 4, strict=True, adequacy=table)
    assert not clears("us+kub", 4, adequacy=table)


def test_text_and_figure(location: str, tmp_path: Path):
    path = tmp_path / "map.svg"
    found = gravelbook("stone-free", "--registry", location, "--show", "map", *FEW, "--figure", str(path))
    assert found.status == 0, found.err
    assert "Definition map: 45 of 45 combinations worked out." in found.err
    assert "Differing in threshold: from" in path.read_text(encoding="utf-8")
    flat = " ".join(found.out.split())
    assert "*50.0 (6)" in flat
    assert "x (n < 5 (1))" not in flat and "x (1)" in flat
    assert "How much of a difference is definition alone" in flat
    assert "threshold alone higher" in flat
    assert found.out.count("Who is counted") == 1


def test_handling_alone_is_looked_at_where_the_definition_asked_for_is(outside: tuple[DefinitionMap, Source]):
    found, source = outside
    (own,) = [one for one in differences_of(found) if one.differs == "handling"]
    for row in (own.high, own.low):
        assert row["combination"] == found.own
        assert row["threshold"] in ("1", "2")
    widest = next(one for one in largest_differences(found.rows, 5) if one.differs == "handling")
    assert widest.size > own.size  # elsewhere in the map it is wider
    svg = map_figure(found, source, "svg").decode()
    assert "Differing in handling alone, at the definition asked for: from" in svg
    notes = " ".join(_notes(found, source))
    assert f"at the definition asked for, {points(own.size)} (<= {own.high['threshold']} mm)" in notes


def test_title_and_text_say_how_many_definitions_can_succeed(location: str, outside: tuple[DefinitionMap, Source]):
    found, source = outside
    complete = [row for row in found.rows if row["unscanned"] == "complete"]
    can = sum(row["can_succeed"] for row in complete)
    assert (len(complete), can) == (277, 115)  # 270 of the grid and 7 thresholds of the unit's own, which all can
    assert counted_words(found) == "277 definitions, 115 of which can succeed"
    assert "277 definitions of stone-free, 115 of which can succeed" in map_figure(found, source, "svg").decode()
    text = gravelbook("stone-free", "--registry", location, "--show", "map", *FEW)
    flat = " ".join(text.out.split())
    assert "Of 270 definitions, 108 of which can succeed: under this adequacy table 162 (us, kub, us+kub)" in flat
    assert "handling of the unscanned: at the definition asked for alone" in flat
    assert "handling alone, at the definition asked for higher" in flat
    every = gravelbook("stone-free", "--registry", location, "--show", "map", "--adequacy", "as-published", *FEW)
    assert "of which can succeed" not in every.out


def test_what_is_impossible_is_not_said_to_show_failure(location: str):
    _, definition = mapped(location, "--target", "80")
    (note,) = [note for note in definition["notes"] if "can show failure" in note]
    # Day 14:60 cannot be asked with that target; it is a third of the 108 that can succeed and of the 162 that cannot.
    assert note.startswith(
        "Of 270 definitions, 72 of which can succeed: under this adequacy table 108 (us, kub, us+kub)"
    )


def test_marks_at_none_and_all_stand_whole(outside: tuple[DefinitionMap, Source]):
    figure = draw_map(map_data(outside[0]), title="t", notes=["n"])
    assert all(panel.get_ylim() == (-0.05, 1.05) for panel in figure.axes if panel.get_visible())


def test_an_empty_cohort_has_a_map_of_nothing(location: str, tmp_path: Path):
    rules = tmp_path / "nobody.toml"
    rules.write_text(
        'name = "nobody"\n[[include]]\ncolumn = "largest_mm"\nabove = 500\nreason = "nobody"\n', encoding="utf-8"
    )
    found = gravelbook(
        *("stone-free", "--registry", location, "--show", "map", "--rules", str(rules), "--format", "json", *FEW),
    )
    assert found.status == 0, found.err
    told = json.loads(found.out)["rows"]
    assert all(row["estimate"] is None for row in told if row["section"] == "definition_map")
    assert not [row for row in told if row["section"] == "largest_differences"]
