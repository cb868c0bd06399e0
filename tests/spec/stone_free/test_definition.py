"""A definition says all its parts, and refuses what cannot be meant."""

from __future__ import annotations

import json

import pytest

from analysis.outcomes.definition import ALLOWED, Definition, DefinitionError
from analysis.outcomes.inputs import TablesError, check, problems
from analysis.outcomes.status import stone_free_status
from analysis.outcomes.thresholds import Threshold, parse_thresholds

from .case import Case, mm


def test_thresholds_are_read_as_they_are_written():
    assert parse_thresholds("0,lt2, 2,2.5") == (
        Threshold(0),
        Threshold(2, strict=True),
        Threshold(2),
        Threshold(2.5),
    )


def test_just_under_2_comes_before_2():
    codes = ["4", "lt4", "2", "lt2", "0"]
    ordered = sorted((parse_thresholds(code)[0] for code in codes), key=lambda one: one.order)
    assert [one.code for one in ordered] == ["0", "lt2", "2", "lt4", "4"]


def test_the_defaults():
    plain = Definition()
    assert [one.code for one in plain.thresholds] == ["0", "2", "4"]
    assert (plain.window, plain.target_day, plain.imaging, plain.pick) == ((14, 90), 30, "any", "nearest")
    assert all(getattr(plain, option) == allowed[0] for option, allowed in ALLOWED.items())


@pytest.mark.parametrize(("window", "day"), [("14:90", 30), ("30:60", 30), ("60:91", 75), ("0:20", 10)])
def test_the_target_is_day_30_if_inside_the_window_else_its_middle_rounded_down(window: str, day: int):
    assert Definition.from_options(window=window).target_day == day


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({"threshold": "two"}, "'two' is no threshold"),
        ({"threshold": ""}, "is no threshold"),
        ({"threshold": "-1"}, "is no threshold"),
        ({"threshold": "lt0"}, "lt0 means nothing"),
        ({"threshold": "2,2.0"}, "given twice"),
        ({"window": "14-90"}, "is no window"),
        ({"window": "90:14"}, "is no window"),
        ({"target": 120}, "outside the window 14:90"),
        ({"imaging": "mri"}, "imaging cannot be 'mri'; choose one of any, ct, us, kub, us\\+kub, second-look"),
        ({"pick": "first"}, "choose one of nearest, last, best"),
        ({"adequacy": "ours"}, "choose one of adequacy-1, as-published"),
        ({"assume_slice": 0}, "above 0"),
        ({"assume_slice": "thin"}, "number of millimetres"),
        ({"unit": "kidney"}, "choose one of side, stone, operation, course, patient"),
        ({"colour": "red"}, "'colour' is no part"),
        *(
            ({"unit": unit, "sessions": sessions}, "use unit course or patient, or sessions single")
            for unit in ("side", "stone", "operation")
            for sessions in ("planned", "auxiliary")
        ),
    ],
)
def test_what_cannot_be_meant_is_refused_in_a_sentence(options: dict[str, object], sentence: str):
    with pytest.raises(DefinitionError, match=sentence):
        Definition.from_options(options)


def test_the_sentence_holds_every_part():
    words = Definition.from_options(
        threshold="lt2",
        imaging="us+kub",
        pick="best",
        adequacy="as-published",
        assume_slice=5,
        window="61:120",
        unit="course",
        sessions="auxiliary",
        stones="targeted",
        retreated="unknown",
        died="failed",
        denominator="protocol",
    ).in_words()
    for part in (
        "< 2 mm",
        "ultrasound paired with a plain film",
        "the best modality",
        "adequacy switched off",
        "taken as 5 mm",
        "day 61 to 120",
        "every course",
        "last planned or auxiliary treatment",
        "left on purpose",
        "treated again before such a study is unknown",
        "death before such a study is a failure",
        "went by protocol",
    ):
        assert part in words


def test_every_choice_changes_the_sentence():
    for option, allowed in ALLOWED.items():
        for value in allowed[1:]:
            more = {"unit": "course"} if option == "sessions" else {}
            assert (
                Definition.from_options(more, **{option: value}).in_words() != Definition.from_options(more).in_words()
            )


def test_the_dictionary_is_plain_json_with_defaults_resolved():
    said = json.loads(json.dumps(Definition.from_options(window="60:91").as_dict()))
    assert said["window"] == [60, 91]
    assert said["target_day"] == 75
    assert said["thresholds"][1] == {"code": "2", "threshold_mm": 2.0, "comparison": "<="}
    assert said["adequacy"]["name"] == "adequacy-1"


def test_a_definition_that_can_only_fail_warns():
    assert any("never success" in said for said in Definition.from_options(imaging="us").cautions())
    assert Definition().cautions() == ()


def test_unsound_tables_are_refused_with_every_fault_at_once():
    case = Case()
    case.side()
    case.study(30, "ct", mm(3, 1))
    case.rows["sides"][0]["conduct"] = "half done"
    case.rows["deaths"].append({"patient_id": 1, "on_low": None, "on_high": None})
    with pytest.raises(TablesError) as caught:
        check(case.tables())
    said = " ".join(caught.value.problems)
    assert "sides: conduct is none of completed, abandoned, not_started, no_stone_found in 1 row" in said
    assert "deaths: on_low is missing in 1 row" in said


@pytest.mark.parametrize(
    ("frame", "change", "sentence"),
    [
        ("fragments", {"high_mm": 1.0}, "high_mm is below low_mm"),
        ("fragments", {"reading_id": 9999}, "reading_id is no reading"),
        ("fragments", {"low_mm": None, "above": True}, "above is true without low_mm"),
        ("examinations", {"slice_mm": -1.0}, "slice_mm is 0 or less"),
        ("sides", {"course_id": None}, "stage is 0 without a course_id"),
    ],
)
def test_faults_between_columns_are_found(frame: str, change: dict[str, object], sentence: str):
    case = Case()
    case.side()
    case.study(30, "ct", mm(3))
    case.rows[frame][0].update(change)
    assert any(sentence in said for said in problems(case.tables()))


def test_a_missing_column_and_text_for_dates_are_named():
    case = Case()
    case.side()
    tables = case.tables()
    tables.sides.drop(columns="intent", inplace=True)
    tables.treatments["on_low"] = "2025-01-01"
    said = problems(tables)
    assert "sides lacks the column(s) intent." in said
    assert any(sentence.startswith("treatments.on_low holds object, not dates") for sentence in said)


def test_ids_that_may_be_missing_may_come_as_floats():
    case = Case()
    case.side(0, course=9)
    case.side(60, stage=1, course=9)
    tables = case.tables()
    for frame, column in (("sides", "course_id"), ("treatments", "course_id"), ("treatments", "side_id")):
        loose = getattr(tables, frame)
        loose[column] = loose[column].astype("float64")
    assert problems(tables) == []
    assert list(stone_free_status(tables, Definition())["rung"][::3]) == ["retreated_planned", "no_study"]
