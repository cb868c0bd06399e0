"""What is written makes medical sense across rows."""

from __future__ import annotations

from datetime import date

import pytest

from synthetic_cohort.catalogue import device_identifier
from synthetic_cohort.frames import cohort
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.records import records


def side_key(row):
    return tuple(row[name] for name in ("study_number", "operated_on", "day_number", "unit", "unit_number"))


def test_energy_is_what_the_pulses_add_up_to(demo):
    told = [row for row in demo["lithotripsy_setting"] if isinstance(row["pulse_energy_j"], int | float)]
    assert len(told) > 500
    for row in told:
        pulses = row["frequency_hz"] * row["emission_min"] * 60
        assert row["total_energy_kj"] == pytest.approx(row["pulse_energy_j"] * pulses / 1000, abs=0.001)


def test_the_scope_fits_the_sheath_that_was_in_place(demo):
    models = {row["model_code"]: row for row in demo["equipment_model"]}
    fits: dict[tuple, dict[str, float]] = {}
    for row in demo["equipment_use"]:
        model = models[row["model_code"]]
        if row.get("most_of_lithotripsy") == "yes" and model["kind"] in ("access_sheath", "scope"):
            size = model["inner_tenths_fr"] if model["kind"] == "access_sheath" else model["shaft_tenths_fr"]
            fits.setdefault(side_key(row), {})[model["kind"]] = size
    both = [fit for fit in fits.values() if len(fit) == 2]
    assert len(both) > 800
    assert all(fit["access_sheath"] > fit["scope"] for fit in both)


def test_suction_goes_with_a_sheath_that_takes_it(demo):
    models = {row["model_code"]: row for row in demo["equipment_model"]}
    taking = {
        side_key(row)
        for row in demo["equipment_use"]
        if models[row["model_code"]]["kind"] == "access_sheath" and models[row["model_code"]]["suction"] == "yes"
    }
    used = {side_key(row) for row in demo["treated_side"] if row.get("suction") == "through_sheath"}
    assert used == taking


def test_a_stent_is_placed_before_it_is_removed(demo):
    for row in demo["drain"]:
        assert row.get("removed_on") is None or row["placed_on"] <= row["removed_on"]
    assert sum(row.get("removed_on") is None for row in demo["drain"]) < 30


def test_stented_before_means_a_stent_that_is_removed_that_day(demo):
    removed = {
        (row["study_number"], row["unit"], row["removed_on"])
        for row in demo["drain"]
        if row.get("removed_where") == "theatre"
    }
    stented = [row for row in demo["treated_side"] if row.get("pre_stented_days") is not None]
    modelled = [row for row in stented if row["study_number"] < "S90000"]
    assert len(modelled) > 300
    for row in modelled:
        assert (row["study_number"], row["unit"], row["operated_on"]) in removed


def test_follow_up_comes_after_an_operation_and_before_death(demo):
    first: dict[str, date] = {}
    for row in demo["operation"]:
        first[row["study_number"]] = min(first.get(row["study_number"], row["operated_on"]), row["operated_on"])
    died = {row["study_number"]: row["died_on"] for row in demo["patient"] if isinstance(row.get("died_on"), date)}
    assert died
    for row in demo["examination"]:
        if row["purpose"] == "follow_up" and isinstance(row["examined_on"], date):
            assert row["examined_on"] > first[row["study_number"]]
            assert row["examined_on"] < died.get(row["study_number"], date.max)
    for row in demo["operation"]:
        assert row["operated_on"] < died.get(row["study_number"], date.max)


def test_stones_are_measured_before_their_operation(demo):
    index = {
        (row["study_number"], row["unit"], row["unit_number"], row["course_number"]): row["operated_on"]
        for row in demo["treated_side"]
        if row.get("stage_number") == 0
    }
    for row in demo["stone"]:
        key = tuple(row[name] for name in ("study_number", "unit", "unit_number", "course_number"))
        assert row["measured_on"] < index[key]


def test_a_stage_is_decided_no_later_than_the_operation_before_it(demo):
    index = {
        (row["study_number"], row["unit"], row["course_number"]): row["operated_on"]
        for row in demo["treated_side"]
        if row.get("stage_number") == 0
    }
    assert len(demo["planned_stage"]) > 20
    for row in demo["planned_stage"]:
        assert row["decided_on"] <= index[row["study_number"], row["unit"], row["course_number"]]


def test_age_follows_from_the_year_of_birth(demo):
    born = {row["study_number"]: row["birth_year"] for row in demo["patient"]}
    for row in demo["operation"]:
        assert row["operated_on"].year - born[row["study_number"]] - row["age_years"] in (0, 1)


def test_sizes_read_in_the_workbook_are_the_cohorts():
    parameters = Parameters(reading_error=False, share_indeterminate=0)
    drawn = cohort(parameters, 300, 21)
    rows = records(drawn)
    largest: dict[tuple, float] = {}
    names = ("study_number", "examined_on", "modality", "unit")
    follow_up = {
        (r["study_number"], r["examined_on"], r["modality"]) for r in rows["examination"] if r["purpose"] == "follow_up"
    }
    for row in rows["reading"]:
        if tuple(row[n] for n in names[:3]) in follow_up:
            largest.setdefault(tuple(row[n] for n in names), 0.0)
    for row in rows["fragment"]:
        key = tuple(row[n] for n in names)
        if key in largest:
            largest[key] = max(largest[key], row["diameter_high_mm"])
    assert sorted(largest.values()) == sorted(drawn.sides["residual_mm"][drawn.readings["side"]].tolist())


def test_device_identifiers_carry_their_check_digit():
    for number in (1, 37, 999):
        code = device_identifier(number)
        assert len(code) == 14
        assert sum(int(d) * (1 if i % 2 else 3) for i, d in enumerate(code)) % 10 == 0
