"""What comes after an operation: visits, scans, stents taken out, drugs, treatment elsewhere."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from analysis.outcomes.cost.course_costs import one_money
from registry.schema.errors import GravelbookError
from tests.cohort.rows import Rows, day
from tests.spec.cost.accounts import accounts, cost_of, costed, operated, price, rate


def treated(**rates: float) -> Rows:
    """One course on day 0 of the first patient's left kidney."""
    rows = accounts(**rates)
    operated(rows, rows.unit(), 0)
    return rows


def scanned(rows: Rows, on: int, modality: str = "ct", *, units: tuple[int, ...] = (1,), **values: Any) -> int:
    study = rows.add("examination", patient_id=1, examined_on=day(on), modality=modality, **values)
    for unit in units:
        rows.add("reading", examination_id=study, renal_unit_id=unit, finding="none_seen")
    return study


def test_visits_in_the_clinic_and_nothing_for_a_letter(tmp_path: Path) -> None:
    rows = treated()
    for on, method in ((0, "clinic"), (30, "clinic"), (31, "letter"), (91, "clinic")):
        rows.add("contact", patient_id=1, contacted_on=day(on), method=method)
    assert cost_of(rows, tmp_path)["clinic"] == 90


def test_an_unplanned_attendance_here_costs_and_elsewhere_only_with_a_rate(tmp_path: Path) -> None:
    rows = treated()
    rows.later(1, 0, "unplanned_attendance")
    rows.later(1, 5, "unplanned_attendance", place="elsewhere")
    made = costed(rows, tmp_path / "a")
    assert made.courses["emergency"].iloc[0] == 200
    assert made.charges.loc[made.charges["state"] == "not_costed", "what"].tolist() == ["emergency visit elsewhere"]
    rate(rows, "emergency_visit", 150, "elsewhere")
    assert cost_of(rows, tmp_path / "b")["emergency"] == 350


def test_scans_after_the_operation(tmp_path: Path) -> None:
    rows = treated()
    scanned(rows, 0)  # before the operation, for nothing says otherwise
    scanned(rows, 0, "kub", after_operation="yes")
    scanned(rows, 30)
    scanned(rows, 40, "ultrasound", not_done="refused")
    scanned(rows, 50, "second_look")
    scanned(rows, 60, "other")
    made = costed(rows, tmp_path)
    assert made.courses["scans"].iloc[0] == 30 + 140
    assert made.charges.loc[made.charges["state"] == "not_costed", "what"].tolist() == ["Other"]


def test_a_scan_read_for_both_kidneys_is_shared_by_their_courses(tmp_path: Path) -> None:
    rows = treated()
    operated(rows, rows.unit(1, "right"), 20)
    scanned(rows, 30, units=(1, 2))
    scanned(rows, 40, units=(1,))
    scanned(rows, 95, units=(1, 2))  # after the horizon of the left
    assert costed(rows, tmp_path).courses["scans"].tolist() == [70 + 140, 70 + 140]


@pytest.mark.parametrize(
    ("month", "cost"),
    [("2024-02", 140.0), ("2024-03", 140.0), ("2024-01", math.nan), ("2024-04", 0.0)],
)
def test_a_scan_known_to_the_month_counts_where_that_settles_it(tmp_path: Path, month: str, cost: float) -> None:
    rows = treated()
    first = day(0).fromisoformat(f"{month}-01")
    study = scanned(rows, 0)
    rows.tables["examination"][study - 1] |= {"examined_on": first, "examined_on_precision": "month"}
    assert cost_of(rows, tmp_path)["scans"] == pytest.approx(cost, nan_ok=True)


def removed(rows: Rows, on: int, where: str | None = "clinic", **values: Any) -> None:
    rows.add(
        "drain",
        renal_unit_id=1,
        placed_on=day(0),
        drain_number=len(rows.tables["drain"]) + 1,
        kind=values.pop("kind", "stent"),
        removed_on=day(on),
        removed_where=where,
    )


def test_a_stent_taken_out_in_the_clinic_costs_its_rate(tmp_path: Path) -> None:
    rows = treated()
    removed(rows, 14)
    removed(rows, 0, "theatre")  # in the operation of that day
    removed(rows, 3, "ward", kind="nephrostomy")
    assert cost_of(rows, tmp_path)["stent_removal"] == 180


def test_a_stent_taken_out_at_home_costs_where_a_rate_says_so(tmp_path: Path) -> None:
    rows = treated()
    removed(rows, 7, "home")
    assert cost_of(rows, tmp_path / "a")["stent_removal"] == 0
    rate(rows, "stent_removal", 15, "home")
    assert cost_of(rows, tmp_path / "b")["stent_removal"] == 15


def test_a_rate_for_the_clinic_alone_is_none_for_the_ward(tmp_path: Path) -> None:
    rows = treated()
    rows.tables["cost_rate"] = [row for row in rows.tables["cost_rate"] if row["item"] != "stent_removal"]
    for number, row in enumerate(rows.tables["cost_rate"], start=1):
        row["id"] = number
    rate(rows, "stent_removal", 180, "clinic")
    removed(rows, 7, "ward")
    assert math.isnan(cost_of(rows, tmp_path)["stent_removal"])


def infected(rows: Rows, *therapies: str, on: int | None = 3, **values: Any) -> None:
    event = rows.add(
        "complication", operation_id=1, complication_number=1, what="fever", renal_unit_id=1, onset_on=day(3), **values
    )
    for number, what in enumerate(therapies, start=1):
        given = None if on is None else day(on)
        rows.add("therapy", complication_id=event, therapy_number=number, what=what, given_on=given)


def test_drugs_cost_where_the_unit_has_a_rate_and_are_named_where_not(tmp_path: Path) -> None:
    rows = treated()
    infected(rows, "antibiotic", "antipyretic", "none", "intensive_care", on=None)
    rate(rows, "drug", 48, "antibiotic course")
    made = costed(rows, tmp_path / "a")
    assert made.courses["drugs"].iloc[0] == 48
    assert made.charges.loc[made.charges["state"] == "not_costed", "what"].tolist() == ["Antipyretic"]
    rate(rows, "drug", 5)
    assert cost_of(rows, tmp_path / "b")["drugs"] == 53


def test_other_therapies_cost_where_there_is_a_rate_and_operations_here_are_no_therapy(tmp_path: Path) -> None:
    rows = treated()
    infected(rows, "transfusion", "ureteroscopy")
    operated(rows, 1, 4, stage=None)
    rows.tables["therapy"][1]["treating_operation_id"] = 2
    assert costed(rows, tmp_path / "a").courses["other"].iloc[0] == 0
    rate(rows, "other", 220, "Blood transfusion")
    made = costed(rows, tmp_path / "b")
    assert (made.courses["other"].iloc[0], made.courses["theatre"].iloc[0]) == (220, 1200)
    assert not (made.charges["what"] == "Ureteroscopy").any()


def test_cultures_cost_where_there_is_a_rate(tmp_path: Path) -> None:
    rows = treated()
    rows.add("culture", patient_id=1, taken_on=day(2), specimen="urine", result="negative")
    assert cost_of(rows, tmp_path / "a")["other"] == 0
    rate(rows, "other", 12, "culture")
    assert cost_of(rows, tmp_path / "b")["other"] == 12


def test_a_retreatment_elsewhere_is_counted_and_costed_only_with_a_rate(tmp_path: Path) -> None:
    rows = treated()
    rows.later(1, 50, technique="shock_wave", place="elsewhere")
    made = costed(rows, tmp_path / "a")
    assert made.courses["elsewhere"].iloc[0] == 0
    assert made.charges.loc[made.charges["state"] == "not_costed", "what"].tolist() == ["retreatment elsewhere"]
    rate(rows, "other", 2000, "retreatment elsewhere")
    assert cost_of(rows, tmp_path / "b")["elsewhere"] == 2000
    rate(rows, "other", 900, "retreatment elsewhere shock wave")
    assert cost_of(rows, tmp_path / "c")["elsewhere"] == 900


def test_a_visit_after_a_bilateral_operation_is_shared(tmp_path: Path) -> None:
    rows = treated()
    right = rows.unit(1, "right")
    rows.side(right, operation=1, course_id=rows.add("course", renal_unit_id=right), stage_number=0)
    rows.add("contact", patient_id=1, contacted_on=day(30), method="clinic")
    assert costed(rows, tmp_path).courses["clinic"].tolist() == [45, 45]


def test_two_currencies_make_no_sum_and_both_are_named(tmp_path: Path) -> None:
    rows = treated()
    wire = rows.model("guidewire", single_use="yes")
    price(rows, wire, 20, currency="GBP")
    rows.used(1, wire)
    with pytest.raises(GravelbookError, match="EUR and GBP") as refused:
        one_money(costed(rows, tmp_path).charges)
    assert "M2 on 2024-01-01" in str(refused.value)
    assert one_money(costed(rows, tmp_path / "b", components=("theatre",)).charges) == ("EUR", 2024)


def test_two_price_years_make_no_sum_unless_one_is_chosen(tmp_path: Path) -> None:
    rows = treated()
    operated(rows, rows.unit(), 400)
    rate(rows, "theatre_minute", 12, since=366, price_year=2025)
    with pytest.raises(GravelbookError, match="prices of 2024 and 2025"):
        one_money(costed(rows, tmp_path / "a").charges)
    made = costed(rows, tmp_path / "b", price_year=2025, components=("theatre",))
    assert made.courses["theatre"].tolist() == [720, 720]
    assert one_money(made.charges) == ("EUR", 2025)


def test_rates_of_another_site_are_not_ours(tmp_path: Path) -> None:
    rows = treated()
    rows.add("site", code="B", name="Site B")
    rows.patient(site_id=2)
    operated(rows, rows.unit(2), 0)
    assert costed(rows, tmp_path).courses["theatre"].isna().tolist() == [False, True]
