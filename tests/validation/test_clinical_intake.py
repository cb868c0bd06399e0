"""Clinical rules on a file before it is loaded: at the right cell, with what is held, and of the file's rows alone."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from registry.intake import clinical_check
from registry.intake.amend import Amending
from registry.intake.load import load_file
from registry.intake.load_plan import make_plan
from registry.store.registry import Registry
from registry.validation.clinical.all_rules import rules_by_id
from registry.validation.findings import Finding, Severity
from tests.intake.books import OPERATED, Rows, case, with_cell, write_book


def clinical(registry: Registry, path: Path) -> list[Finding]:
    """What clinical rules find in a file."""
    return [found for found in make_plan(registry, path).findings.listed() if found.rule in rules_by_id()]


def loaded(registry: Registry, path: Path) -> None:
    done = load_file(registry, path, by="tester", reason="test")
    assert done.errors == 0, done.findings


def scan(**values: object) -> Rows:
    return {"examination": [{"study_number": "1001", "modality": "ct", "purpose": "follow_up", **values}]}


def test_a_clean_file_has_no_finding(registry: Registry, tmp_path: Path) -> None:
    assert clinical(registry, write_book(tmp_path / "clean.xlsx", case())) == []


def test_a_finding_stands_at_the_cell_and_stops_the_load(registry: Registry, tmp_path: Path) -> None:
    file = write_book(tmp_path / "wide.xlsx", with_cell("stone", "width_mm", 20))
    (found,) = clinical(registry, file)
    assert (found.rule, found.severity) == ("stone.width_mm.within_length", Severity.ERROR)
    assert (found.sheet, found.row, found.heading, found.value) == ("Stone", 2, "width_mm", "20")
    assert found.why == "The stone is 20 mm wide and 14.25 mm long."
    assert found.right == rules_by_id()[found.rule].sentence
    assert load_file(registry, file, by="tester").errors == 1


def test_a_link_is_cited_by_the_heading_that_names_it(registry: Registry, tmp_path: Path) -> None:
    # The sheath's inner diameter of 3.33 mm is 10 Fr; the scope is the second use, in row 3.
    file = write_book(tmp_path / "fit.xlsx", with_cell("equipment_model", "shaft_tenths_fr", 10.5))
    (found,) = clinical(registry, file)
    assert found.rule == "equipment_use.equipment_model_id.scope_in_sheath"
    assert (found.sheet, found.row, found.heading, found.value) == ("Equipment use", 3, "model_code", "scope")
    assert found.why == "The scope's shaft is 10.5 Fr wide, the widest sheath's inner diameter 10 Fr."


@pytest.mark.parametrize("few", [clinical_check.FEW, 0], ids=["row by row", "whole tables"])
def test_new_rows_are_judged_with_what_is_held(
    registry: Registry, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, few: int
) -> None:
    monkeypatch.setattr(clinical_check, "FEW", few)
    loaded(registry, write_book(tmp_path / "first.xlsx", case()))
    (found,) = clinical(registry, write_book(tmp_path / "early.xlsx", scan(examined_on=date(2024, 5, 1))))
    assert found.rule == "examination.examined_on.follow_up_after_operation"
    assert (found.sheet, found.row, found.heading) == ("Examination", 2, "examined_on")
    assert found.why == "The follow-up lies 2 days before the patient's first operation."
    assert clinical(registry, write_book(tmp_path / "late.xlsx", scan(examined_on=date(2024, 5, 30)))) == []


def test_a_date_known_to_the_month_gives_no_false_alarm(registry: Registry, tmp_path: Path) -> None:
    loaded(registry, write_book(tmp_path / "first.xlsx", case()))
    assert clinical(registry, write_book(tmp_path / "month.xlsx", scan(examined_on="2024-05"))) == []
    (found,) = clinical(registry, write_book(tmp_path / "before.xlsx", scan(examined_on="2024-04")))
    assert found.why == "The follow-up lies 3 days before the patient's first operation."  # 30 April to 3 May


def test_what_is_wrong_with_held_rows_is_not_told_again(registry: Registry, tmp_path: Path) -> None:
    stone, reading = case()["stone"][0], case()["reading"][0]
    small = case(
        stone=[{**stone, "length_mm": 1.2, "width_mm": 1}], reading=[{**reading, "finding": "none_seen"}], fragment=None
    )
    first = write_book(tmp_path / "first.xlsx", small)
    assert [found.rule for found in clinical(registry, first)] == ["stone.length_mm.units_suspected"]
    loaded(registry, first)
    assert clinical(registry, write_book(tmp_path / "scan.xlsx", scan(examined_on=date(2024, 6, 30)))) == []


def test_a_single_use_piece_is_known_again_on_another_patient(registry: Registry, tmp_path: Path) -> None:
    loaded(registry, write_book(tmp_path / "first.xlsx", with_cell("equipment_model", "single_use", "yes")))
    side = {"study_number": "0042", "operated_on": date(2024, 7, 3), "unit": "right"}
    again: Rows = {
        "operation": [{**side, "purpose": "stone_removal"}],
        "treated_side": [{**side, "intent": "stone_removal"}],
        "equipment_use": [{**side, "use_number": 1, "model_code": "scope", "serial": "0007", "result": "passed"}],
    }
    for line in again["operation"]:
        line.pop("unit")
    (found,) = clinical(registry, write_book(tmp_path / "again.xlsx", again))
    assert found.rule == "equipment_use.equipment_item_id.single_use_again"
    assert (found.sheet, found.heading, found.severity) == ("Equipment use", "serial", Severity.ERROR)
    assert f"{(date(2024, 7, 3) - OPERATED).days} days before" in found.why


def test_a_cell_that_was_not_read_is_not_judged(registry: Registry, tmp_path: Path) -> None:
    rows = with_cell("stone", "width_mm", 20, rows=with_cell("stone", "length_mm", "long"))
    assert clinical(registry, write_book(tmp_path / "unread.xlsx", rows)) == []


@pytest.mark.parametrize("few", [clinical_check.FEW, 0], ids=["row by row", "whole tables"])
def test_a_change_of_a_held_row_is_judged_as_if_made(
    registry: Registry, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, few: int
) -> None:
    monkeypatch.setattr(clinical_check, "FEW", few)
    loaded(registry, write_book(tmp_path / "first.xlsx", case()))
    wide = write_book(tmp_path / "wide.xlsx", with_cell("stone", "width_mm", 20))
    plan = make_plan(registry, wide, amending=Amending())
    (found,) = [each for each in plan.findings.listed() if each.rule in rules_by_id()]
    assert found.rule == "stone.width_mm.within_length"
    assert (found.sheet, found.row, found.heading, found.value) == ("Stone", 2, "width_mm", "20 mm")
    narrow = write_book(tmp_path / "narrow.xlsx", with_cell("stone", "width_mm", 8))
    assert make_plan(registry, narrow, amending=Amending()).findings.errors == 0
