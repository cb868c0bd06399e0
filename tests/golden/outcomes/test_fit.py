"""Fit at the command line: the tables 5.1, 5.4 and 5.5, worked out from the formulas; odd spellings; impossible pairs.

Bird, Stewart, Lightfoot, Transport Phenomena 2.4 (concentric); Piercy, Hooper, Winny 1933 (eccentric; checked against a
boundary-collocation solution).
"""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.command_line import gravelbook


def rows(section: str, *words: str) -> list[dict[str, Any]]:
    told = gravelbook("fit", "--no-own", "--format", "json", *words)
    assert (told.status, told.err) == (0, "")
    return [row for row in json.loads(told.out)["rows"] if row["section"] == section]


@pytest.mark.parametrize(
    ("scope", "sheath", "ratio", "open_share", "band", "split"),
    [
        ("7.5", "10", 0.75, 0.4375, "0.75 to under 0.85", "0.85 and under"),
        ("7.5", "11", 0.6818, 0.5351, "under 0.75", "0.85 and under"),
        ("7.5", "12", 0.6250, 0.6094, "under 0.75", "0.85 and under"),
        ("8.5", "10", 0.85, 0.2775, "0.85 and over", "0.85 and under"),
        ("8.5", "12", 0.7083, 0.4983, "under 0.75", "0.85 and under"),
        ("9.5", "12", 0.7917, 0.3733, "0.75 to under 0.85", "0.85 and under"),
        ("8.7", "10", 0.87, 0.2431, "0.85 and over", "over 0.85"),
        ("8.7", "12", 0.725, 0.474375, "under 0.75", "0.85 and under"),
    ],
)
def test_ratio_and_bands(scope: str, sheath: str, ratio: float, open_share: float, band: str, split: str) -> None:
    (row,) = rows("pairs", "--scope", scope, "--sheath", sheath)
    assert row["scope_to_sheath_ratio"] == pytest.approx(ratio, abs=5e-5)
    assert row["sheath_to_scope_ratio"] == pytest.approx(1 / row["scope_to_sheath_ratio"])
    assert row["open_share"] == pytest.approx(open_share, abs=5e-5)
    assert (row["scope_to_sheath_band"], row["scope_to_sheath_split"]) == (band, split)


@pytest.mark.parametrize(
    ("scope", "conductance", "pressure"),
    [
        ("5", 0.125984, 0.145),
        ("6", 0.068561, 0.266),
        ("6.5", 0.047307, 0.386),
        ("7", 0.030665, 0.595),
        ("7.5", 0.018254, 1),
        ("8", 0.009608, 1.900),
        ("8.5", 0.004164, 4.383),
        ("9", 0.001267, 14.4),
    ],
)
def test_centred(scope: str, conductance: float, pressure: float) -> None:
    (row,) = rows("outflow", "--scope", scope, "--sheath", "10", "--eccentricity", "0", "--pressure", "1")
    assert row["conductance"] == pytest.approx(conductance, abs=1e-6)
    assert row["relative_pressure"] == pytest.approx(pressure, rel=4e-3)


@pytest.mark.parametrize(("sheath", "flow", "reynolds"), [("10", 41.9, 221), ("12", 273, 1290)])
def test_the_worked_example(sheath: str, flow: float, reynolds: float) -> None:
    (row,) = rows("outflow", "--scope", "7.5", "--sheath", sheath, "--eccentricity", "0")
    assert row["outflow_ml_min"] == pytest.approx(flow, rel=2e-3)
    assert row["reynolds"] == pytest.approx(reynolds, rel=2e-3)


@pytest.mark.parametrize(
    ("scope", "sheath", "gains"),
    [
        ("5", "10", (1.0880, 1.3476, 1.7658, 2.0847, 2.2977, 2.3198)),
        ("7.5", "12", (1.0910, 1.3617, 1.8053, 2.1500, 2.3837, 2.4081)),
        ("7.5", "10", (1.0927, 1.3698, 1.8287, 2.1894, 2.4360, 2.4619)),
    ],
)
def test_off_the_axis(scope: str, sheath: str, gains: tuple[float, ...]) -> None:
    at = "0.25,0.5,0.75,0.9,0.99,0.999"
    told = rows("outflow", "--scope", scope, "--sheath", sheath, "--eccentricity", at, "--pressure", "1")
    assert [row["gain"] for row in told] == [pytest.approx(gain, abs=1e-4) for gain in gains]


@pytest.mark.parametrize(
    ("scope", "sheath"),
    [("2.5mm", "10"), ("7.5Fr", "10/12"), ("7.5 fr", "3.3333333333mm"), ("7.5CH", "10F"), ("07.50", "10.0")],
)
def test_sizes_written_oddly(scope: str, sheath: str) -> None:
    (row,) = rows("pairs", "--scope", scope, "--sheath", sheath)
    assert row["scope_to_sheath_ratio"] == pytest.approx(0.75, abs=1e-6)


@pytest.mark.parametrize(("device", "free"), [("1.9", 0.8159), ("0.035in", 0.5103)])
def test_a_channel(device: str, free: float) -> None:
    """1.2 mm is 3.6 Fr; pi/4 (1.2^2 - 0.6333^2) and pi/4 (1.2^2 - 0.889^2) mm2 stay free."""
    (row,) = rows("channel", "--channel", "1.2mm", "--device", device)
    assert (row["passes"], row["channel_fr"]) == ("yes", pytest.approx(3.6))
    assert row["free_mm2"] == pytest.approx(free, abs=1e-4)


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("--scope", "10", "--sheath", "10"), 1, "impossible pair"),
        (("--scope", "12", "--sheath", "10"), 1, "impossible pair"),
        (("--scope", "7.5", "--sheath", "12/10"), 1, "the outer has to be the larger"),
        (("--scope", "2.5", "--sheath", "10"), 1, "the unit cannot be told"),
        (("--scope", "7.5", "--sheath", "75"), 1, "the unit cannot be told"),
        (("--scope", "7.5parsec", "--sheath", "10"), 1, "cannot be told"),
        (("--scope", "-7.5", "--sheath", "10"), 2, "is no size"),
        (("--scope", "nan", "--sheath", "10"), 2, "is no size"),
        (("--scope", "7.5"), 2, "--scope needs --sheath"),
        (("--scope", "7.5", "--sheath", "10", "--eccentricity", "1.1"), 2, "--eccentricity"),
        (("--scope", "7.5", "--sheath", "10", "--pressure", "40psi"), 2, "--pressure"),
    ],
)
def test_what_cannot_be(words: tuple[str, ...], status: int, said: str) -> None:
    told = gravelbook("fit", "--no-own", "--format", "json", *words)
    assert (told.status, told.out) == (status, "")
    assert said in " ".join(told.err.split())


def test_an_impossible_pair_among_others_is_named_beside_the_answers() -> None:
    told = rows("not_answered", "--scope", "7.5,11", "--sheath", "10,12")
    assert [row["case"] for row in told] == ["11 in 10 Fr"]
    assert len(rows("pairs", "--scope", "7.5,11", "--sheath", "10,12")) == 3


def test_beyond_laminar_flow_there_is_no_number() -> None:
    (row,) = rows("outflow", "--scope", "5", "--sheath", "12", "--eccentricity", "0")
    assert (row["outflow_ml_min"], row["relative_outflow"]) == (None, None)
    assert row["reynolds"] > 2000
