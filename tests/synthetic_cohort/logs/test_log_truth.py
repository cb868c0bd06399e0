"""The truth beside a log points at cells that say what it says, read with other people's libraries."""

from __future__ import annotations

import json
from datetime import date, datetime
from pathlib import Path

import pytest

from synthetic_cohort.logs.make_log import STYLES
from synthetic_cohort.logs.mess import Mess
from synthetic_cohort.logs.truth_of_log import State
from tests.synthetic_cohort.logs.conftest import Maker
from tests.synthetic_cohort.logs.reading_back import CellsOfLog


@pytest.mark.parametrize("style", STYLES)
def test_truth_every_recoverable_value_stands_somewhere(style: str, log: Maker) -> None:
    made = log(style, Mess.heavy())
    cells = CellsOfLog(made)
    kept = [of for of in made.truth.values if of.state is State.RECOVERABLE]
    assert len(kept) > 30 * 20, "sixty operations carry hundreds of values"
    for of in kept:
        assert any(cells.at(place) is not None for place in of.places), of


@pytest.mark.parametrize("style", STYLES)
def test_truth_lost_values_are_marks_of_missing(style: str, log: Maker) -> None:
    made = log(style, Mess.heavy())
    cells = CellsOfLog(made)
    lost = [of for of in made.truth.values if of.state is State.LOST]
    assert lost, "heavy mess wipes something out"
    for of in lost:
        assert {str(cells.at(place)) for place in of.places} <= set(made.style.marks)


@pytest.mark.parametrize("style", ["grouped", "yearly"])
def test_truth_days_read_right_in_either_epoch(style: str, log: Maker) -> None:
    """A day is stored as a number of days since 1900 or 1904; a general library gives the day back."""
    made = log(style)
    cells = CellsOfLog(made)
    days = [of for of in made.truth.values if of.heading == "operated_on"]
    assert len(days) > 30
    for of in days:
        stands = cells.at(of.places[0])
        assert isinstance(stands, datetime)
        assert stands.date() == of.value


def test_truth_sizes_in_centimetres_with_a_comma(log: Maker) -> None:
    made = log("semicolon")
    cells = CellsOfLog(made)
    sizes = [of for of in made.truth.values if (of.table, of.heading) == ("stone", "length_mm")]
    assert sizes
    for of in sizes:
        text = str(cells.at(of.places[0]))
        assert "." not in text
        assert float(text.replace(",", ".")) * 10 == pytest.approx(of.value)


def test_truth_other_units(log: Maker) -> None:
    """Inches of 25.4 mm, pounds of 0.45359237 kg, creatinine by 88.4, hours of 60 minutes."""
    made = log("tabs")
    cells = CellsOfLog(made)
    factors = {"height_cm": 2.54, "weight_kg": 0.45359237, "creatinine_umol_l": 88.4, "haemoglobin_g_l": 10}
    seen = set()
    for of in made.truth.values:
        text = str(cells.at(of.places[0]))
        if of.heading in factors:
            assert float(text) * factors[of.heading] == pytest.approx(of.value)
            seen.add(of.heading)
        elif of.heading == "operating_min":
            hours, minutes = text.split(":")
            assert int(hours) * 60 + int(minutes) == of.value
            seen.add(of.heading)
    assert seen == {*factors, "operating_min"}


@pytest.mark.parametrize("style", STYLES)
def test_truth_json_is_the_truth(style: str, log: Maker, tmp_path: Path) -> None:
    made = log(style, Mess.usual(), errors=6)
    made.write(tmp_path)
    written = json.loads((tmp_path / "truth.json").read_text(encoding="utf-8"))
    assert len(written["values"]) == len(made.truth.values)
    assert len(written["clean_rows"]) == len(made.truth.clean)
    first, true = written["values"][0], made.truth.values[0]
    assert (first["table"], first["heading"], first["state"]) == (true.table, true.heading, true.state)
    days = [of for of in made.truth.values if isinstance(of.value, date)]
    assert days[0].value.isoformat() in {of["value"] for of in written["values"]}
    assert len(json.loads((tmp_path / "planted.json").read_text(encoding="utf-8"))) == len(made.planted)
