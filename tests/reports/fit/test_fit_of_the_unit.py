"""The unit's own pairs, the states of the ratio, operators, and exposures, on a real registry."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from analysis.cohort.columns import cohort_columns
from analysis.reports.fit.exposures import EXPOSURES
from registry.schema.fields import Arises
from registry.store.registry import create_registry

from ...cohort.rows import day
from .asked import run, unit

Run = Callable[..., tuple[int, str, str]]
SIZES = ("--scope", "7.5", "--sheath", "10")


@pytest.fixture(scope="module")
def location(tmp_path_factory: pytest.TempPathFactory) -> str:
    place = str(tmp_path_factory.mktemp("registry") / "unit.db")
    unit().written(create_registry(place))
    return place


@pytest.fixture
def fit(capsys: pytest.CaptureFixture[str], location: str) -> Run:
    def asked(*arguments: str, registry: str = location) -> tuple[int, str, str]:
        return run(capsys, "--registry", registry, *arguments)

    return asked


def rows_of(out: str, section: str) -> list[dict[str, Any]]:
    return [row for row in json.loads(out)["rows"] if row["section"] == section]


@pytest.fixture
def whole(fit: Run) -> str:
    status, out, err = fit("--own", "--format", "json")
    assert (status, err) == (0, "")
    return out


def test_the_units_pairs_come_with_their_sides(whole: str):
    found = {row["pair"]: (row["sides"], row["scope_to_sheath_band"]) for row in rows_of(whole, "own_pairs")}
    assert found == {"7.5 in 10 Fr": (5, "0.75 to under 0.85"), "9 in 12 Fr": (1, "0.75 to under 0.85")}
    pressures = {row["pair"]: row["relative_pressure_centred"] for row in rows_of(whole, "own_pairs")}
    assert pressures["9 in 12 Fr"] == pytest.approx(1.2**-4)


def test_states_of_the_ratio_and_several_pairs(whole: str):
    found = {row["what"]: row["sides"] for row in rows_of(whole, "ratio_states")}
    assert found == {
        "ratio known": 6,
        "ratio not applicable": 2,
        "ratio missing": 0,
        "ratio impossible": 1,
        "several pairs of sheath and scope": 1,
        "number of pairs not recorded": 1,
    }


def test_operator_by_ratio_counts_equal_ratios_together(whole: str):
    rows = rows_of(whole, "operator_by_ratio")
    # 9 in 12 is the ratio of 7.5 in 10.
    assert [(row["operator"], row["sides"]) for row in rows] == [("S1", 5), ("S2", 1)]
    told = json.loads(whole)["definition"]["sections"]["operator_by_ratio"]
    assert (told["distinct_ratios"], told["operators"], told["operators_with_several"]) == (1, 2, 0)


def test_each_exposure_has_n_missing_and_not_applicable(whole: str):
    rows = {row["column"]: row for row in rows_of(whole, "exposures")}
    assert list(rows) == list(EXPOSURES)
    counts = {name: (row["n"], row["unknown"], row["not_applicable"]) for name, row in rows.items()}
    # Six pairs, one that is impossible, one scope without a sheath.
    assert counts["sheath_to_scope_ratio"] == counts["scope_to_sheath_band"] == (6, 1, 1)
    assert rows["scope_to_sheath_ratio"]["median"] == 0.75
    # Eight sides are not of shock waves alone; six have their irrigation said, four their suction.
    assert counts["irrigation_drive"] == (6, 2, 0)
    assert counts["irrigation_height_cm"] == (2, 3, 3)
    assert counts["irrigation_set_pressure_mmhg"] == (1, 2, 5)
    assert counts["suction"] == (4, 4, 0)
    assert counts["suction_control"] == (1, 5, 2)
    assert counts["pressure_mean_cmh2o"] == (1, 7, 0)
    assert rows["irrigation_height_cm"]["median"] == 70
    assert rows["pressure_highest_cmh2o"]["median"] is None


def test_levels_have_their_share_with_intervals(whole: str):
    rows = {row["level"]: row for row in rows_of(whole, "exposure_levels") if row["column"] == "irrigation_drive"}
    assert {level: row["events"] for level, row in rows.items()} == {
        "gravity": 3,
        "pressure_bag": 0,
        "hand_pump": 2,
        "automatic_pump": 1,
    }
    gravity = rows["gravity"]
    assert (gravity["n"], gravity["unknown"], gravity["estimate"]) == (6, 2, 0.5)
    assert 0 < gravity["low"] < 0.5 < gravity["high"] < 1


def test_every_exposure_is_a_cohort_column_that_says_when_it_arises():
    columns = cohort_columns()
    assert set(EXPOSURES) <= set(columns)
    for name in EXPOSURES:
        assert columns[name].arises in (Arises.CHOICE, Arises.AFTER_ACCESS), name
        assert columns[name].holds in ("code", "whole", "number"), name


def test_a_registry_that_is_there_gives_its_pairs_unasked(fit: Run):
    out = fit(*SIZES, "--format", "json")[1]
    assert {row["section"] for row in json.loads(out)["rows"]} == {"pairs", "outflow", "own_pairs"}
    assert json.loads(out)["definition"]["snapshot"]["content_hash"]
    none = json.loads(fit(*SIZES, "--no-own", "--format", "json")[1])
    assert {row["section"] for row in none["rows"]} == {"pairs", "outflow"}
    assert "snapshot" not in none["definition"]


def test_a_channel_alone_asks_no_registry(fit: Run):
    out = fit("--channel", "3.6", "--device", "1.9", "--format", "json")[1]
    assert {row["section"] for row in json.loads(out)["rows"]} == {"channel"}


def test_an_option_about_the_cohort_asks_the_registry_in_full(fit: Run):
    out = fit(*SIZES, "--as-of", "2024-06-30", "--format", "json")[1]
    assert rows_of(out, "exposures")
    assert json.loads(out)["definition"]["as_of"] == "2024-06-30"


def test_an_empty_registry_is_remarked_and_the_sizes_answered(fit: Run, tmp_path: Path):
    place = str(tmp_path / "empty.db")
    create_registry(place).close()
    status, out, err = fit(*SIZES, registry=place)
    assert status == 0
    assert "The unit's own pairs are left out" in err
    assert "7.5 in 10 Fr" in out
    assert fit(*SIZES, "--own", registry=place)[0] == 1


def test_the_units_own_defaults_are_used_and_named(fit: Run, tmp_path: Path):
    rows = unit()
    for name, value in {"fit_reference": "9/12", "small_number": "3"}.items():
        rows.add("setting", site_id=1, setting_name=name, since=day(0), value=value)
    place = str(tmp_path / "own.db")
    rows.written(create_registry(place))
    told = json.loads(fit(*SIZES, "--format", "json", registry=place)[1])["definition"]
    assert (told["reference"]["scope_fr"], told["small_number"]) == (9, 3)
    assert [one["name"] for one in told["own_defaults"]] == ["fit_reference", "small_number"]
    typed = json.loads(fit(*SIZES, "--reference", "8/10", "--format", "json", registry=place)[1])["definition"]
    assert typed["reference"]["scope_fr"] == 8


def test_a_setting_that_cannot_be_read_is_the_registrys_fault(fit: Run, tmp_path: Path):
    rows = unit()
    rows.add("setting", site_id=1, setting_name="fit_length", since=day(0), value="long")
    place = str(tmp_path / "own.db")
    rows.written(create_registry(place))
    status, out, err = fit(*SIZES, registry=place)
    assert (status, out) == (1, "")
    assert "fit_length = long cannot be read" in " ".join(err.split())


def test_text_shows_counts_and_no_share_from_few(fit: Run):
    out = fit("--own")[1]
    assert "Operator by ratio" in out
    assert "n < 5" in out  # suction is recorded of four sides
    assert "Distinct ratios: 1. Operators: 2, of whom 0 used two ratios or more." in " ".join(out.split())


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_a_figure_is_written_the_same_each_time(fit: Run, tmp_path: Path, kind: str):
    targets = [tmp_path / f"{name}.{kind}" for name in ("one", "two")]
    for target in targets:
        assert fit(*SIZES, "--figure", str(target))[0] == 0
    assert targets[0].read_bytes() == targets[1].read_bytes()


def test_the_units_pairs_alone_can_be_drawn(fit: Run, tmp_path: Path):
    target = tmp_path / "own.svg"
    assert fit("--own", "--figure", str(target))[0] == 0
    assert "Own pair 7.5 in 10 Fr, 5 sides: ratio 1.333" in target.read_text()
