"""A later version of a file changes what it said before, and never what a person has corrected meanwhile."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from registry.intake.amend import Amending
from registry.intake.load import Loaded, load_file
from registry.intake.rows import FileRows
from registry.intake.source import Source
from registry.intake.workbook_reader import read_workbook
from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata
from registry.store.field_history import Change, change_of
from registry.store.history import HISTORY
from registry.store.registry import Registry, open_registry
from registry.store.verify import verify
from registry.validation.findings import FindingList, Severity
from tests.intake.books import CASE, IDENTITY, Rows, case, with_cell, write_book


@pytest.fixture
def registry(location: str) -> Iterator[Registry]:
    """An empty registry, once on each engine."""
    with open_registry(location) as opened:
        yield opened


@dataclass(frozen=True)
class Log(Source):
    """Sheets that stand for the rows of a log, under its name."""

    source: str = "theatre log"
    fills: bool = False

    def read(self, registry: Registry, findings: FindingList) -> FileRows:
        """The sheets, as those of the log."""
        file = read_workbook(self.files[0], findings)
        file.source, file.fills = self.source, self.fills
        return file


class Books:
    """Writes one file after another."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.number = folder, 0

    def __call__(self, rows: Rows, source: str = "theatre log", *, fills: bool = False) -> Source:
        self.number += 1
        path = write_book(self.folder / f"v{self.number}.xlsx", rows)
        return Source((path,)) if source == "workbook" else Log((path,), source=source, fills=fills)


@pytest.fixture
def book(tmp_path: Path) -> Books:
    """Writes files."""
    return Books(tmp_path)


def amend(registry: Registry, source: Source, *, replacing: bool = False) -> Loaded:
    """Load a later version, and see that the registry is what its history says."""
    loaded = load_file(registry, source, by="loader", reason="second version", amending=Amending(replacing=replacing))
    assert verify(registry).findings == []
    return loaded


def rows_of(registry: Registry, table: str) -> list[dict[str, Any]]:
    with registry.reading() as connection:
        query = select(metadata.tables[table]).order_by(metadata.tables[table].c.id)
        return [dict(row) for row in connection.execute(query).mappings()]


def one(registry: Registry, table: str, column: str) -> Any:
    return rows_of(registry, table)[0][column]


def correct(registry: Registry, table: str, **values: Any) -> None:
    """A person changes the first row of a table."""
    row = rows_of(registry, table)[0]
    with registry.writing(by="Jo", reason="looked it up") as door:
        door.update(table, row["id"], values, revision=row["revision"])


def rules(loaded: Loaded, *which: str) -> list[tuple[str, str]]:
    wanted = which or ("row.amended", "row.filled", "row.corrected", "row.correction_stays", "row.differs", "row.gone")
    return [(f.rule, f.heading) for f in loaded.findings if f.rule in wanted]


@pytest.mark.parametrize(
    ("table", "heading", "value", "column", "stored"),
    [
        ("stone", "length_mm", 15, "length_mm", 15.0),
        ("stone", "length_mm", "1.6 cm", "as_typed", "length_mm=1.6 cm;"),
        ("patient", "sex", "male", "sex", "male"),
        ("patient", "died_on", "2025-02-01", "died_on_precision", None),
        ("patient", "died_on", "2024", "died_on_precision", "year"),
        ("operation", "height_cm", 170, "missing_reasons", None),
        ("operation", "height_cm", 170, "height_cm", 170),
        ("operation", "asa_class", "not_done", "missing_reasons", "asa_class=not_done;height_cm=not_done;"),
        ("operation", "asa_class", "not_done", "asa_class", None),
        ("operation", "operating_min", 120, "as_typed", None),
        ("equipment_use", "model_code", "scope", "equipment_model_id", None),
    ],
)
def test_what_nobody_touched_is_amended(
    table: str, heading: str, value: Any, column: str, stored: Any, registry: Registry, book: Books
) -> None:
    load_file(registry, book(CASE), by="loader")
    loaded = amend(registry, book(with_cell(table, heading, value)))
    assert loaded.errors == 0
    assert rules(loaded) == [("row.amended", heading)]
    assert loaded.amended == {table: 1}
    if table == "equipment_use":
        stored = next(row["id"] for row in rows_of(registry, "equipment_model") if row["model_code"] == value)
    (row,) = [row for row in rows_of(registry, table) if row["revision"] == 2]
    assert (row[column], row["batch_id"]) == (stored, loaded.batch_id)
    with registry.reading() as connection:
        entry = connection.execute(select(HISTORY).order_by(HISTORY.c.id.desc()).limit(1)).mappings().one()
    assert (entry["kind"], entry["about_table"], entry["by"]) == ("update", table, "loader")


def test_a_check_shows_what_would_change_and_changes_nothing(registry: Registry, book: Books) -> None:
    from registry.intake.load_plan import make_plan

    load_file(registry, book(CASE), by="loader")
    head = registry.head()
    plan = make_plan(registry, book(with_cell("stone", "length_mm", 15)), amending=Amending())
    assert [(a.table, a.field, a.held, a.given) for a in plan.amendments] == [
        ("stone", "length_mm", "14.25 mm", "15 mm")
    ]
    assert plan.amendments[0].place.row == 2
    assert registry.head() == head


def test_a_blank_cell_erases_nothing(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    head = registry.head()
    loaded = amend(registry, book(with_cell("stone", "length_mm", None)))
    assert (loaded.batch_id, rules(loaded, "row.stays")) == (None, [("row.stays", "length_mm")])
    assert registry.head() == head


def test_amendments_and_new_rows_come_together_or_not_at_all(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    rows = with_cell("stone", "length_mm", 15)
    rows["contact"].append({"study_number": "0042", "contacted_on": date(2024, 9, 1)})
    broken = with_cell("contact", "contacted_on", "soon", row=1, rows=rows)
    head = registry.head()
    assert amend(registry, book(broken)).errors == 1
    assert registry.head() == head
    loaded = amend(registry, book(rows))
    assert (loaded.new, loaded.amended) == ({"contact": 1}, {"stone": 1})


def test_an_amended_link_may_lead_to_a_new_row(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    rows = with_cell("treated_side", "course_number", 2)
    rows["course"].append({"study_number": "1001", "unit": "left", "course_number": 2})
    loaded = amend(registry, book(rows))
    assert loaded.amended == {"treated_side": 1}
    assert one(registry, "treated_side", "course_id") == rows_of(registry, "course")[1]["id"]


def test_what_a_person_corrected_stays_while_the_file_says_what_it_said(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    correct(registry, "stone", length_mm=13.0)
    loaded = amend(registry, book(with_cell("stone", "width_mm", 8)))
    assert rules(loaded) == [("row.correction_stays", "length_mm"), ("row.amended", "width_mm")]
    assert (one(registry, "stone", "length_mm"), one(registry, "stone", "width_mm")) == (13.0, 8.0)
    third = amend(registry, book(with_cell("stone", "width_mm", 7)))
    assert rules(third) == [("row.correction_stays", "length_mm"), ("row.amended", "width_mm")]


def test_a_new_value_against_a_correction_is_a_question(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    correct(registry, "stone", length_mm=13.0)
    later = book(with_cell("stone", "length_mm", 16))
    head = registry.head()
    loaded = amend(registry, later)
    (found,) = [f for f in loaded.findings if f.rule == "row.corrected"]
    assert found.severity is Severity.QUESTION
    assert "13 mm" in found.why
    assert "16 mm" in found.why
    assert registry.head() == head
    loaded = amend(registry, later, replacing=True)
    assert rules(loaded) == [("row.amended", "length_mm")]
    assert one(registry, "stone", "length_mm") == 16.0
    # What the log wrote last may be changed by the log again.
    amend(registry, book(with_cell("stone", "length_mm", 17)))
    assert one(registry, "stone", "length_mm") == 17.0


def test_the_file_that_left_a_question_can_be_loaded_again_to_replace(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    correct(registry, "stone", length_mm=13.0)
    rows = with_cell("stone", "length_mm", 16)
    rows["stone"][0]["width_mm"] = 8
    later = book(rows)
    assert amend(registry, later).amended == {"stone": 1}
    assert amend(registry, later).seen_before
    assert amend(registry, later, replacing=True).amended == {"stone": 1}
    assert one(registry, "stone", "length_mm") == 16.0


def test_another_log_does_not_overwrite_this_one(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    loaded = amend(registry, book(with_cell("stone", "length_mm", 16), "ward log"))
    assert rules(loaded) == [("row.corrected", "length_mm")]
    # A workbook is typed by a person, who corrects what a log has said.
    loaded = amend(registry, book(with_cell("stone", "length_mm", 16), "workbook"))
    assert rules(loaded) == [("row.amended", "length_mm")]
    # And that is a correction to the log.
    assert rules(amend(registry, book(with_cell("stone", "width_mm", 8)))) == [
        ("row.correction_stays", "length_mm"),
        ("row.amended", "width_mm"),
    ]


def test_a_row_that_a_person_entered_is_not_overwritten(registry: Registry, book: Books) -> None:
    load_file(registry, book(case(contact=None)), by="loader")
    patient = next(row["id"] for row in rows_of(registry, "patient") if row["study_number"] == "1001")
    with registry.writing(by="Jo") as door:
        door.insert("contact", {"patient_id": patient, "contacted_on": date(2024, 8, 1), "note": "well"})
    loaded = amend(registry, book(with_cell("contact", "note", "unwell")))
    assert rules(loaded) == [("row.corrected", "note")]
    assert not any("well" in f.why for f in loaded.findings)


def test_names_are_compared_and_never_shown(registry: Registry, book: Books) -> None:
    load_file(registry, book({**CASE, **IDENTITY}), by="loader")
    rows = with_cell("patient_identity", "family_name", "Roe", rows={**CASE, **IDENTITY})
    loaded = amend(registry, book(rows))
    assert rules(loaded) == [("row.amended", "family_name")]
    correct(registry, "patient_identity", family_name="Poe")
    rows = with_cell("patient_identity", "family_name", "Zoe", rows={**CASE, **IDENTITY})
    loaded = amend(registry, book(rows))
    assert rules(loaded) == [("row.corrected", "family_name")]
    said = " ".join(f"{f.value} {f.why} {f.right}" for f in loaded.findings)
    assert not any(name in said for name in ("Doe", "Roe", "Poe", "Zoe"))
    rows = with_cell("patient_identity", "given_names", "Al", rows=rows)
    loaded = amend(registry, book(with_cell("patient_identity", "family_name", "Roe", rows=rows)))
    assert rules(loaded) == [("row.correction_stays", "family_name"), ("row.filled", "given_names")]


CONDITIONS = "predisposition"


def conditions(registry: Registry) -> list[str]:
    return sorted(str(row["condition"]) for row in rows_of(registry, CONDITIONS))


def test_codes_come_and_go(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    loaded = amend(registry, book(with_cell("patient", "condition", "cystinuria; immobility")))
    assert rules(loaded) == [("row.amended", "condition")]
    assert conditions(registry) == ["cystinuria", "immobility"]


def test_codes_that_persons_wrote_stay(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    patient = rows_of(registry, "patient")
    first = next(row["id"] for row in patient if row["study_number"] == "1001")
    gone = next(row["id"] for row in rows_of(registry, CONDITIONS) if row["condition"] == "cystinuria")
    with registry.writing(by="Jo") as door:
        door.insert(CONDITIONS, {"patient_id": first, "condition": "immobility"})
        door.withdraw(CONDITIONS, gone)
    loaded = amend(registry, book(with_cell("patient", "sex", "male")))
    assert ("row.correction_stays", "condition") in rules(loaded)
    assert conditions(registry) == ["hypercalciuria", "immobility"]
    # The log takes away what it brought, and what the person brought stays.
    loaded = amend(registry, book(with_cell("patient", "condition", "cystinuria")))
    assert conditions(registry) == ["immobility"]


def test_a_reason_is_needed(registry: Registry, book: Books) -> None:
    with pytest.raises(GravelbookError, match="reason"):
        load_file(registry, book(CASE), by="loader", amending=Amending())


def test_rows_that_are_gone_from_the_log_are_asked_about(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    rows = case(fragment=None, reading=None)
    loaded = amend(registry, book(rows))
    gone = [f for f in loaded.findings if f.rule == "row.gone"]
    assert [f.sheet for f in gone] == ["Reading"]  # and not its fragment, too
    assert "study_number 1001" in gone[0].why
    assert len(rows_of(registry, "fragment")) == 1
    assert rules(amend(registry, book(rows, "workbook")), "row.gone") == []
    assert rules(amend(registry, book(rows, fills=True)), "row.gone") == []


def test_an_extract_fills_blanks_unasked_and_changes_nothing_else(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    extract: Rows = {"stone": [{**CASE["stone"][0], "depth_mm": 7}]}
    loaded = load_file(registry, book(extract, "scan reports", fills=True), by="loader")
    assert (loaded.errors, rules(loaded)) == (0, [("row.filled", "depth_mm")])
    assert verify(registry).findings == []
    assert one(registry, "stone", "depth_mm") == 7.0
    extract["stone"][0] |= {"depth_mm": 8}
    loaded = load_file(registry, book(extract, "scan reports", fills=True), by="loader")
    assert (loaded.errors, rules(loaded)) == (1, [("row.differs", "depth_mm")])
    assert rules(amend(registry, book(extract, "scan reports", fills=True))) == [("row.amended", "depth_mm")]


def test_what_a_person_emptied_is_not_filled_again(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    correct(registry, "stone", length_mm=None)
    extract: Rows = {"stone": [{**CASE["stone"][0], "length_mm": 20}]}
    loaded = load_file(registry, book(extract, "scan reports", fills=True), by="loader")
    assert rules(loaded) == [("row.corrected", "length_mm")]
    assert rules(amend(registry, book(with_cell("stone", "width_mm", 8)))) == [
        ("row.correction_stays", "length_mm"),
        ("row.amended", "width_mm"),
    ]
    assert one(registry, "stone", "length_mm") is None


def test_a_change_that_contradicts_what_stays_is_refused(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    correct(registry, "fragment", diameter_high_mm=1.8)
    rows = with_cell("fragment", "diameter_low_mm", 1.9)  # below the log's own 2, above the corrected 1.8
    loaded = amend(registry, book(rows))
    assert rules(loaded, "fragment.diameter.low_to_high") == [("fragment.diameter.low_to_high", "diameter_high_mm")]
    assert loaded.errors == 1


def test_the_zone_of_a_site_is_not_amended(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    rows = with_cell("site", "time_zone", "Europe/Paris")
    del rows["operation"][0]["started_at"]
    loaded = amend(registry, book(rows))
    assert rules(loaded) == [("row.differs", "time_zone")]


@pytest.mark.parametrize(
    ("before", "after", "what"),
    [
        ({"batch_id": 1}, {"batch_id": 1}, (Change.CORRECTED, None)),
        ({}, {}, (Change.CORRECTED, None)),
        ({}, {"batch_id": 2}, (Change.AMENDED, 2)),
        ({"batch_id": 1}, {"batch_id": 3}, (Change.AMENDED, 3)),
        ({"batch_id": 3}, {"batch_id": 1}, (Change.TAKEN_BACK, 3)),
        ({"batch_id": 3}, {}, (Change.TAKEN_BACK, 3)),
    ],
)
def test_what_a_change_was(before: dict[str, int], after: dict[str, int], what: tuple[Change, int | None]) -> None:
    assert change_of(before, after) == what
