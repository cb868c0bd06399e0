"""What is refused: values of --show, combinations without meaning, files that cannot be used; each with a sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from registry.store.registry import create_registry
from tests.command_line import gravelbook
from tests.reports.clinic import clinic

from .unit_with_scans import DETECTION, registry_of, unit_with_scans


@pytest.fixture(scope="module")
def location(tmp_path_factory: pytest.TempPathFactory) -> str:
    return registry_of(tmp_path_factory.mktemp("bad"), unit_with_scans())


def said(*arguments: str) -> tuple[int, str]:
    found = gravelbook("stone-free", *arguments)
    assert found.out == ""
    return found.status, " ".join(found.err.split())


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--show", "everything"), "--show 'everything' is not known; choose one or more of rates, map,"),
        (("--show", "map,map"), "names one thing twice"),
        (("--show", ""), "--show '' is not known"),
        (("--show", "rates,map", "--format", "json"), "Ask twice: --show rates, and --show map."),
        (("--show", "rates,readers", "--format", "csv"), "--format csv holds the rates alone"),
        (("--show", "corrected"), "--show corrected needs --detection FILE"),
        (("--detection", "x.toml"), "--detection is read for --show corrected alone"),
        (("--grade-table", "x.toml"), "--grade-table is read for --show ct-grades alone"),
        (("--grade-table", " ", "--show", "ct-grades"), "--grade-table is empty"),
        (("--show", "readers", "--figure", "x.png"), "--figure draws the rates or the map"),
        (("--show", "map", "--cases", "x.csv"), "ask for the rates by its definition"),
        (("--show", "readers,judgement", "--cases", "x.csv"), "the cases behind one kind of answer"),
        (
            ("--show", "map", "--by", "operator"),
            "--by has a meaning for rates and ct-grades and judgement and corrected alone",
        ),
        (("--show", "readers", "--compare", "technique=a,b"), "--compare has a meaning for rates and corrected alone"),
        (("--show", "ct-grades", "--unit", "patient"), "so --unit patient has no answer"),
        (("--show", "judgement", "--unit", "stone"), "so --unit stone has no answer"),
        (("--show", "judgement", "--unit", "course", "--sessions", "planned"), "--sessions planned has no answer"),
        (("--imputations", "0", "--show", "map"), "--imputations '0' has to be a whole number"),
    ],
)
def test_a_request_that_cannot_be_read(arguments: tuple[str, ...], words: str):
    status, text = said("--registry", "nowhere.db", *arguments)
    assert status == 2
    assert words in text


def test_a_setting_of_the_unit_may_be_what_stands_in_the_way(tmp_path: Path):
    rows = clinic(stone_free_unit="patient")
    location = str(tmp_path / "unit.db")
    rows.written(create_registry(location))
    status, text = said("--registry", location, "--show", "ct-grades")
    assert status == 1
    assert "--unit patient has no answer" in text
    assert "own setting" in text
    assert gravelbook("stone-free", "--registry", location, "--show", "ct-grades", "--unit", "side").status == 0


ROW = '[[detection]]\nmodality = "ct"\nsensitivity = 0.9\nspecificity = 0.9\n'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("modality =", "is not TOML"),
        ("", "has no [[detection]], so it says nothing"),
        ("sensitivity = 0.9", "'sensitivity' means nothing in a detection table"),
        ("name = 3\n" + ROW, "name and source have to be text"),
        ("detection = 3", "headed [[detection]]"),
        (ROW.replace('"ct"', '"xray"'), "modality 'xray' is not known; choose one of second_look, ct,"),
        (ROW.replace('"ct"', "7"), "modality has to be text"),
        (ROW.replace("sensitivity = 0.9", "sensitivity = 90"), "sensitivity has to be a number from 0 to 1, not 90"),
        (ROW.replace("specificity = 0.9", 'specificity = "high"'), "specificity has to be a number from 0 to 1"),
        (ROW.replace("specificity = 0.9\n", ""), "has no specificity; a row needs"),
        (ROW + "slice = 2\n", "has unknown slice"),
        (ROW + "n_sensitivity = 20\n", "give both n_sensitivity and n_specificity"),
        (ROW + "n_sensitivity = 20\nn_specificity = 0\n", "n_specificity has to be a whole number of 1 or more"),
        (ROW + "n_sensitivity = 20.5\nn_specificity = 9\n", "n_sensitivity has to be a whole number"),
        (ROW + 'threshold = "0,2"\n', "threshold '0,2' cannot be read"),
        (ROW + "threshold = true\n", "threshold True cannot be read"),
        (ROW + ROW, "has two rows for ct at every threshold"),
        (ROW + "threshold = 2\n" + ROW + 'threshold = "2"\n', "has two rows for ct at threshold 2"),
        (
            ROW.replace("sensitivity = 0.9", "sensitivity = 0.4").replace("specificity = 0.9", "specificity = 0.6"),
            "add up to 1. A scan whose two add up to 1 or less tells nothing, and no correction exists",
        ),
    ],
)
def test_a_detection_table_that_cannot_be_used(location: str, tmp_path: Path, text: str, words: str):
    path = tmp_path / "detection.toml"
    path.write_text(text, encoding="utf-8")
    status, told = said("--registry", location, "--show", "corrected", "--detection", str(path))
    assert status == 1
    assert words in told
    assert "detection.toml" in told


GRADES = '[[grade]]\ncode = "A"\nlabel = "none"\ncount_to = 0\n[[grade]]\ncode = "B"\nlabel = "some"\n'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("grade", "is not TOML"),
        ("", "has no [[grade]]"),
        ("colour = 1", "'colour' means nothing in a grade table"),
        (GRADES.replace("count_to = 0", "count_to = 0.5"), "count_to has to be a whole number of 0 or more, not 0.5"),
        (GRADES.replace("count_to = 0", "size_to_mm = -1"), "size_to_mm has to be a number of 0 or more"),
        (GRADES.replace('label = "some"', "label = 3"), "label has to be text"),
        (GRADES.replace('code = "B"', 'code = "A"'), "names a grade twice"),
        (GRADES + "count_to = 4\n", "The last grade of"),
        ('name = "ct-grades-1"\n' + GRADES, "is taken"),
    ],
)
def test_a_grade_table_that_cannot_be_used(location: str, tmp_path: Path, text: str, words: str):
    path = tmp_path / "grades.toml"
    path.write_text(text, encoding="utf-8")
    status, told = said("--registry", location, "--show", "ct-grades", "--grade-table", str(path))
    assert status == 1
    assert words in told
    assert "grades.toml" in told


def test_a_file_that_is_not_there_or_no_text(location: str, tmp_path: Path):
    status, told = said("--registry", location, "--show", "corrected", "--detection", str(tmp_path / "none.toml"))
    assert (status, "no such file" in told) == (1, True)
    path = tmp_path / "bytes.toml"
    path.write_bytes(b"\xff\xfe\x00")
    status, told = said("--registry", location, "--show", "ct-grades", "--grade-table", str(path))
    assert (status, "no text in UTF-8" in told) == (1, True)


def test_nothing_is_written_when_something_is_refused(location: str, tmp_path: Path):
    bad = tmp_path / "detection.toml"
    bad.write_text("", encoding="utf-8")
    cases = tmp_path / "cases.csv"
    status, _ = said(
        *("--registry", location, "--show", "rates,corrected", "--detection", str(bad), "--cases", str(cases))
    )
    assert (status, cases.exists()) == (1, False)


def test_a_threshold_in_the_file_goes_before_the_row_for_all(location: str, tmp_path: Path):
    path = tmp_path / "detection.toml"
    path.write_text(DETECTION + ROW.replace("0.9", "0.8") + "threshold = 2\n", encoding="utf-8")
    found = gravelbook(
        *("stone-free", "--registry", location, "--show", "corrected", "--detection", str(path)),
        *("--threshold", "0,2", "--format", "csv"),
    )
    assert found.status == 0, found.err
    lines = [line.split(",") for line in found.out.splitlines()]
    place = {name: at for at, name in enumerate(lines[0])}
    ct = [line for line in lines if line[place["modality"]] == "ct"]
    assert [line[place["sensitivity"]] for line in ct] == ["1", "0.8"]
