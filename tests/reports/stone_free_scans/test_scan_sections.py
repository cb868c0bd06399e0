"""Grades, judgement, readers and correction of a unit worked out by hand, through the command."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from analysis.estimators.misclassification import rogan_gladen
from tests.command_line import gravelbook

from .unit_with_scans import DETECTION, registry_of, unit_with_scans


@pytest.fixture(scope="module")
def location(tmp_path_factory: pytest.TempPathFactory) -> str:
    return registry_of(tmp_path_factory.mktemp("scans"), unit_with_scans())


@pytest.fixture(scope="module")
def detection(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("detection") / "detection.toml"
    path.write_text(DETECTION, encoding="utf-8")
    return str(path)


def rows_of(location: str, *arguments: str) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    found = gravelbook("stone-free", "--registry", location, "--format", "json", *arguments)
    assert found.status == 0, found.err
    told = json.loads(found.out)
    return told["rows"], told["definition"]


def only(rows: list[dict[str, Any]], **values: Any) -> dict[str, Any]:
    (row,) = [row for row in rows if all(row[name] == value for name, value in values.items())]
    return row


def test_grades_of_those_on_a_fine_ct(location: str):
    rows, definition = rows_of(location, "--show", "ct-grades")
    grades = {row["grade"]: row["events"] for row in rows if row["section"] == "ct_grades"}
    # Fine CTs: 1 and 3 clear; 9 one of 2 mm, 10 by its worse reading; 2 one of 3 mm; 4 two, 5 one of 6 mm.
    assert grades == {"A": 2, "B": 2, "C": 1, "D": 2}
    a = only(rows, section="ct_grades", grade="A")
    assert (a["n"], a["unknown"], a["estimate"]) == (7, 3, pytest.approx(2 / 7))
    assert a["modalities"] == {"ct": 7}
    reasons = {row["reason"]: row["events"] for row in rows if row["section"] == "not_graded"}
    assert reasons == {
        "no CT in the window": 2,
        "the CT is too coarse: it cannot rule out what it does not show": 1,
    }
    assert "no society's consensus" in definition["sections"]["ct_grades"]["grade_table"]["source"]
    assert any("1 kidneys are D all the same" in note for note in definition["sections"]["ct_grades"]["notes"])


def test_grades_by_group_and_their_cases(location: str, tmp_path: Path):
    rows, _ = rows_of(location, "--show", "ct-grades", "--by", "operator", "--cases", str(tmp_path / "g.csv"))
    assert only(rows, section="ct_grades", grade="D", group={"operator": "S1"})["events"] == 2
    with (tmp_path / "g.csv").open(encoding="utf-8") as file:
        cases = list(csv.DictReader(file))
    assert [case["grade"] for case in cases] == ["A", "C", "A", "D", "D", "D", "", "", "B", "B"]
    assert cases[5]["not_graded_because"].startswith("the CT is too coarse")


def test_a_grade_table_of_the_units_own(location: str, tmp_path: Path):
    path = tmp_path / "grades.toml"
    path.write_text(
        'name = "small or large"\n[[grade]]\ncode = "small"\nlabel = "up to 2 mm"\nsize_to_mm = 2\n'
        '[[grade]]\ncode = "large"\nlabel = "more"\n',
        encoding="utf-8",
    )
    rows, definition = rows_of(location, "--show", "ct-grades", "--grade-table", str(path))
    assert {row["grade"]: row["events"] for row in rows if row["section"] == "ct_grades"} == {"small": 5, "large": 2}
    assert definition["sections"]["ct_grades"]["grade_table"]["name"] == "small or large"


def test_judgement_against_the_scan(location: str):
    rows, _ = rows_of(location, "--show", "judgement", "--threshold", "0,2")
    # Judged and on a fine CT: 1 nothing/clear, 2 nothing/residual, 3 dust/clear, 4 and 5 left/residual,
    # 10 nothing/residual at 0 mm and clear at 2 mm.
    table = {
        (row["threshold_mm"], row["judged"]): (row["events"], row["n"], row["unknown"])
        for row in rows
        if row["section"] == "judgement_against_scan"
    }
    assert table[0, "nothing"] == (2, 3, 2)  # 6 coarse CT, 7 ultrasound
    assert table[2, "nothing"] == (1, 3, 2)
    assert table[0, "dust"] == (0, 1, 1)
    assert table[0, None] == (1, 1, 0)
    accuracy = {
        (row["cut"], row["measure"]): (row["events"], row["n"])
        for row in rows
        if row["section"] == "judgement_accuracy" and row["threshold_mm"] == 0
    }
    assert accuracy["anything", "sensitivity"] == (2, 4)
    assert accuracy["anything", "specificity"] == (1, 2)
    assert accuracy["fragments", "specificity"] == (2, 2)
    assert accuracy["fragments", "ppv"] == (2, 2)
    assert accuracy["fragments", "npv"] == (2, 4)
    agreed = only(rows, section="judgement_agreement", threshold_mm=0, cut="fragments")
    assert (agreed["both"], agreed["judged_only"], agreed["scan_only"], agreed["neither"]) == (2, 0, 2, 2)
    assert (agreed["n"], agreed["unknown"]) == (6, 4)
    assert agreed["estimate"] == pytest.approx(0.4)  # (4/6 - 4/9) / (1 - 4/9)


def test_judgement_text_names_the_scans(location: str):
    found = gravelbook("stone-free", "--registry", location, "--show", "judgement")
    assert found.status == 0, found.err
    assert "Studies compared at 0 mm: CT 6 (100 %)." in found.out
    assert "on a study adequate at it" in " ".join(found.out.split())


def test_two_readers_of_one_ct(location: str):
    rows, definition = rows_of(location, "--show", "readers", "--threshold", "0,2")
    at_zero = only(rows, section="reader_agreement", readers="R1 and R2", threshold_mm=0)
    assert (at_zero["n"], at_zero["first_only"], at_zero["second_only"], at_zero["observed"]) == (1, 0, 1, 0.0)
    at_two = only(rows, section="reader_agreement", readers="R1 and R2", threshold_mm=2)
    assert (at_two["observed"], at_two["estimate"]) == (1.0, None)
    assert "one grade only" in at_two["reason"]
    told = definition["sections"]["reader_agreement"]
    assert (told["read_more_than_once"], told["modalities"]) == (1, {"ct": 1})
    sizes = only(rows, section="reader_sizes", readers="R1 and R2", which="all, none seen as 0 mm")
    assert (sizes["n"], sizes["estimate"], sizes["reason"]) == (1, None, "fewer than 3 pairs")


def test_correction_by_modality_and_together(location: str, detection: str):
    rows, _ = rows_of(location, "--show", "corrected", "--detection", detection, "--threshold", "2")
    ct = only(rows, modality="ct")
    # Taken at their word, the coarse one too: 2, 5, 6 above 2 mm of 1, 2, 3, 4, 5, 6, 9, 10.
    assert (ct["events"], ct["n"], ct["estimate"], ct["apparent"]) == (3, 8, 0.625, 0.625)
    seen = only(rows, modality="ultrasound")
    assert (seen["events"], seen["n"]) == (0, 1)
    expected = rogan_gladen(events=0, n=1, sensitivity=0.5, specificity=0.9, n_sensitivity=60, n_specificity=40)
    assert (seen["estimate"], seen["cut"]) == (1.0, True)
    assert seen["uncut"] == pytest.approx(1 - (0 + 0.9 - 1) / 0.4)
    assert (seen["low"], seen["high"]) == (1 - expected.high, 1 - expected.low)
    whole = only(rows, modality="all")
    assert whole["uncut"] == pytest.approx((8 * 0.625 + 1 * 1.25) / 9)
    assert (whole["n"], whole["unknown"], whole["modalities"]) == (9, 1, {"ct": 8, "ultrasound": 1})
    assert whole["low"] < whole["estimate"] < whole["high"]


def test_a_modality_without_figures_is_named_and_nothing_is_put_together(location: str, tmp_path: Path):
    path = tmp_path / "ct.toml"
    path.write_text('[[detection]]\nmodality = "ct"\nsensitivity = 0.97\nspecificity = 0.95\n', encoding="utf-8")
    rows, _ = rows_of(location, "--show", "corrected", "--detection", str(path), "--threshold", "2")
    assert only(rows, modality="ultrasound")["reason"] == "no sensitivity and specificity given"
    whole = only(rows, modality="all")
    assert (whole["estimate"], whole["reason"]) == (None, "no figures for ultrasound")


def test_a_scan_that_never_errs_changes_nothing(location: str, tmp_path: Path):
    path = tmp_path / "all.toml"
    perfect = ("ct", "ultrasound")
    path.write_text(
        "".join(f'[[detection]]\nmodality = "{one}"\nsensitivity = 1\nspecificity = 1\n' for one in perfect), "utf-8"
    )
    rows, _ = rows_of(location, "--show", "corrected", "--detection", str(path), "--threshold", "0,2,4")
    assert rows
    for row in rows:
        assert row["estimate"] == pytest.approx(row["apparent"])


def test_a_difference_corrected_and_bounded(location: str, detection: str):
    rows, _ = rows_of(
        *(location, "--show", "corrected", "--detection", detection, "--threshold", "2"),
        *("--compare", "operator=S1,S2"),
    )
    # S1: 2 and 5 above 2 mm of five CTs. S2: 6 above it of three CTs (6, 9, 10), 6 coarse but taken at its word.
    ct = only(rows, section="corrected_difference", modality="ct")
    assert (ct["n_index"], ct["n_comparator"]) == (5, 3)
    assert ct["estimate"] == pytest.approx((3 / 5) - (2 / 3))
    assert ct["estimate"] == pytest.approx(ct["difference_as_scanned"])
    assert ct["low"] < ct["estimate"] < ct["high"]
    bounds = only(rows, section="difference_bounds")
    # Known: S1 3 of 5 free; S2 6 failed, 9 and 10 free, 7 (ultrasound) and 8 unknown.
    assert (bounds["n_index"], bounds["n_comparator"], bounds["unknown"]) == (5, 3, 2)
    assert (bounds["worst"], bounds["best"]) == pytest.approx((3 / 5 - 4 / 5, 3 / 5 - 2 / 5))
    text = gravelbook(
        *("stone-free", "--registry", location, "--show", "corrected", "--detection", detection),
        *("--compare", "operator=S1,S2"),
    )
    assert "operator: S1 less S2" in text.out
    missing = gravelbook(
        *("stone-free", "--registry", location, "--show", "corrected", "--detection", detection),
        *("--compare", "operator=S1,S9"),
    )
    assert (missing.status, "S9" in missing.err) == (1, True)


def test_several_kinds_in_one_answer(location: str, detection: str):
    kinds = "ct-grades,judgement,readers,corrected"
    rows, definition = rows_of(location, "--show", kinds, "--detection", detection)
    assert definition["show"] == kinds.split(",")
    assert {row["section"] for row in rows} == {
        *("ct_grades", "not_graded", "judgement_against_scan", "judgement_agreement", "judgement_accuracy"),
        *("reader_agreement", "reader_sizes", "corrected"),
    }
    for row in rows:
        assert {"section", "group", "n", "unknown", "estimate", "low", "high"} <= set(row)
    text = gravelbook(
        "stone-free", "--registry", location, "--show", f"rates,{kinds}", "--detection", detection, "--threshold", "2"
    )
    assert text.status == 0, text.err
    assert text.out.index("Stone-free treated sides") < text.out.index("Grades of what is left")
    assert text.out.count("Who is counted") == 1


def test_rates_alone_are_what_they_were(location: str):
    plain = gravelbook("stone-free", "--registry", location, "--format", "json")
    shown = gravelbook("stone-free", "--registry", location, "--format", "json", "--show", "rates")
    assert plain.out == shown.out
    assert set(json.loads(plain.out)) == {"definition", "rows", "comparisons"}


@pytest.mark.parametrize(("kind", "lines"), [("judgement", 10), ("readers", 2), ("corrected", 10)])
def test_every_kind_has_its_cases(location: str, detection: str, tmp_path: Path, kind: str, lines: int):
    named = ("--detection", detection) if kind == "corrected" else ()
    path = tmp_path / "cases.csv"
    found = gravelbook(
        *("stone-free", "--registry", location, "--show", kind, "--threshold", "2", "--cases", str(path)), *named
    )
    assert found.status == 0, found.err
    with path.open(encoding="utf-8") as file:
        assert len(list(csv.DictReader(file))) == lines


def test_an_empty_group_gives_nulls(location: str, detection: str):
    rows, _ = rows_of(
        *(location, "--show", "ct-grades,judgement,corrected", "--detection", detection),
        *("--by", "largest_mm:10"),
    )
    assert any(row["n"] == 0 and row["estimate"] is None for row in rows)
