"""A study can clear a side only at thresholds it is adequate at; it can fail it at any."""

from __future__ import annotations

import pytest

from analysis.outcomes.adequacy import AdequacyRow, AdequacyTable, table_from_data
from analysis.outcomes.definition import DefinitionError

from .case import FIVE, Case, judge, ladder, mm, verdict

U, S = "unknown", "free"


def scanned(modality: str, **more: object) -> Case:
    case = Case()
    case.side()
    case.study(30, modality, **more)  # type: ignore[arg-type]
    return case


@pytest.mark.parametrize(
    ("slice_mm", "expected"),
    [
        (2, (S, S, S, S, S)),
        (2.1, (U, U, U, S, S)),  # from 3 mm: just under 4 is enough
        (3, (U, U, U, S, S)),
        (3.5, (U, U, U, U, S)),  # from 4 mm: just under 4 is not
        (4, (U, U, U, U, S)),
        (4.1, (U, U, U, U, U)),
        (0, (U, U, U, U, U)),  # not recorded
    ],
)
def test_ct_by_slice(slice_mm: float, expected: tuple[str, ...]):
    assert ladder(scanned("ct", slice_mm=slice_mm)) == " ".join(expected)


def test_at_3_mm_a_3_mm_slice_is_adequate_and_just_under_3_it_is_not():
    case = scanned("ct", slice_mm=3)
    assert list(judge(case, "lt3,3")["status"]) == [U, S]


@pytest.mark.parametrize("modality", ["ultrasound", "kub", "other"])
def test_ultrasound_and_film_clear_nobody(modality: str):
    assert ladder(scanned(modality)) == " ".join([U] * 5)


def test_a_second_look_clears_at_every_threshold_if_every_calyx_was_seen():
    assert ladder(scanned("second_look", every_calyx_seen=True)) == " ".join([S] * 5)
    assert ladder(scanned("second_look", every_calyx_seen=None)) == " ".join([U] * 5)


def test_an_unknown_slice_can_be_assumed():
    case = scanned("ct", slice_mm=0)
    assert ladder(case, assume_slice=3) == " ".join((U, U, U, S, S))


def test_an_assumed_slice_never_replaces_a_recorded_one():
    assert ladder(scanned("ct", slice_mm=5), assume_slice=1) == " ".join([U] * 5)


def test_an_inadequate_study_still_shows_failure_and_says_so():
    case = Case()
    case.side()
    case.study(30, "ultrasound", mm(3))
    found = judge(case, FIVE)
    assert list(found["status"]) == ["failed"] * 3 + ["unknown"] * 2
    assert list(found["failed_inadequate"]) == [True] * 3 + [False] * 2
    assert not found["adequate"].any()


def test_as_published_takes_every_study_at_its_word():
    assert ladder(scanned("kub"), adequacy="as-published") == " ".join([S] * 5)


OWN = table_from_data("ours", [{"modality": "kub", "from_mm": 4}, {"modality": "us+kub", "from_mm": 3}])


def test_a_unit_can_have_a_table_of_its_own():
    assert ladder(scanned("kub"), adequacy=OWN) == " ".join((U, U, U, U, S))
    assert ladder(scanned("ct"), adequacy=OWN) == " ".join([U] * 5)


def test_a_film_is_never_adequate_for_a_stone_that_does_not_show_on_it():
    case = Case()
    side = case.side()
    case.stone(side)
    case.study(30, "kub")
    assert verdict(case, "4", adequacy=OWN)[0] == "free"
    case.stone(side, radiolucent=True)
    assert verdict(case, "4", adequacy=OWN)[0] == "unknown"


def test_a_pair_for_such_a_stone_is_worth_its_ultrasound_alone():
    for ours, status in (([], "unknown"), ([{"modality": "ultrasound", "from_mm": 4}], "free")):
        case = Case()
        case.stone(case.side(), radiolucent=True)
        case.study(30, "kub")
        case.study(30, "ultrasound")
        table = table_from_data("ours", [{"modality": "us+kub", "from_mm": 0}, *ours])
        assert verdict(case, "4", adequacy=table)[0] == status
        assert verdict(case, "2", adequacy=table)[0] == "unknown"


def test_a_film_of_a_side_without_a_course_looks_at_the_stones_of_the_renal_unit():
    case = Case()
    case.stone(case.side(0), radiolucent=True)
    case.side(200, stage=None)
    case.study(230, "kub")
    assert list(judge(case, "4", adequacy=OWN)["status"]) == ["unknown", "unknown"]


def test_a_line_without_a_slice_holds_for_every_slice():
    table = AdequacyTable("every CT", (AdequacyRow("ct", from_mm=0),))
    assert ladder(scanned("ct", slice_mm=0), adequacy=table) == " ".join([S] * 5)


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ({"modality": "mri", "from_mm": 0}, "allowed are second_look, ct"),
        ({"modality": "ct"}, "has no from_mm"),
        ({"modality": "ct", "from_mm": 0, "slice": 3}, "has unknown slice"),
        ({"modality": "ct", "from_mm": -1}, "write 0 or more"),
        ({"modality": "ct", "from_mm": 0, "slice_over_mm": 3, "slice_to_mm": 2}, "the smaller one"),
    ],
)
def test_a_faulty_table_is_refused_in_a_sentence(row: dict[str, object], sentence: str):
    with pytest.raises(DefinitionError, match=sentence):
        table_from_data("ours", [row])


def test_a_built_in_name_is_not_reused():
    with pytest.raises(DefinitionError, match="is taken"):
        table_from_data("adequacy-1", [])


def test_every_calyx_was_seen_only_if_every_reading_says_so():
    case = Case()
    case.side()
    case.second_reader(case.study(30, "second_look", every_calyx_seen=True))
    assert verdict(case)[0] == "free"
    case.rows["examinations"][1]["every_calyx_seen"] = False
    assert verdict(case)[0] == "unknown"
