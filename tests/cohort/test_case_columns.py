"""The other columns that are worked out for a side."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from analysis.cohort.columns import cohort_columns
from registry.schema.fields import Arises
from tests.cohort.rows import Rows, day


@pytest.mark.parametrize(
    ("patient", "operation", "age"),
    [
        ({"birth_year": 1960}, {"age_years": 63}, 63),
        ({"birth_year": 1960}, {}, 2024 - 1960),
        ({"birth_year": 2100}, {}, None),
        ({}, {}, None),
    ],
)
def test_age(rows: Rows, folder: Path, patient: dict[str, Any], operation: dict[str, Any], age: int | None) -> None:
    person = rows.patient(**patient)
    side = rows.side(rows.unit(person), operation=rows.operation(person, **operation))
    found = rows.row(folder, side)["age_years"]
    assert (None if pd.isna(found) else found) == age


def test_body_mass_index_and_year(rows: Rows, folder: Path) -> None:
    person = rows.patient()
    side = rows.side(rows.unit(person), operation=rows.operation(person, 400, height_cm=180.0, weight_kg=81.0))
    row = rows.row(folder, side)
    assert row["bmi"] == pytest.approx(81 / 1.8**2)
    assert row["year"] == 2025


@pytest.mark.parametrize(
    ("cultures", "said"),
    [
        ([], None),
        ([(-90, "positive", None)], "yes"),
        ([(-91, "positive", None)], None),
        ([(-5, "negative", None)], "no"),
        ([(-5, "contaminated", None)], None),
        ([(-30, "positive", None), (-5, "negative", None)], "yes"),
        ([(0, "positive", "before")], "yes"),
        ([(0, "positive", "after")], None),
        ([(0, "positive", None)], None),
        ([(1, "positive", None)], None),
    ],
)
def test_urine_culture_before(
    rows: Rows, folder: Path, cultures: list[tuple[int, str, str | None]], said: str | None
) -> None:
    person = rows.patient()
    side = rows.side(rows.unit(person), 200)
    for on, result, timing in cultures:
        rows.add("culture", patient_id=person, taken_on=day(200 + on), specimen="urine", result=result, timing=timing)
    found = rows.row(folder, side)["positive_culture_before"]
    assert (None if pd.isna(found) else found) == said


def test_a_culture_of_another_specimen_does_not_count(rows: Rows, folder: Path) -> None:
    person = rows.patient()
    side = rows.side(rows.unit(person), 200)
    rows.add("culture", patient_id=person, taken_on=day(190), specimen="blood", result="positive")
    assert pd.isna(rows.row(folder, side)["positive_culture_before"])


@pytest.mark.parametrize(
    ("settings", "energy"),
    [
        ([{"total_energy_kj": 4.5}, {"total_energy_kj": 2.25}], 4.5 + 2.25),
        ([{"total_energy_kj": 4.5}, {"total_energy_kj": None}], None),
        ([{"total_energy_kj": 4.5}, {"total_energy_kj": None, "energy_source": "pneumatic"}], 4.5),
        ([{"total_energy_kj": 9.0, "counted": "total"}, {"total_energy_kj": 9.0, "counted": "total"}], 9.0),
        ([{"total_energy_kj": 9.0, "counted": "total"}, {"total_energy_kj": None}], 9.0),
    ],
)
def test_energy(rows: Rows, folder: Path, settings: list[dict[str, Any]], energy: float | None) -> None:
    side = rows.side()
    for setting in settings:
        rows.add("lithotripsy_setting", treated_side_id=side, **{"energy_source": "holmium_laser", **setting})
    found = rows.row(folder, side)["total_energy_kj"]
    assert (None if pd.isna(found) else found) == energy


def test_energy_sources_are_joined_in_the_order_of_the_list(rows: Rows, folder: Path) -> None:
    side = rows.side()
    for source, mode in (("pneumatic", "dusting"), ("holmium_laser", "fragmenting"), ("pneumatic", None)):
        rows.add("lithotripsy_setting", treated_side_id=side, energy_source=source, mode=mode)
    row = rows.row(folder, side)
    assert (row["energy_source"], row["lithotripsy_mode"]) == ("holmium_laser+pneumatic", "both")


def test_minutes_of_the_operation_are_those_of_its_only_side(rows: Rows, folder: Path) -> None:
    one, two = rows.patient(), rows.patient()
    rows.side(rows.unit(one), operation=rows.operation(one, operating_min=50))
    both = rows.operation(two, operating_min=90)
    rows.side(rows.unit(two, "left"), operation=both, side_operating_min=40)
    rows.side(rows.unit(two, "right"), operation=both)
    frame = rows.cohort(folder).sides_frame
    assert list(frame["operating_min"]) == [50, 90, 90]
    assert list(frame["side_operating_min"].fillna(-1)) == [50, 40, -1]


def test_every_column_is_typed_as_declared(rows: Rows, folder: Path) -> None:
    rows.side()
    frame = rows.cohort(folder).sides_frame
    assert list(frame.columns) == list(cohort_columns())
    kinds = {"whole": "Int64", "number": "float64", "date": "datetime64[s]", "text": "string", "code": "category"}
    for name, column in cohort_columns().items():
        allowed = {"int64", "Int64"} if column.holds in ("key", "whole") else {kinds[column.holds]}
        assert str(frame[name].dtype) in allowed, name
        if column.holds == "code" and column.levels and not column.joined:
            assert list(frame[name].cat.categories) == list(column.levels), name


def test_what_arises_after_access_may_not_adjust() -> None:
    columns = cohort_columns()
    for name in ("largest_mm", "operator", "technique", "sheath_to_scope_ratio", "suction", "pre_stented", "bmi"):
        assert columns[name].may_adjust, name
    for name in ("operating_min", "suction_control", "ureteric_lesion", "total_energy_kj", "conduct", "room_min"):
        assert not columns[name].may_adjust, name
    assert columns["sheath_failed"].arises is Arises.ACCESS
    assert all(column.label for column in columns.values())
