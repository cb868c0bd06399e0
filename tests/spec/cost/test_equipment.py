"""What equipment costs: single-use at the price of the day, reusable by the use."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tests.cohort.rows import Rows, day
from tests.spec.cost.accounts import accounts, cost_of, costed, operated, price, rate


def scoped(rows: Rows, on: int = 0, **use: object) -> int:
    side = operated(rows, rows.unit(), on, equipment=False)
    rows.used(side, 1, **use)  # type: ignore[arg-type]
    return side


def test_the_price_in_force_on_the_day_counts(tmp_path: Path) -> None:
    rows = accounts()
    scope = rows.scope(75, single_use="yes")
    price(rows, scope, 700, since=-100)
    price(rows, scope, 750, since=10)
    for on in (9, 10, -101):
        scoped(rows, on)
    courses = costed(rows, tmp_path).courses
    assert courses["consumables"].tolist()[:2] == [700, 750]
    assert math.isnan(courses["consumables"].iloc[2])  # before the first price nobody knows what it cost


def test_every_piece_opened_costs_whatever_came_of_it(tmp_path: Path) -> None:
    rows = accounts()
    price(rows, rows.scope(75, single_use="yes"), 700)
    side = scoped(rows, result="failed")
    rows.used(side, 1, result="withdrawn")
    rows.used(side, 1)
    assert cost_of(rows, tmp_path)["consumables"] == 2100


def test_a_model_of_which_nobody_said_whether_it_is_single_use_has_no_cost(tmp_path: Path) -> None:
    rows = accounts()
    price(rows, rows.scope(75), 700)
    scoped(rows)
    made = costed(rows, tmp_path, missing_price="zero")
    assert math.isnan(made.courses["cost"].iloc[0])
    assert "not said whether single-use" in made.charges["reason"].tolist()


def test_a_side_of_which_no_equipment_is_recorded_has_no_cost(tmp_path: Path) -> None:
    rows = accounts()
    operated(rows, rows.unit(), 0, equipment=False)
    operated(rows, rows.unit(), 0, equipment=False, conduct="not_started")
    courses = costed(rows, tmp_path).courses
    assert math.isnan(courses["consumables"].iloc[0])
    assert courses["consumables"].iloc[1] == 0  # nothing was begun, so nothing was opened


def test_a_price_that_is_missing_makes_no_cost_unless_zero_is_asked_for(tmp_path: Path) -> None:
    rows = accounts()
    rows.scope(75, single_use="yes")
    scoped(rows)
    assert math.isnan(cost_of(rows, tmp_path / "a")["cost"])
    made = costed(rows, tmp_path / "b", missing_price="zero")
    assert (made.courses["cost"].iloc[0], made.zeroed) == (600, 1)
    assert cost_of(rows, tmp_path / "c", components=("theatre", "beds"))["cost"] == 600


def reusable(**values: object) -> Rows:
    """Two pieces of one model, used in three and one operations; a second model is single-use."""
    rows = accounts()
    model = rows.scope(85, single_use="no")
    price(rows, model, 12_000)
    first, second = (
        rows.add("equipment_item", equipment_model_id=model, serial=serial, uses_before=before)
        for serial, before in (("N1", 0), ("N2", 16))
    )
    for on, item in ((0, first), (10, first), (20, second), (30, first)):
        scoped(rows, on, equipment_item_id=item)
    rows.add(
        "repair",
        equipment_item_id=first,
        repair_number=1,
        repaired_on=day(12),
        **{"cost": 1000, "currency": "EUR", **values},
    )
    return rows


def test_repairs_are_spread_over_all_uses_of_the_model(tmp_path: Path) -> None:
    courses = costed(reusable(), tmp_path).courses
    # Reprocessing 50, and 1000 over four uses, whichever piece it was.
    assert courses["reusables"].tolist() == [300, 300, 300, 300]


def test_a_repair_before_the_first_use_here_is_not_counted(tmp_path: Path) -> None:
    rows = reusable()
    rows.tables["repair"][0]["repaired_on"] = day(-1)
    assert costed(rows, tmp_path).courses["reusables"].tolist() == [50, 50, 50, 50]


def test_a_repair_of_unknown_cost_leaves_the_uses_without(tmp_path: Path) -> None:
    assert costed(reusable(cost=None, currency=None), tmp_path).courses["reusables"].isna().all()


def test_the_purchase_over_all_uses_when_it_is_asked_for(tmp_path: Path) -> None:
    courses = costed(reusable(), tmp_path, reusable="purchase").courses
    # Two pieces at 12,000 over 4 uses here and 16 before.
    assert courses["reusables"].tolist() == pytest.approx([300 + 1200] * 4)
    rows = reusable()
    rows.tables["equipment_item"][1]["uses_before"] = None
    made = costed(rows, tmp_path / "unknown", reusable="purchase", missing_price="zero")
    assert made.courses["reusables"].isna().all()


def test_a_piece_used_on_both_sides_is_reprocessed_once(tmp_path: Path) -> None:
    rows = accounts()
    model = rows.scope(85, single_use="no")
    item = rows.add("equipment_item", equipment_model_id=model, serial="N1")
    side = operated(rows, rows.unit(), 0, equipment=False)
    right = rows.unit(1, "right")
    other = rows.side(
        right, operation=rows.operation_of(side), course_id=rows.add("course", renal_unit_id=right), stage_number=0
    )
    for each in (side, other, other):
        rows.used(each, model, equipment_item_id=item)
    assert costed(rows, tmp_path).courses["reusables"].tolist() == [25, 25]


def test_a_rate_of_reprocessing_may_name_the_model_or_the_kind(tmp_path: Path) -> None:
    rows = reusable()
    rate(rows, "reprocessing", 70, "Flexible scope")
    assert costed(rows, tmp_path / "a").courses["reusables"].tolist() == [320] * 4
    rate(rows, "reprocessing", 90, "M1")
    assert costed(rows, tmp_path / "b").courses["reusables"].tolist() == [340] * 4


def test_what_stays_in_the_room_is_named_and_not_costed(tmp_path: Path) -> None:
    rows = accounts()
    laser = rows.model("energy_generator", single_use="no")
    rows.used(operated(rows, rows.unit(), 0), laser)
    made = costed(rows, tmp_path)
    assert made.courses["cost"].iloc[0] == 700
    (named,) = made.charges[made.charges["state"] == "not_costed"].to_dict("records")
    assert (named["what"], named["reason"]) == ("purchase: M1", "purchase not asked for")
