"""Rows that find no case wait, and are placed when it comes."""

from __future__ import annotations

from datetime import date

from registry.store.withdrawing import withdraw_batch
from tests.intake.extracts.unit import Unit

CULTURES = ["Hospital no", "Taken", "Material", "Result", "Organism"]
SCANS = ["MRN", "Scan date", "Modality", "Side", "Largest left", "Largest right", "Finding", "Report"]
GROWTH = ["H-1", "25.04.2024", "MSU", "growth", "E. coli"]
CLEAR = ["H-1", "02.06.2024", "CT", "L", "", "", "clear", "No stone."]


def test_a_culture_is_placed_when_the_log_brings_its_operation(unit: Unit) -> None:
    loaded = unit.load("cultures", CULTURES, GROWTH)
    assert (loaded.new, loaded.waiting) == ({}, 1)
    assert unit.whys() == ["patient"] and unit.rows("culture") == []
    unit.load_log(["H-1", "03.05.2024", "L"])
    done = unit.again()
    assert (done.placed, done.left) == (1, 0)
    culture, operation = unit.only("culture"), unit.only("operation")
    assert (culture["taken_on"], culture["result"]) == (date(2024, 4, 25), "positive")
    assert culture["operation_id"] == operation["id"]
    assert unit.only("culture_organism")["organism"] == "escherichia_coli"
    assert [row["state"] for row in unit.rows("waiting_row")] == ["placed"]
    assert unit.only("waiting_row")["batch_id"] == done.batches[0] == unit.rows("batch")[-1]["id"]


def test_a_scan_waits_first_for_its_patient_and_then_for_its_operation(unit: Unit) -> None:
    unit.load("scans", SCANS, CLEAR)
    assert unit.whys() == ["patient"]
    patient = unit.patient("H 1")  # the same number with another blank
    assert unit.again().left == 1
    assert unit.whys() == ["operation"]
    head = unit.head()
    assert unit.again().left == 1
    assert unit.head() == head  # nothing new is known of it, so nothing is written
    unit.add("operation", patient_id=patient, operated_on=date(2024, 5, 3), purpose="stone_removal")
    assert unit.again().placed == 1
    assert unit.only("reading")["finding"] == "none_seen"


def test_what_waits_is_encrypted_and_forgotten_when_it_is_placed(unit: Unit) -> None:
    unit.load("scans", SCANS, CLEAR)
    kept = unit.only("waiting_row")
    assert kept["content"].startswith("enc1:") and "H-1" not in str(kept)
    unit.load_log(["H-1", "03.05.2024", "L"])
    unit.again()
    with unit.registry.reading() as connection:
        clear = unit.registry.cipher(connection).decrypt(unit.only("waiting_row")["content"], "waiting_row", "content")
    assert "row" not in clear.replace('"mark"', "") and "H-1" not in clear


def test_a_row_of_another_site_waits(unit: Unit) -> None:
    other = unit.add("site", code="ZZ", name="Elsewhere")
    patient = unit.add("patient", site_id=other, study_number="Z1")
    unit.add("hospital_number", site_id=other, patient_id=patient, number="H-1")
    unit.add("operation", patient_id=patient, operated_on=date(2024, 5, 3), purpose="stone_removal")
    source = unit.source("scans", SCANS, CLEAR)
    text = source.mapping.read_text() if source.mapping else ""
    here = unit.folder / "here.toml"
    here.write_text('site = "LB"\n' + text)
    unit.load_source(type(source)(source.files, here))
    assert unit.whys() == ["patient"] and unit.rows("examination") == []


def test_the_same_row_of_the_next_week_does_not_wait_twice(unit: Unit) -> None:
    other = ["H-2", *GROWTH[1:]]
    unit.load("cultures", CULTURES, GROWTH)
    unit.load("cultures", CULTURES, GROWTH, other)
    assert unit.whys() == ["patient", "patient"]
    head = unit.head()
    done = unit.load("cultures", CULTURES, other, GROWTH)
    assert done.batch_id is None and unit.head() == head


def test_the_nearest_of_two_operations_is_taken_and_a_tie_waits(unit: Unit) -> None:
    patient = unit.patient("H-1")
    early, late = (unit.operation(patient, on) for on in (10, 20))
    unit.load("blood_results", ["MRN", "Date", "Creatinine (mg/dL)", "CRP"], ["H-1", "16.01.2024", "", "80"])
    # Day 0 is 1 January: 16 January is day 15, five days from both operations.
    assert unit.whys() == ["which_operation"]
    unit.load("blood_results", ["MRN", "Date", "Creatinine (mg/dL)", "CRP"], ["H-1", "17.01.2024", "", "60"])
    assert unit.only("observation_set")["operation_id"] == late
    unit.withdraw("observation_set", unit.only("observation_set")["id"])
    unit.withdraw("operation", late)
    unit.again()
    assert unit.only("observation_set")["operation_id"] == early


def test_a_side_decides_between_two_operations_of_one_day(unit: Unit) -> None:
    patient = unit.patient("H-1")
    left, right = unit.unit(patient, "left"), unit.unit(patient, "right")
    for number, kidney in ((1, left), (2, right)):
        operation = unit.operation(patient, 10, day_number=number)
        unit.add(
            "treated_side", operation_id=operation, renal_unit_id=kidney, intent="stone_removal", exit_strategy="none"
        )
    no_side = ["H-1", "01.02.2024", "CT", "", "", "", "clear", ""]
    unit.load("scans", SCANS, no_side)
    assert unit.whys() == ["which_operation"]
    unit.load("scans", SCANS, [*no_side[:3], "R", *no_side[4:]])
    assert unit.only("reading")["renal_unit_id"] == right


def test_a_row_without_a_side_takes_the_only_one_of_its_operation(unit: Unit) -> None:
    _, kidney = unit.side(10, unit.patient("H-1"))
    both = unit.patient("H-2")
    operation = unit.operation(both, 10)
    for name in ("left", "right"):
        unit.add(
            "treated_side",
            operation_id=operation,
            renal_unit_id=unit.unit(both, name),
            intent="stone_removal",
            exit_strategy="none",
        )
    row = ["01.02.2024", "CT", "", "", "", "clear", ""]
    unit.load("scans", SCANS, ["H-1", *row], ["H-2", *row])
    assert unit.only("reading")["renal_unit_id"] == kidney
    assert unit.whys() == ["side"]


def test_a_row_whose_value_is_refused_waits_and_the_others_are_placed(unit: Unit) -> None:
    unit.load("deaths", ["MRN", "Died"], ["H-1", "01.06.2024"], ["H-2", "02.06.2024"])
    unit.patient("H-1", died_on=date(2024, 5, 30))
    unit.patient("H-2")
    done = unit.again()
    assert (done.placed, done.left) == (1, 1)
    assert [row["died_on"] for row in unit.rows("patient")] == [date(2024, 5, 30), date(2024, 6, 2)]
    assert unit.whys() == ["error: row.differs"]


def test_withdrawing_what_was_placed_lets_the_rows_wait_again(unit: Unit) -> None:
    unit.load("cultures", CULTURES, GROWTH)
    unit.load_log(["H-1", "03.05.2024", "L"])
    (batch,) = unit.again().batches
    with unit.registry.writing(by="clerk", reason="wrong file") as door:
        withdraw_batch(door, batch)
    assert unit.rows("culture") == [] and unit.whys() == ["patient"]
    assert unit.again().placed == 1
    assert unit.only("culture")["result"] == "positive"


def test_withdrawing_an_extract_takes_its_waiting_rows_with_it(unit: Unit) -> None:
    loaded = unit.load("cultures", CULTURES, GROWTH)
    assert loaded.batch_id is not None
    with unit.registry.writing(by="clerk", reason="wrong file") as door:
        withdraw_batch(door, loaded.batch_id)
    assert unit.rows("waiting_row") == []
