"""What fragments say at 0, < 2, 2, < 4 and 4 mm (in that order), and which of them count."""

from __future__ import annotations

import pytest

from .case import Case, judge, ladder, larger_than, mm, verdict

F, U, S = "failed", "unknown", "free"


def shown(*fragments: dict[str, object]) -> str:
    case = Case()
    case.side()
    case.study(30, "ct", *fragments)
    return ladder(case)


@pytest.mark.parametrize(
    ("fragment", "expected"),
    [
        (mm(1), (F, S, S, S, S)),
        (mm(2), (F, F, S, S, S)),  # 2 mm is not smaller than 2 mm, and not larger either
        (mm(3), (F, F, F, S, S)),
        (mm(4), (F, F, F, F, S)),
        (mm(4.1), (F, F, F, F, F)),
        (mm(1, 3), (F, U, U, S, S)),
        (mm(2, 4), (F, F, U, U, S)),  # at < 2: 2 or more fails; at 4: at most 4 passes
        (mm(2.5, 6), (F, F, F, U, U)),
        (mm(None), (F, U, U, U, U)),
        (mm(None, kind="dust"), (F, U, U, U, U)),
        (mm(1, kind="dust"), (F, S, S, S, S)),
        (mm(0, 1), (U, S, S, S, S)),  # a range that begins at nothing: at 0 neither above it nor within it
        (mm(0, 2), (U, U, S, S, S)),  # "stone-free at 2 mm", as a log may say it without more
        (mm(None, 2), (F, U, S, S, S)),  # a fragment was seen, "up to 2"
        (larger_than(2), (F, F, F, U, U)),  # surely above 2
        (larger_than(4), (F, F, F, F, F)),
    ],
)
def test_a_fragment_from_a_to_b_fails_above_a_passes_from_b_and_between_is_undecided(fragment, expected):
    assert shown(fragment) == " ".join(expected)


def test_none_seen_on_an_adequate_study_is_free_everywhere():
    assert shown() == " ".join([S] * 5)


def test_a_side_fails_if_any_fragment_does():
    assert shown(mm(1), mm(3), mm(None)) == " ".join((F, F, F, U, U))


def test_a_side_is_unknown_if_none_fails_and_one_is_undecided():
    assert shown(mm(1), mm(1, 3)) == " ".join((F, U, U, S, S))


def test_fragments_said_but_not_listed_are_one_without_a_size():
    case = Case()
    case.side()
    case.study(30, finding="fragments")
    assert ladder(case) == " ".join((F, U, U, U, U))


def test_encrusted_stents_and_calcified_parenchyma_do_not_count():
    assert shown(mm(9, source="no_stone")) == " ".join([S] * 5)


def test_any_stone_counts_new_ones_too():
    assert shown(mm(9, source="new")) == " ".join([F] * 5)


def test_targeted_leaves_out_new_stones_and_counts_what_is_not_said():
    case = Case()
    case.side()
    case.study(30, "ct", mm(9, source="new"), mm(3))
    assert ladder(case, stones="targeted") == " ".join((F, F, F, S, S))


def test_targeted_leaves_out_a_stone_left_on_purpose_if_that_was_said_before_access():
    for before, status in ((True, "free"), (False, "failed")):
        case = Case()
        side = case.side()
        stone = case.stone(side, aimed=False, before=before)
        case.study(30, "ct", mm(9, source="stone", stone_id=stone))
        assert verdict(case, stones="targeted")[0] == status
        assert verdict(case, stones="any")[0] == "failed"


def test_targeted_counts_a_stone_that_was_aimed_at():
    case = Case()
    stone = case.stone(case.side())
    case.study(30, "ct", mm(9, source="stone", stone_id=stone))
    assert verdict(case, stones="targeted")[0] == "failed"


def test_a_stone_left_by_the_index_and_aimed_at_by_the_stage_counts_once_stages_are_waited_for():
    case = Case()
    index = case.side(0, course=9)
    stone = case.stone(index, aimed=False)
    stage = case.side(100, stage=1, course=9)
    case.aim(stone, stage)
    case.study(30, "ct", mm(9, source="stone", stone_id=stone))
    case.study(130, "ct", mm(9, source="stone", stone_id=stone))
    assert verdict(case, unit="course", stones="targeted")[0] == "free"
    assert verdict(case, unit="course", stones="targeted", sessions="planned")[0] == "failed"


def two_readers(first: tuple, second: tuple, finding: str = "") -> Case:
    case = Case()
    case.side()
    case.second_reader(case.study(30, "ct", *first), *second, finding=finding)
    return case


def test_of_several_readings_one_failure_fails():
    assert verdict(two_readers((), (mm(5),)))[0] == "failed"


def test_of_several_readings_all_must_be_free():
    assert verdict(two_readers((mm(1),), ()))[0] == "free"
    assert verdict(two_readers((), (), finding="indeterminate"))[0] == "unknown"


def test_the_number_of_readings_is_told():
    assert judge(two_readers((), ())).iloc[0]["n_readings"] == 2


def test_an_examination_that_one_reader_could_read_counts_as_read():
    case = two_readers((), (), finding="indeterminate")
    case.study(31)
    assert judge(case).iloc[0]["days_after"] == 30


def test_an_indeterminate_reading_that_lists_a_fragment_above_the_threshold_is_failure():
    case = Case()
    case.side()
    case.study(30, "ct", mm(6), finding="indeterminate")
    assert verdict(case, "4")[0] == "failed"
