"""What is due that needs the patient: stents, scans, reviews. Each has one that is listed and one that is not."""

from __future__ import annotations

import pytest

from registry.store.registry import Registry
from registry.validation.due.item import DueItem, Way, What
from registry.validation.due.listing import due
from tests.validation.small_registry import TODAY, SmallRegistry, day


@pytest.fixture
def small(registry: Registry) -> SmallRegistry:
    return SmallRegistry(registry)


def listed(small: SmallRegistry, what: What, on: int = 200, within: int = 0) -> dict[int, DueItem]:
    """The items of a kind by row, in their order."""
    return {item.row: item for item in due(small.registry, on=day(on), what=[what], within=within)}


def test_a_scan_is_due_from_day_30_until_one_was_done_in_or_after_the_window(small: SmallRegistry) -> None:
    never, _ = small.side(100)
    early, early_unit = small.side(100)
    small.scan(early_unit, 113)  # day 13, before the window opens on day 14
    in_window, in_window_unit = small.side(100)
    small.scan(in_window_unit, 114)
    later, later_unit = small.side(100)
    small.scan(later_unit, 195)
    other_side, other_unit = small.side(100)
    small.scan(small.unit(small.patient_of(other_unit), "right"), 130)
    not_read, not_read_unit = small.side(100)
    small.scan(not_read_unit, 130, read=False)
    refused, refused_unit = small.side(100)
    small.scan(refused_unit, 130, not_done="refused")
    booked, booked_unit = small.side(100)
    small.scan(booked_unit, 205, not_done="pending")

    found = listed(small, What.FOLLOW_UP)
    assert set(found) == {never, early, other_side}
    assert found[never].due_on == day(130) and found[never].overdue_days == 70 and found[never].late
    assert found[never].study_number == "S001" and found[never].way is Way.CALL
    assert not {in_window, later, not_read, refused, booked} & set(found)
    assert never not in listed(small, What.FOLLOW_UP, on=129)
    assert listed(small, What.FOLLOW_UP, on=129, within=1)[never].overdue_days == -1
    assert listed(small, What.FOLLOW_UP, on=130)[never].overdue_days == 0


def test_the_units_own_rule_says_when(small: SmallRegistry) -> None:
    side, _ = small.side(150)
    assert side in listed(small, What.FOLLOW_UP)  # 150 + 30 <= 200
    small.set("follow_up_scan_days", "60")
    assert side not in listed(small, What.FOLLOW_UP)
    assert listed(small, What.FOLLOW_UP, on=210)[side].due_on == day(210)


def test_no_scan_is_due_where_none_was_meant_or_something_ended_the_wait(small: SmallRegistry) -> None:
    small.side(100, intent="drainage")
    small.side(100, conduct="not_started")
    abandoned, _ = small.side(100, conduct="abandoned")
    _, unit = small.side(100)
    again, _ = small.side(120, patient=small.patient_of(unit), unit=unit)
    _, unit = small.side(100)
    patient = small.patient_of(unit)
    small.add("later_entry", patient_id=patient, occurred_on=day(110), what="retreatment", renal_unit_id=unit)
    small.side(100, unit=small.unit(patient := small.patient(), lost_on=day(140)), patient=patient)
    _, unit = small.side(100)
    patient = small.patient_of(unit)
    small.add("later_entry", patient_id=patient, occurred_on=day(110), what="lost_to_follow_up")
    assert set(listed(small, What.FOLLOW_UP)) == {abandoned, again}


def test_a_date_that_settles_nothing_hides_nothing(small: SmallRegistry) -> None:
    side, unit = small.side(10)  # 11 January; a scan "in January" may have been too early
    small.scan(unit, day(0), examined_on_precision="month")
    retreated, unit = small.side(10)
    patient = small.patient_of(unit)
    small.add(
        "later_entry",
        patient_id=patient,
        occurred_on=day(0),
        occurred_on_precision="month",
        what="retreatment",
        renal_unit_id=unit,
    )
    _, unit = small.side(10)
    small.scan(unit, day(31), examined_on_precision="month")  # some day of February: day 21 or later
    found = listed(small, What.FOLLOW_UP)
    assert set(found) == {side, retreated}
    assert "a scan dated 2024-01 may have been it" in found[side].note
    assert "a retreatment dated 2024-01 may have come after" in found[retreated].note


def test_a_stent_stays_listed_until_its_removal_is_recorded(small: SmallRegistry) -> None:
    planned = small.add(
        "drain", renal_unit_id=small.unit(), placed_on=day(150), kind="stent", planned_removal_on=day(190)
    )
    in_time = small.add(
        "drain", renal_unit_id=small.unit(), placed_on=day(150), kind="stent", planned_removal_on=day(201)
    )
    no_plan = small.add("drain", renal_unit_id=small.unit(), placed_on=day(100), kind="nephrostomy")
    elsewhere = small.add(
        "drain",
        renal_unit_id=small.unit(),
        placed_on=day(31),
        placed_on_precision="month",
        kind="stent",
        placed_where="elsewhere",
    )
    removed = small.add("drain", renal_unit_id=small.unit(), placed_on=day(100), kind="stent", removed_on=day(110))
    no_day = small.add("drain", renal_unit_id=small.unit(), placed_on=day(100), kind="stent", removed_where="clinic")
    ahead = small.add(
        "drain", renal_unit_id=small.unit(), placed_on=day(100), kind="stent", planned_removal_on=day(300)
    )

    found = listed(small, What.DRAINS)
    # Overdue first, the longest first: 1 February + 90 days, day 190 as planned, day 100 + 90; then what is in time.
    overdue = {elsewhere: 200 - (31 + 90), planned: 10, no_plan: 10, no_day: 10, in_time: -1, ahead: -100}
    assert {row: item.overdue_days for row, item in found.items()} == overdue
    assert next(iter(found)) == elsewhere and list(found)[-2:] == [in_time, ahead]
    assert removed not in found
    assert "placed elsewhere" in found[elsewhere].about and "2024-02" in found[elsewhere].note
    assert "said to be removed (clinic), but not when" in found[no_day].note
    assert "in place for more than 90 days" in found[ahead].note
    small.set("stent_longest_days", "60")
    assert listed(small, What.DRAINS)[no_plan].overdue_days == 40


def test_a_changed_stent_is_listed_once(small: SmallRegistry) -> None:
    unit = small.unit()
    old = small.add("drain", renal_unit_id=unit, placed_on=day(100), kind="stent", changed="yes")
    new = small.add("drain", renal_unit_id=unit, placed_on=day(150), kind="stent")
    assert set(listed(small, What.DRAINS)) == {new}
    alone = small.add("drain", renal_unit_id=small.unit(), placed_on=day(100), kind="stent", changed="yes")
    found = listed(small, What.DRAINS)
    assert set(found) == {new, alone}
    assert "no new one is recorded" in found[alone].note
    small.change("drain", new, removed_on=day(160))
    assert old not in listed(small, What.DRAINS)


def test_a_stent_that_only_the_operation_tells_of_is_listed_too(small: SmallRegistry) -> None:
    left, _ = small.side(100, exit_strategy="stent")
    _, unit = small.side(100, exit_strategy="stent")
    small.add("drain", renal_unit_id=unit, placed_on=day(100), kind="stent", removed_on=day(110))
    _, unit = small.side(100, exit_strategy="stent")
    small.side(120, patient=small.patient_of(unit), unit=unit)
    found = due(small.registry, on=TODAY, what=[What.DRAINS])
    assert [(item.table, item.row, item.overdue_days) for item in found] == [("treated_side", left, 10)]
    assert "none is recorded" in found[0].note


def test_a_review_is_due_until_one_reaches_day_30(small: SmallRegistry) -> None:
    never = small.operation(small.patient(), 100)
    early = small.operation(patient := small.patient(), 100)
    small.contact(patient, 129)
    reaches = small.operation(patient := small.patient(), 100)
    small.contact(patient, 130)
    not_so_far = small.operation(patient := small.patient(), 100)
    small.contact(patient, 180, complications_known_to=day(120))
    stent = small.operation(small.patient(), 100, purpose="stent")
    found = listed(small, What.REVIEWS)
    assert set(found) == {never, early, not_so_far}
    assert not {reaches, stent} & set(found)
    assert found[never].overdue_days == 70
    assert listed(small, What.REVIEWS, on=129) == {}


def test_nobody_is_called_who_died_and_who_is_left_in_peace_stands_apart(small: SmallRegistry) -> None:
    dead = small.patient(died_on=day(110), died_on_precision="day")
    told_dead = small.patient(death_source="relative")
    left_in_peace = small.patient(not_to_be_contacted="yes")
    called = small.patient()
    for patient in (dead, told_dead, left_in_peace, called):
        _, unit = small.side(100, patient=patient)
        small.add("drain", renal_unit_id=unit, placed_on=day(100), kind="stent")
    small.scan(unit, 190, not_done="pending")
    calls = [What.DRAINS, What.FOLLOW_UP, What.REVIEWS]
    found = due(small.registry, on=TODAY, what=calls)
    assert {item.study_number for item in found} == {"S003", "S004"}
    apart = [item for item in found if item.study_number == "S003"]
    assert {item.what for item in apart} == set(calls)
    assert all(item.way is Way.RECORD and item.todo.startswith("do not contact") for item in apart)
    for kind in (What.DRAINS, What.REVIEWS):
        assert [item.study_number for item in found if item.what is kind] == ["S004", "S003"]
