"""How many picked studies hold an examination that was read more than once."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from analysis.reports.stone_free.answer import answered
from analysis.reports.stone_free.request import read_request
from tests.spec.stone_free.case import Case, mm

from .made import SOURCE


def counted(case: Case, **typed: str) -> int:
    frames = dict(vars(case.tables()))
    as_of = frames.pop("as_of")
    assert isinstance(as_of, dt.date)
    return answered(read_request(typed), replace(SOURCE, as_of=as_of), frames["sides"], frames).several_readings


def paired(film_again: bool = False, ultrasound_again: bool = False) -> Case:
    case = Case()
    case.side()
    film, ultrasound = case.study(30, "kub"), case.study(31, "ultrasound")
    for again, study in ((film_again, film), (ultrasound_again, ultrasound)):
        if again:
            case.second_reader(study, mm(5))
    return case


def test_a_pair_read_once_each_is_not_read_more_than_once():
    assert counted(paired()) == 0


@pytest.mark.parametrize(("film", "ultrasound"), [(True, False), (False, True), (True, True)])
def test_a_pair_is_one_unit_whichever_of_it_was_read_again(film: bool, ultrasound: bool):
    assert counted(paired(film, ultrasound)) == 1


def test_a_film_read_twice_beside_an_ultrasound_nobody_read_counts():
    case = Case()
    case.side()
    film = case.study(30, "kub")
    case.second_reader(film)
    case.study(31, "ultrasound", read=False)
    assert counted(case, imaging="us+kub") == 1


def test_a_single_study_read_twice_counts_and_one_never_picked_does_not():
    case = Case()
    case.side()
    case.second_reader(case.study(30))
    assert counted(case) == 1
    case = Case()
    case.side()
    case.study(30)
    case.second_reader(case.study(80))
    assert counted(case) == 0


def test_the_reading_of_the_other_kidney_is_no_second_reading():
    case = Case()
    case.side(unit=1)
    study = case.study(30, unit=1)
    case.second_reader(study)
    case.rows["examinations"][-1]["renal_unit_id"] = 2
    assert counted(case) == 0


def test_nobody_scanned_is_none():
    case = Case()
    case.side()
    assert counted(case) == 0
