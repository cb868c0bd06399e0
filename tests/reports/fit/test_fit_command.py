"""The command `gravelbook fit`: what it prints without a registry, and with which exit status."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .asked import run

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def fit(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """Runs the command in an empty folder with no registry named."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("GRAVELBOOK_REGISTRY", raising=False)
    return lambda *arguments: run(capsys, *arguments)


def rows_of(out: str, section: str) -> list[dict[str, Any]]:
    return [row for row in json.loads(out)["rows"] if row["section"] == section]


def test_no_registry_is_needed(fit: Run):
    status, out, err = fit("--scope", "7.5", "--sheath", "10,11,12", "--format", "json")
    assert (status, err) == (0, "")
    bands = [(row["sheath_inner_fr"], row["scope_to_sheath_band"]) for row in rows_of(out, "pairs")]
    assert bands == [(10, "0.75 to under 0.85"), (11, "under 0.75"), (12, "under 0.75")]
    first = rows_of(out, "pairs")[0]
    assert first["sheath_to_scope_ratio"] == pytest.approx(4 / 3)
    assert first["gap_mm"] == pytest.approx((10 - 7.5) / 6)
    told = json.loads(out)["definition"]
    assert (told["reference"]["scope_fr"], told["length_cm"], told["viscosity_mpa_s"]) == (7.5, 45, 0.69)
    assert told["sections"]["outflow"]["idealised"] is True


def test_every_pair_centred_and_on_the_wall(fit: Run):
    rows = rows_of(fit("--scope", "7.5", "--sheath", "10,12", "--format", "json")[1], "outflow")
    assert [(row["sheath_inner_fr"], row["position"]) for row in rows] == [
        (10, "centred"),
        (10, "on the wall"),
        (12, "centred"),
        (12, "on the wall"),
    ]
    reference, on_wall, wide, wide_on_wall = rows
    assert (reference["relative_outflow"], reference["relative_pressure"], on_wall["relative_pressure"]) == (1, 1, 1)
    assert reference["outflow_ml_min"] == pytest.approx(41.9, abs=0.05)
    assert on_wall["relative_pressure_centred_reference"] == pytest.approx(1 / on_wall["gain"])
    # 1.2^4 G(0.625) / G(0.75)
    assert wide["relative_outflow"] == pytest.approx(1.2**4 * 0.0573376 / 0.0182542, rel=1e-4)
    assert (wide_on_wall["outflow_ml_min"], wide_on_wall["relative_outflow"]) == (None, None)
    assert "Reynolds number" in wide_on_wall["outflow_reason"]
    assert wide_on_wall["relative_pressure"] is not None


def test_text_is_labelled_idealised_and_says_why_a_number_is_missing(fit: Run):
    said = " ".join(fit("--scope", "7.5", "--sheath", "12")[1].split())
    assert "Never a patient's flow or pressure" in said
    assert "No flow: 7.5 in 12 Fr on the wall (not laminar: Reynolds number 3,115 is above 2,000)" in said
    assert "not linear in the sheath-to-scope ratio" in said
    assert "(from memory)" in said
    assert "An idealised flow says nothing of the pressure in a patient's kidney." in said


def test_a_size_may_be_typed_in_several_ways(fit: Run):
    plain = fit("--scope", "7.5", "--sheath", "12", "--format", "csv")[1]
    for scope, sheath in (("7.5Fr", "12 Fr"), ("2.5mm", "4mm"), ("2500um", "12ch")):
        assert fit("--scope", scope, "--sheath", sheath, "--format", "csv")[1] == plain


def test_of_a_sheaths_label_the_inner_is_used_and_said(fit: Run):
    out = fit("--scope", "7.5", "--sheath", "10/12", "--reference", "7.5/10/12")[1]
    assert "10/12: inner/outer; the inner, 10 Fr, is used" in out
    assert "7.5 in 10 Fr" in out


@pytest.mark.parametrize(("typed", "remarked"), [("7,5", True), ("7,5Fr", True), ("7.5,8.5", False), ("7,10", False)])
def test_a_comma_that_may_be_a_decimal_point_is_remarked(fit: Run, typed: str, remarked: bool):
    said = " ".join(fit("--scope", typed, "--sheath", "12")[1].split())
    assert (f"--scope {typed}: read as two sizes; decimals are written with a point" in said) is remarked


def test_another_reference_length_fluid_and_pressure(fit: Run):
    asked = ("--length", "36cm", "--viscosity", "1.0", "--density", "1010", "--pressure", "20mmHg")
    out = fit("--scope", "8.5", "--sheath", "10", "--reference", "8.5/10", "--format", "json", *asked)[1]
    told = json.loads(out)["definition"]
    assert (told["length_cm"], told["viscosity_mpa_s"], told["density_kg_m3"]) == (36, 1.0, 1010)
    assert told["pressure_pa"] == pytest.approx(20 * 133.322)
    row = rows_of(out, "outflow")[0]
    assert row["relative_pressure"] == 1
    # 9.596 mL/min at 45 cm, 0.69 mPa s, 3922.66 Pa
    at_default = rows_of(fit("--scope", "8.5", "--sheath", "10", "--format", "json")[1], "outflow")[0]
    expected = at_default["outflow_ml_min"] * (45 / 36) * (0.69 / 1.0) * (20 * 133.322 / 3922.66)
    assert row["outflow_ml_min"] == pytest.approx(expected, rel=1e-6)


def test_another_position(fit: Run):
    rows = rows_of(fit("--scope", "7.5", "--sheath", "10", "--eccentricity", "0.5", "--format", "json")[1], "outflow")
    assert [(row["position"], round(row["gain"], 4)) for row in rows] == [("off the axis by 0.5", 1.3698)]


def test_cases_that_cannot_be_told_are_named_and_the_others_answered(fit: Run):
    status, out, _ = fit("--scope", "7.5,12,2.5,7.5cubits,0", "--sheath", "10,12/10", "--format", "json")
    assert status == 0
    assert [row["pair"] for row in rows_of(out, "pairs")] == ["7.5 in 10 Fr"]
    found = {row["case"]: row["reason"] for row in rows_of(out, "not_answered")}
    assert set(found) == {"12 in 10 Fr", "--scope 2.5", "--scope 7.5cubits", "--scope 0", "--sheath 12/10"}
    assert "smaller than the sheath's inner diameter" in found["12 in 10 Fr"]
    assert "the unit cannot be told" in found["--scope 2.5"] and "2.5mm" in found["--scope 2.5"]
    assert "'cubits' cannot be told" in found["--scope 7.5cubits"]
    assert "above 0" in found["--scope 0"]
    assert "the outer has to be the larger" in found["--sheath 12/10"]


def test_an_impossible_reference_leaves_the_ratios(fit: Run):
    status, out, _ = fit("--scope", "7.5", "--sheath", "10", "--reference", "10/7.5", "--format", "json")
    assert status == 0
    row = rows_of(out, "outflow")[0]
    assert (row["relative_outflow"], row["relative_pressure"]) == (None, None)
    assert row["outflow_ml_min"] == pytest.approx(41.9, abs=0.05)
    assert "no reference" in row["relative_pressure_reason"]
    assert rows_of(out, "not_answered")[0]["case"] == "--reference 10 in 7.5 Fr"


def test_the_working_channel(fit: Run):
    asked = ("--channel", "3.6", "--device", "1.9,0.035in,272um,4", "--format", "json")
    status, out, _ = fit(*asked)
    assert status == 0
    rows = rows_of(out, "channel")
    assert [(row["passes"], row["free_mm2"] is None) for row in rows] == [("yes", False)] * 3 + [("no", True)]
    assert rows[0]["free_mm2"] == pytest.approx(0.81594, abs=5e-5)
    assert rows[1]["device_mm"] == pytest.approx(0.889)


def test_csv_names_the_section_and_every_number_in_full(fit: Run):
    out = fit("--scope", "7.5", "--sheath", "10", "--format", "csv")[1]
    table = list(csv.DictReader(io.StringIO(out.split("\n\n")[0])))
    assert table[0]["section"] == "pairs"
    assert float(table[0]["sheath_to_scope_ratio"]) == 4 / 3


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--scope", "7.5"), "--scope needs --sheath"),
        (("--device", "1.9"), "--device needs --channel"),
        ((), "Nothing is asked"),
        (("--scope", "thin", "--sheath", "10"), "--scope 'thin' is no size"),
        (("--scope", "7.5,", "--sheath", "10"), "--scope '' is no size"),
        (("--scope", "-7.5", "--sheath", "10"), "is no size"),
        (("--scope", "7.5/8", "--sheath", "10"), "--scope '7.5/8' is no size"),
        (("--scope", "7.5", "--sheath", "10", "--reference", "7.5"), "--reference '7.5' is no pair"),
        (("--scope", "7.5", "--sheath", "10", "--length", "0"), "--length '0' has to be a number from 1 to 400 cm"),
        (("--scope", "7.5", "--sheath", "10", "--viscosity", "nan"), "--viscosity 'nan'"),
        (("--scope", "7.5", "--sheath", "10", "--density", "1"), "--density '1' has to be a number from 500"),
        (("--scope", "7.5", "--sheath", "10", "--pressure", "40 psi"), "--pressure '40 psi' is no pressure"),
        (("--scope", "7.5", "--sheath", "10", "--pressure", "0"), "has to be above 0"),
        (("--scope", "7.5", "--sheath", "10", "--eccentricity", "1.2"), "--eccentricity '1.2'"),
        (("--scope", "7.5", "--sheath", "10", "--figure", "fit.pdf"), "has to end in .png or .svg"),
        (("--scope", "7.5", "--sheath", "10", "--no-own", "--research"), "--no-own asks no registry"),
        (("--scope", "7.5", "--sheath", "10", "--format", "xml"), "xml"),
    ],
)
def test_wrong_usage_leaves_with_status_2(fit: Run, arguments: tuple[str, ...], said: str):
    status, out, err = fit(*arguments)
    assert (status, out) == (2, "")
    assert said in " ".join(err.split())
    assert "Traceback" not in err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--scope", "12", "--sheath", "10"), "Nothing could be answered. 12 in 10 Fr: an impossible pair"),
        (("--scope", "75", "--sheath", "10"), "the unit cannot be told: as Fr, a scope of 75 is not to be expected"),
        (("--scope", "7.5in", "--sheath", "10"), "is not possible"),
        (("--channel", "1.2", "--device", "0.6"), "Write the unit: 1.2Fr, 1.2mm"),
        (("--scope", "7.5", "--sheath", "10", "--own"), "There is no registry"),
        (("--scope", "7.5", "--sheath", "10", "--figure", "nowhere/fit.svg"), "cannot be written"),
        (("--scope", "7.5", "--sheath", "10", "--reference", "10/9", "--figure", "f.svg"), "--figure: every pressure"),
        (("--channel", "3.6", "--device", "1.9", "--figure", "f.svg"), "there is no pair to draw"),
        (("--scope", "5,6,7,8,9,9.5", "--sheath", "10", "--figure", "f.svg"), "there are 6 scopes"),
    ],
)
def test_what_cannot_be_answered_leaves_with_status_1(fit: Run, tmp_path: Path, arguments: tuple[str, ...], said: str):
    status, out, err = fit(*arguments)
    assert (status, out) == (1, "")
    assert said in " ".join(err.split())
    assert list(tmp_path.iterdir()) == []


def test_a_registry_named_and_not_there_is_remarked(fit: Run):
    status, out, err = fit("--scope", "7.5", "--sheath", "10", "--registry", "none.db")
    assert status == 0
    assert "there is no file none.db" in err
    assert "own pairs" not in out


def test_help_imports_nothing_heavy():
    code = (
        "import sys; from analysis.reports.fit.command import fit\n"
        "try: fit.main(['--help'], prog_name='gravelbook fit')\n"
        "except SystemExit: pass\n"
        "print([name for name in ('pandas', 'numpy', 'sqlalchemy', 'scipy', 'duckdb') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
    assert "--sheath" in done.stdout
