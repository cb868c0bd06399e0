"""A new patient who may be someone who is known already."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from registry.intake.load import load_file
from registry.store.registry import Registry
from registry.validation.findings import Severity
from tests.intake.books import Rows, case, write_book
from tests.intake.conftest import MakeRegistry

DOE = {"family_name": "Doe-Poe", "given_names": "Ana Luz", "birth_date": "1960-03-01"}


def people(*lines: dict[str, Any], sheets: Rows | None = None) -> Rows:
    """A workbook of patients with identities, each with a hospital number of its own."""
    studies = [line["study_number"] for line in lines]
    return {
        **(sheets or {}),
        "patient": [{"study_number": study} for study in studies],
        "patient_identity": [dict(line) for line in lines],
        "hospital_number": [{"study_number": study, "number": f"H-{study}"} for study in studies],
    }


def asked(registry: Registry, path: Path) -> list[str]:
    loaded = load_file(registry, path, by="loader")
    assert loaded.errors == 0
    assert loaded.batch_id is not None  # a question does not keep a file out
    found = [f for f in loaded.findings if f.rule == "patient.same_person"]
    assert all(f.severity is Severity.QUESTION and f.value in ("", "(not shown)") for f in found)
    said = " ".join(f"{f.why} {f.right}" for f in found)
    assert "Doe" not in said
    assert "1960" not in said
    return [f.why for f in found]


@pytest.mark.parametrize(
    ("changes", "same"),
    [
        ({}, True),
        ({"family_name": "DOE POE", "given_names": "Aná  Luz"}, True),
        ({"given_names": "Eva"}, False),
        ({"given_names": None}, False),
        ({"family_name": "Roe"}, False),
        ({"birth_date": "1960-03-02"}, False),
        ({"birth_date": None}, False),
    ],
)
@pytest.mark.parametrize("in_one_file", [True, False])
def test_who_is_asked_about(
    changes: dict[str, Any], same: bool, in_one_file: bool, make_registry: MakeRegistry, tmp_path: Path
) -> None:
    registry = make_registry()
    site = {"site": case()["site"]}
    one, other = {"study_number": "21", **DOE}, {"study_number": "22", **DOE, **changes}
    if in_one_file:
        found = asked(registry, write_book(tmp_path / "one.xlsx", people(one, other, sheets=site)))
    else:
        assert asked(registry, write_book(tmp_path / "one.xlsx", people(one, sheets=site))) == []
        found = asked(registry, write_book(tmp_path / "two.xlsx", people(other)))
    assert len(found) == same
    if same:
        assert "Study number 22 has the same names and birth date as 21" in found[0]


def test_a_year_of_birth_that_is_known_does_not_hide_anyone(make_registry: MakeRegistry, tmp_path: Path) -> None:
    registry = make_registry()
    rows = people({"study_number": "21", **DOE}, sheets={"site": case()["site"]})
    rows["patient"][0]["birth_year"] = 1960
    assert asked(registry, write_book(tmp_path / "one.xlsx", rows)) == []
    assert len(asked(registry, write_book(tmp_path / "two.xlsx", people({"study_number": "22", **DOE})))) == 1


def test_the_same_patient_again_is_no_question(make_registry: MakeRegistry, tmp_path: Path) -> None:
    registry = make_registry()
    rows = people({"study_number": "21", **DOE}, sheets={"site": case()["site"]})
    assert asked(registry, write_book(tmp_path / "one.xlsx", rows)) == []
    rows["patient"].append({"study_number": "30"})
    assert asked(registry, write_book(tmp_path / "two.xlsx", rows)) == []
