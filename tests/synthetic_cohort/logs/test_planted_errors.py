"""The list of errors, and that each can be planted where the list says."""

from __future__ import annotations

import pytest

from synthetic_cohort.logs.make_log import STYLES
from synthetic_cohort.logs.planted_errors import ERROR_KINDS, error_kind
from synthetic_cohort.logs.planting_cases import CASE_CHANGES
from synthetic_cohort.logs.planting_cells import CELL_CHANGES
from synthetic_cohort.logs.planting_lines import LINE_CHANGES
from tests.synthetic_cohort.logs.conftest import Maker

MANY, OPERATIONS = 42, 220


def test_planted_list_is_long_and_a_third_is_unruled() -> None:
    names = [kind.id for kind in ERROR_KINDS]
    assert len(names) == len(set(names)) >= 36
    assert 3 * sum(not kind.ruled for kind in ERROR_KINDS) >= len(names)
    assert all(kind.sentence.endswith(".") and kind.change.endswith(".") for kind in ERROR_KINDS)
    assert error_kind("sorted_in_part").points_at[0] == "admission.discharged_on"


def test_planted_every_kind_has_one_way_to_be_planted() -> None:
    ways = [*CASE_CHANGES, *CELL_CHANGES, *LINE_CHANGES]
    assert sorted(ways) == sorted(kind.id for kind in ERROR_KINDS)


def test_planted_every_kind_fits_some_style(log: Maker) -> None:
    planted = {of.kind.id for style in STYLES for of in log(style, errors=MANY, operations=OPERATIONS).planted}
    assert planted == {kind.id for kind in ERROR_KINDS}


@pytest.mark.parametrize("style", STYLES)
def test_planted_errors_change_their_lines_and_no_others(style: str, log: Maker) -> None:
    tidy, wrong = log(style), log(style, errors=20)
    assert len(wrong.planted) == 20
    right = {page.title + page.file: [[c.value for c in line.cells] for line in page.data] for page in tidy.pages}
    for page in wrong.pages:
        for line in page.data:
            cells = [cell.value for cell in line.cells]
            if line.planted is None:
                assert cells in right[page.title + page.file]
    for of in wrong.planted:
        changed = [[cell.value for cell in line.cells] for line in of.lines]
        assert any(cells not in rows for cells in changed for rows in right.values()), of.kind.id


@pytest.mark.parametrize("style", STYLES)
def test_planted_places_are_cells_of_no_clean_row(style: str, log: Maker) -> None:
    made = log(style, errors=20)
    clean = {(row.file, row.sheet, row.row) for row in made.truth.clean}
    assert clean
    for of in made.planted:
        places = of.places(made.pages)
        assert places, of.kind.id
        assert not clean & {(at.file, at.sheet, at.row) for at in places}, of.kind.id


@pytest.mark.parametrize("style", STYLES)
def test_planted_one_error_a_patient(style: str, log: Maker) -> None:
    made = log(style, errors=20)
    numbers = [{case.number for line in of.lines for case in line.entry} for of in made.planted]
    assert sum(map(len, numbers)) == len(set().union(*numbers))
