"""A batch is withdrawn whole, or not at all."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner
from sqlalchemy import select

from registry.intake.amend import Amending
from registry.intake.batches import list_batches
from registry.intake.load import load_file
from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata, ordered_tables
from registry.store.history import HISTORY
from registry.store.record_hash import record_hash
from registry.store.registry import Registry, open_registry
from registry.store.verify import verify
from registry.store.withdrawing import Withdrawn, withdraw_batch
from tests.intake.books import CASE, IDENTITY, case, with_cell
from tests.intake.test_amend import Books, amend, correct, one, rows_of


@pytest.fixture
def registry(location: str) -> Iterator[Registry]:
    """An empty registry, once on each engine."""
    with open_registry(location) as opened:
        yield opened


@pytest.fixture
def book(tmp_path: Path) -> Books:
    """Writes files."""
    return Books(tmp_path)


def withdraw(registry: Registry, batch: int, *, with_corrections: bool = False) -> Withdrawn:
    with registry.writing(by="Jo", reason="the wrong file") as door:
        done = withdraw_batch(door, batch, with_corrections=with_corrections)
    assert verify(registry).findings == []
    return done


def counts(registry: Registry) -> dict[str, int]:
    return {
        t.name: n
        for t in ordered_tables()
        if t.name not in ("change_history", "batch") and (n := len(rows_of(registry, t.name)))
    }


def test_all_rows_of_a_batch_go_and_their_images_stay(registry: Registry, book: Books) -> None:
    loaded = load_file(registry, book({**CASE, **IDENTITY}), by="loader")
    assert loaded.batch_id is not None
    before = counts(registry)
    done = withdraw(registry, loaded.batch_id)
    assert done.gone == loaded.new
    assert counts(registry) == {}
    assert one(registry, "batch", "state") == "withdrawn"
    with registry.reading() as connection:
        query = select(HISTORY.c.about_table, HISTORY.c.before).where(HISTORY.c.kind == "withdraw")
        images = {table: json.loads(before) for table, before in connection.execute(query)}
    assert {table: len(rows) for table, rows in images.items()} == before
    assert {row["study_number"] for row in images["patient"]} == {"1001", "0042"}


def test_the_same_file_can_be_loaded_again(registry: Registry, book: Books) -> None:
    file = book({**CASE, **IDENTITY})
    loaded = load_file(registry, file, by="loader")
    record = record_hash(registry)
    highest = max(row["id"] for row in rows_of(registry, "stone"))
    withdraw(registry, loaded.batch_id or 0)
    again = load_file(registry, file, by="loader")
    assert (again.seen_before, again.new) == (False, loaded.new)
    assert record_hash(registry) == record
    assert min(row["id"] for row in rows_of(registry, "stone")) > highest  # a key is never given twice
    assert verify(registry).findings == []
    withdraw(registry, again.batch_id or 0)
    load_file(registry, file, by="loader")
    assert [batch.state for batch in list_batches(registry)] == ["withdrawn", "withdrawn", "loaded"]


def test_keys_of_withdrawn_rows_are_not_given_after_opening_again(location: str, book: Books) -> None:
    with open_registry(location) as registry:
        loaded = load_file(registry, book(CASE), by="loader")
        withdraw(registry, loaded.batch_id or 0)
    with open_registry(location) as registry:
        again = load_file(registry, book(CASE), by="loader")
        assert one(registry, "stone", "id") == 2
        assert again.new == loaded.new


def test_what_a_batch_changed_is_as_before(registry: Registry, book: Books) -> None:
    load_file(registry, book({**CASE, **IDENTITY}), by="loader")
    record, stood = record_hash(registry), counts(registry)
    rows = with_cell("stone", "length_mm", 15, rows={**case(), **IDENTITY})
    rows["patient_identity"][0]["family_name"] = "Roe"
    rows["patient"][0] |= {"condition": "cystinuria; immobility", "died_on": "2024", "note": "other"}
    rows["treated_side"][0]["course_number"] = 2
    rows["course"].append({"study_number": "1001", "unit": "left", "course_number": 2})
    loaded = amend(registry, book(rows))
    assert record_hash(registry) != record
    done = withdraw(registry, loaded.batch_id or 0)
    assert done.taken_back == {"stone": 1, "patient": 1, "predisposition": 1, "patient_identity": 1, "treated_side": 1}
    assert (record_hash(registry), counts(registry)) == (record, stood)
    assert one(registry, "stone", "batch_id") == 1
    # The log may still amend what is its own.
    again = amend(registry, book(rows))
    assert again.amended == loaded.amended


def test_an_older_batch_waits_for_the_later_one(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    second = amend(registry, book(with_cell("stone", "length_mm", 15)))
    third = amend(
        registry, book(with_cell("patient", "condition", "cystinuria", rows=with_cell("stone", "length_mm", 16)))
    )
    for batch, later in ((1, second.batch_id), (second.batch_id, third.batch_id)):
        with pytest.raises(GravelbookError, match=r"batch \d has changed"):
            withdraw(registry, batch or 0)
        assert later is not None
    withdraw(registry, third.batch_id or 0)
    assert one(registry, "stone", "length_mm") == 15.0
    withdraw(registry, second.batch_id or 0)
    assert one(registry, "stone", "length_mm") == 14.25
    withdraw(registry, 1)
    assert counts(registry) == {}


def test_a_code_that_a_later_batch_took_away(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    later = amend(registry, book(with_cell("patient", "condition", "cystinuria")))
    with pytest.raises(GravelbookError, match=f"batch {later.batch_id} has changed"):
        withdraw(registry, 1)
    withdraw(registry, later.batch_id or 0)
    withdraw(registry, 1)


def test_corrections_of_persons_are_not_lost_unasked(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    second = amend(registry, book(with_cell("stone", "length_mm", 15)))
    correct(registry, "stone", width_mm=7.0)
    head = registry.head()
    with pytest.raises(GravelbookError, match=r"row 1 of stone by Jo.*--with-corrections"):
        withdraw(registry, second.batch_id or 0)
    assert registry.head() == head
    withdraw(registry, second.batch_id or 0, with_corrections=True)
    assert (one(registry, "stone", "length_mm"), one(registry, "stone", "width_mm")) == (14.25, 9.0)


def test_a_correction_that_was_itself_taken_back_is_none(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    correct(registry, "stone", width_mm=7.0)
    correct(registry, "stone", width_mm=9.0)
    withdraw(registry, 1)


def test_rows_of_others_that_hang_on_it(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    rows = case()
    rows["contact"].append({"study_number": "0042", "contacted_on": date(2024, 9, 1)})
    second = load_file(registry, book(rows), by="loader")
    with pytest.raises(GravelbookError, match=r"row 2 of contact entered by loader"):
        withdraw(registry, 1)
    withdraw(registry, second.batch_id or 0)
    withdraw(registry, 1)


def test_rows_that_a_person_has_withdrawn_since_do_not_matter(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    with registry.writing(by="Jo") as door:
        door.withdraw("contact", 1)
    done = withdraw(registry, 1)
    assert "contact" not in done.gone
    assert counts(registry) == {}


def test_what_cannot_be_withdrawn(registry: Registry, book: Books) -> None:
    with pytest.raises(GravelbookError, match="no batch 7"):
        withdraw(registry, 7)
    load_file(registry, book(CASE), by="loader")
    with pytest.raises(GravelbookError, match="reason"), registry.writing(by="Jo") as door:
        withdraw_batch(door, 1)
    withdraw(registry, 1)
    with pytest.raises(GravelbookError, match="already"):
        withdraw(registry, 1)


def test_a_signed_off_case_goes_with_its_reason(registry: Registry, book: Books) -> None:
    load_file(registry, book(CASE), by="loader")
    later = load_file(
        registry, book(with_cell("stone", "length_mm", 15)), by="loader", reason="measured again", amending=Amending()
    )
    assert later.amended == {"stone": 1}
    withdraw(registry, later.batch_id or 0)


def test_commands(location: str, book: Books) -> None:
    from registry.intake.commands import intake

    with open_registry(location) as registry:
        load_file(registry, book(CASE), by="loader")
    shown = CliRunner().invoke(intake, ["batches", "--registry", location])
    assert shown.exit_code == 0, shown.output
    assert shown.output.splitlines()[1].split()[0] == "1"
    assert "v1.xlsx" not in shown.output
    assert "v1.xlsx" in CliRunner().invoke(intake, ["batches", "--registry", location, "--names"]).output
    asked = ["withdraw", "1", "--registry", location, "--by-whom", "Jo"]
    assert CliRunner().invoke(intake, asked).exit_code == 2  # no reason
    done = CliRunner().invoke(intake, [*asked, "--reason", "the wrong file"])
    assert done.exit_code == 0, done.output
    assert "stone 1" in done.output
    listed = json.loads(CliRunner().invoke(intake, ["batches", "--registry", location, "--format", "json"]).output)
    assert [batch["state"] for batch in listed] == ["withdrawn"]
    assert metadata.tables["batch"].name == "batch"
