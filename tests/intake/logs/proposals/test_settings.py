"""What a proposal says about reading a column: units, decimal marks, forms of dates, groups, sides, sizes."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest

from registry.intake.map_proposal import Proposal
from registry.intake.map_reading import proposal_for
from registry.intake.map_whole import WholeProposal
from registry.intake.map_writer import as_mapping
from tests.intake.logs.proposals.styles import COMPOSITE, CONTINENTAL, REPEATED, THEATRE
from tests.intake.logs.proposals.unseen import SIDES


def log(folder: Path, columns: dict[str, list[str]]) -> WholeProposal:
    """The proposal for a log of a few columns."""
    path = folder / "log.csv"
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(columns)
        writer.writerows(zip(*columns.values(), strict=True))
    return proposal_for(path)


def of(whole: WholeProposal, heading: str) -> Proposal:
    return next(p for p in whole.columns if p.made.heading.text == heading)


def mapping(whole: WholeProposal) -> str:
    return as_mapping(whole, name="log", file="log.csv", mapping="log.toml")


def test_a_unit_in_the_heading_and_a_decimal_comma_are_set(tmp_path: Path) -> None:
    whole = proposal_for(CONTINENTAL.write(tmp_path))
    assert of(whole, "Stone diameter [cm]").settings == {"unit": "cm", "decimal": ","}
    assert of(whole, "Operating time").settings == {"unit": "h:mm"}
    assert of(whole, "Date of birth").settings == {"dates": ["dd.mm.yyyy"]}


def test_numbered_columns_become_one_entry(tmp_path: Path) -> None:
    text = mapping(proposal_for(REPEATED.write(tmp_path)))
    for heading in ("Stone {n} size mm", "Stone {n} location", "Stone {n} HU"):
        assert f'heading = "{heading}"\neach = [1, 2]\nto = "stone.' in text


def test_sides_are_read_off_the_headings(tmp_path: Path) -> None:
    whole = proposal_for(SIDES.write(tmp_path))
    sides = {p.made.heading.text: p.family.side for p in whole.columns if p.table == "stone" and p.proposed}
    assert sides == {
        "Left stone size (mm)": "left", "Right stone size (mm)": "right",
        "Left stone location": "left", "Right stone location": "right", "HU (L)": "left", "HU (R)": "right",
    }  # fmt: skip


def test_a_status_has_the_size_of_its_heading(tmp_path: Path) -> None:
    theatre = of(proposal_for(THEATRE.write(tmp_path)), "SFR <=2mm")
    assert theatre.settings == {"status": "reading", "at_mm": 2.0, "yes": ["Y"], "no": ["N"]}
    below = of(proposal_for(COMPOSITE.write(tmp_path)), "SFR on CT at 3 months (<2 mm)")
    assert below.settings == {"status": "reading", "at_mm": 2.0, "below": True, "yes": ["SF"], "no": ["residual"]}


def test_a_status_without_a_size_says_that_it_is_left_out(tmp_path: Path) -> None:
    columns = {"MRN": ["K7001", "K7002"] * 4, "Follow-up CT date": ["2024-05-13"] * 8, "SFR": ["yes", "no"] * 4}
    whole = log(tmp_path, columns)
    assert of(whole, "SFR").proposed
    assert "at_mm" not in of(whole, "SFR").settings
    assert "Add at_mm = 2 if yes means that nothing above 2 mm was left" in mapping(whole)


def test_dates_that_can_be_read_in_two_ways_are_left_with_both_named(tmp_path: Path) -> None:
    whole = log(tmp_path, {"Date of operation": ["03/04/2023", "05/06/2023", "07/08/2023", "1/2/2023", "2/3/2023"]})
    left = of(whole, "Date of operation")
    assert not left.proposed
    assert any("d/m/yyyy" in doubt and "m/d/yyyy" in doubt for doubt in left.doubts)


def test_one_day_after_the_twelfth_settles_the_form(tmp_path: Path) -> None:
    whole = log(tmp_path, {"Date of operation": ["03/04/2023", "05/06/2023", "17/08/2023", "01/02/2023", "02/03/2023"]})
    assert of(whole, "Date of operation").settings == {"dates": ["dd/mm/yyyy"]}


def test_marks_of_missing_values_are_suggested_and_never_set(tmp_path: Path) -> None:
    ages = ["45", "?", "61", "n/a", "999", "-", "70", "51", "38", "66"]
    whole = log(tmp_path, {"Age": ages, "MRN": [f"70{n}11" for n in range(10)]})
    assert dict(whole.marks) == {"?": 1, "n/a": 1, "999": 1, "-": 1}
    assert of(whole, "Age").proposed
    text = mapping(whole)
    assert '# missing = ["-", "999", "?", "n/a"]' in text
    assert not any(line.startswith("missing") for line in text.splitlines())


def test_a_few_centimetres_among_millimetres_are_said_and_not_set(tmp_path: Path) -> None:
    sizes = ["12", "8", "0.9", "15", "11", "7", "9", "1.2", "10", "14", "13", "6"]
    found = of(log(tmp_path, {"Stone size (mm)": sizes}), "Stone size (mm)")
    assert found.proposed
    assert "unit" not in found.settings
    assert "usual in cm rather than in mm: A4, A9" in found.reasons


@pytest.mark.parametrize(
    ("heading", "values", "unit"),
    [
        ("Stone size", ["0.9", "1.2", "1.4", "0.7", "1.1"], "cm"),  # a stone is seldom 0.9 mm
        ("Fluoroscopy time", ["2", "3", "1", "4", "2"], "min"),  # seconds or minutes
    ],
)
def test_a_unit_that_is_suspected_is_named_and_left_to_a_person(
    heading: str, values: list[str], unit: str, tmp_path: Path
) -> None:
    whole = log(tmp_path, {heading: values})
    assert not of(whole, heading).proposed
    assert f'If so: unit = "{unit}"' in mapping(whole)


@pytest.mark.parametrize(
    "heading",
    [
        *("Date", "CT date", "Scan date", "Follow-up date", "ID", "No.", "Patient ID", "Case number", "Size", "Fr"),
        *("Sheath", "Name", "Comments", "Stent", "LOS", "Residual", "Grade", "Consultant"),
    ],
)
def test_a_heading_that_fits_several_fields_is_never_sure(heading: str, tmp_path: Path) -> None:
    values: dict[str, Any] = {"Date": "2024-05-%02d", "date": "2024-05-%02d"}
    form = next((form for word, form in values.items() if word in heading), "%d1731")
    whole = log(tmp_path, {heading: [form % n for n in range(10, 25)]})
    assert not whole.columns[0].proposed


def test_a_sheath_whose_inner_diameter_comes_second_is_left_to_a_person(tmp_path: Path) -> None:
    found = log(tmp_path, {"Access sheath": ["12/10 Fr", "14/12 Fr", "13/11 Fr", "12/10 Fr", "14/12 Fr"]}).columns[0]
    assert not found.proposed
    assert "numbers that are not usual there: A2, A3, A4 and 2 more" in found.doubts


@pytest.mark.parametrize("heading", ["Surgeon 2", "Operator 1", "Second surgeon"])
def test_a_number_does_not_say_who_assisted(heading: str, tmp_path: Path) -> None:
    assert not log(tmp_path, {heading: ["AB", "CD"] * 5}).columns[0].proposed


def test_in_rows_with_both_kidneys_a_column_of_one_kidney_has_to_say_which(tmp_path: Path) -> None:
    whole = proposal_for(SIDES.write(tmp_path))
    for heading in ("IPA (deg)", "View", "Sheath (inner/outer)"):
        assert any("does not say of which this is" in doubt for doubt in of(whole, heading).doubts)


def test_two_columns_for_one_field_are_both_left(tmp_path: Path) -> None:
    whole = log(
        tmp_path, {"Stone size (mm)": ["12", "8", "9", "7", "6"], "Stone length (mm)": ["12", "8", "9", "7", "6"]}
    )
    assert [p.proposed for p in whole.columns] == [False, False]
    assert "column B would be stone.length_mm as well" in whole.columns[0].doubts


def test_cells_with_a_side_and_several_places_come_apart_and_are_left_to_a_person(tmp_path: Path) -> None:
    whole = log(tmp_path, {"Side and location": ["L lower + pelvis", "R pelvis", "L UP + MP", "R lower"] * 2})
    found = whole.columns[0]
    assert found.settings["splits"] == ["{renal_unit.unit} {stone.location}", "{stone.location}"]
    assert found.settings["separator"] == "+"
    assert found.settings["values.stone.location"]["lower"] == "lower_calyx"
    assert not found.proposed
