"""Scanned codes of equipment at intake, in a change of what is held, and in the check of the whole registry."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from registry.intake import clinical_check
from registry.intake.amend import Amending
from registry.intake.load import load_file
from registry.intake.load_plan import make_plan
from registry.schema.udi import read_udi
from registry.store.reading import read_frame
from registry.store.registry import Registry
from registry.validation.clinical.scanned import SCANNED
from registry.validation.findings import Finding, Severity
from registry.validation.quality_check import check_held
from tests.intake.books import Rows, with_cell, write_book

IDENTIFIER = "51022222233336"
RULES = [rule.id for rule in SCANNED]


def scanned(**cells: Any) -> Rows:
    """The case, operated on 3 May 2024, with cells of its scope's use."""
    rows = with_cell("equipment_model", "device_identifier", IDENTIFIER)
    for heading, value in cells.items():
        rows = with_cell("equipment_use", heading, value, row=1, rows=rows)
    return rows


def found(registry: Registry, path: Path, **asked: Any) -> list[Finding]:
    return [one for one in make_plan(registry, path, **asked).findings.listed() if one.rule in RULES]


CLEAN = f"01{IDENTIFIER}1724050310A213B1␝210007"


def test_a_code_that_fits_is_no_question_and_is_kept_as_scanned(registry: Registry, tmp_path: Path) -> None:
    file = write_book(tmp_path / "clean.xlsx", scanned(udi=CLEAN, lot="A213B1", serial_as_scanned="0007"))
    assert found(registry, file) == []
    assert load_file(registry, file, by="tester").errors == 0
    kept = read_frame(registry, "equipment_use", ["udi", "lot"]).iloc[1]
    assert list(kept) == [CLEAN, "A213B1"]


def test_nothing_that_was_not_typed_is_filled_in_from_the_code(registry: Registry, tmp_path: Path) -> None:
    load_file(registry, write_book(tmp_path / "code.xlsx", scanned(udi=CLEAN)), by="tester")
    use = read_frame(registry, "equipment_use", ["lot", "serial_as_scanned", "udi"]).iloc[1]
    assert use[["lot", "serial_as_scanned"]].isna().all()
    assert read_udi(use["udi"]).lot == "A213B1"


@pytest.mark.parametrize(
    ("cells", "rule", "heading"),
    [
        ({"udi": "(01)51022222233337"}, "equipment_use.udi.check_digit", "udi"),
        ({"udi": f"(01){IDENTIFIER}(17)241303(10)A"}, "equipment_use.udi.whole", "udi"),
        ({"udi": CLEAN, "lot": "A213B2"}, "equipment_use.lot.as_scanned", "lot"),
        ({"udi": CLEAN, "serial_as_scanned": "8"}, "equipment_use.serial_as_scanned.as_in_code", "serial_as_scanned"),
        ({"udi": f"(01){IDENTIFIER}(21)0008"}, "equipment_use.equipment_item_id.serial_scanned", "serial"),
        ({"udi": "(01)08904000210037"}, "equipment_use.equipment_model_id.as_scanned", "model_code"),
        ({"udi": f"(01){IDENTIFIER}(17)240502"}, "equipment_use.udi.expired", "udi"),
        ({"udi": f"(01){IDENTIFIER}(11)240504"}, "equipment_use.udi.produced", "udi"),
    ],
)
def test_what_does_not_fit_is_asked_at_its_cell_and_loaded(
    registry: Registry, tmp_path: Path, cells: dict[str, str], rule: str, heading: str
) -> None:
    file = write_book(tmp_path / "odd.xlsx", scanned(**cells))
    (one,) = found(registry, file)
    assert (one.rule, one.severity, one.sheet, one.row) == (rule, Severity.QUESTION, "Equipment use", 3)
    assert one.heading == heading
    assert "A213B" not in one.why
    assert load_file(registry, file, by="tester").errors == 0
    (held,) = [each for each in check_held(registry, RULES) if each.broken]
    assert (held.rule, held.broken) == (rule, 1)


def test_codes_of_other_issuers_are_no_question(registry: Registry, tmp_path: Path) -> None:
    assert found(registry, write_book(tmp_path / "other.xlsx", scanned(udi="+H123ABC01234567890"))) == []


@pytest.mark.parametrize("few", [clinical_check.FEW, 0], ids=["row by row", "whole tables"])
def test_a_code_added_later_is_judged_with_what_is_held(
    registry: Registry, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, few: int
) -> None:
    monkeypatch.setattr(clinical_check, "FEW", few)
    load_file(registry, write_book(tmp_path / "first.xlsx", scanned(lot="A213B2")), by="tester", reason="test")
    later = write_book(tmp_path / "later.xlsx", scanned(lot="A213B2", udi=CLEAN))
    assert [one.rule for one in found(registry, later, amending=Amending())] == ["equipment_use.lot.as_scanned"]


def test_an_identifier_that_is_none_of_gs1_is_not_judged(registry: Registry) -> None:
    with registry.writing(by="tester") as door:
        site = door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
        door.insert("equipment_model", {"site_id": site, "model_code": "S", "kind": "scope", "device_identifier": "no"})
    (rule,) = check_held(registry, ["equipment_model.device_identifier.check_digit"])
    assert (rule.checked, rule.not_computable, rule.broken) == (0, 1, 0)
