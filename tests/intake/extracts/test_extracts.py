"""Each kind of extract finds its case; the same rows again change nothing."""

from __future__ import annotations

from datetime import date

import pytest

from registry.intake.load import load_file
from registry.intake.source import Source
from registry.validation.findings import Severity
from tests.intake.extracts.unit import Unit
from tests.validation.small_registry import day

SCANS = ["MRN", "Scan date", "Modality", "Side", "Largest left", "Largest right", "Finding", "Report"]
BLOOD = ["MRN", "Date", "Creatinine (mg/dL)", "CRP"]
ANALYSES = ["MRN", "Reported", "Main component", "Share"]
CULTURES = ["Hospital no", "Taken", "Material", "Result", "Organism"]


def test_one_scan_of_both_kidneys_gives_two_readings(unit: Unit) -> None:
    unit.side(10, unit.patient("H-1"))
    unit.load("scans", SCANS, ["H-1", "01.02.2024", "CT", "LR", "3,5", "none", "", "Both kidneys seen."])
    assert len(unit.rows("examination")) == 1
    kidneys = {row["id"]: row["unit"] for row in unit.rows("renal_unit")}
    readings = {kidneys[row["renal_unit_id"]]: row for row in unit.rows("reading")}
    assert {side: row["finding"] for side, row in readings.items()} == {"left": "fragments", "right": "none_seen"}
    fragment = unit.only("fragment")
    assert (fragment["reading_id"], fragment["diameter_high_mm"]) == (readings["left"]["id"], 3.5)


def test_overlapping_extracts_change_nothing_for_the_rows_that_they_share(unit: Unit) -> None:
    unit.side(10, unit.patient("H-1"))
    first = ["H-1", "01.02.2024", "CT", "L", "4", "", "", "4 mm"]
    second = ["H-1", "01.02.2024", "CT", "L", "2", "", "", "second reading: 2 mm"]
    third = ["H-1", "08.02.2024", "US", "L", "", "", "clear", "clear"]
    unit.load("scans", SCANS, first)
    unit.load("scans", SCANS, first, second)
    assert [row["reading_number"] for row in unit.rows("reading")] == [1, 2]
    unit.load("scans", SCANS, second, third)  # the second alone is not taken for the first
    assert [row["reading_number"] for row in unit.rows("reading")] == [1, 2, 1]
    head = unit.head()
    done = unit.load("scans", SCANS, third, second, first)
    assert done.batch_id is None and unit.head() == head
    assert len(unit.rows("examination")) == 2 and len(unit.rows("fragment")) == 2


def test_the_same_extract_twice_changes_nothing(unit: Unit) -> None:
    unit.operation(unit.patient("H-1"), 10)
    source = unit.source("blood_results", BLOOD, ["H-1", "12.01.2024", "1,2", ""], ["H-1", "13.01.2024", "", "40"])
    unit.load_source(source)
    head = unit.head()
    assert unit.load_source(source).seen_before and unit.head() == head


def test_two_different_results_of_one_day_are_two_and_somebody_is_asked(unit: Unit) -> None:
    unit.operation(unit.patient("H-1"), 30)
    unit.load("cultures", CULTURES, ["H-1", "20.01.2024", "MSU", "no growth", ""])
    done = unit.load("cultures", CULTURES, ["H-1", "20.01.2024", "MSU", "growth", "E. coli"])
    assert [(row["culture_number"], row["result"]) for row in unit.rows("culture")] == [
        (1, "negative"),
        (2, "positive"),
    ]
    assert [found.severity for found in done.findings if found.rule == "log.extract.another"] == [Severity.QUESTION]


def test_a_result_completes_the_culture_that_was_sent(unit: Unit) -> None:
    patient = unit.patient("H-1")
    operation = unit.operation(patient, 30)
    sent = unit.add("culture", patient_id=patient, taken_on=day(20), specimen="urine", operation_id=operation)
    unit.load("cultures", CULTURES, ["H-1", "21.01.2024", "MSU", "growth", "E. coli"])
    assert (unit.only("culture")["id"], unit.only("culture")["result"]) == (sent, "positive")


def test_a_nearer_operation_entered_later_does_not_take_a_result_away(unit: Unit) -> None:
    patient = unit.patient("H-1")
    first = unit.operation(patient, 10)
    row = ["H-1", "14.01.2024", "1,2", ""]  # day 13
    unit.load("blood_results", BLOOD, row)
    unit.operation(patient, 12)
    head = unit.head()
    assert unit.load("blood_results", BLOOD, row, row).batch_id is None
    assert unit.head() == head and unit.only("observation_set")["operation_id"] == first


def test_laboratory_values_of_one_day_are_one_set(unit: Unit) -> None:
    unit.operation(unit.patient("H-1"), 10)
    unit.load("blood_results", BLOOD, ["H-1", "12.01.2024", "1,2", ""], ["H-1", "12.01.2024", "", "40"])
    found = unit.only("observation_set")
    # Creatinine: 1 mg/dL is 88.42 µmol/L at a molar mass of 113.12 g/mol.
    assert found["creatinine_umol_l"] == pytest.approx(1.2 * 10_000 / 113.12, rel=2e-3)
    assert found["c_reactive_protein_mg_l"] == 40


def test_a_report_fills_the_analysis_that_was_sent(unit: Unit) -> None:
    patient = unit.patient("H-1")
    side, kidney = unit.side(10, patient)
    operation = unit.operation_of(side)
    old = unit.add("stone_analysis", renal_unit_id=kidney, state="result", reported_on=date(2020, 1, 5))
    sent = unit.add(
        "stone_analysis",
        renal_unit_id=kidney,
        analysis_number=2,
        operation_id=operation,
        state="sent",
        sent_on=day(10),
    )
    rows = [["H-1", "30.01.2024", "COM", "80"], ["H-1", "30.01.2024", "UA", "20"]]
    unit.load("stone_analyses", ANALYSES, *rows)
    found = {row["id"]: row for row in unit.rows("stone_analysis")}
    assert set(found) == {old, sent}
    assert (found[sent]["state"], found[sent]["reported_on"]) == ("result", date(2024, 1, 30))
    assert {row["component"]: row["share_percent"] for row in unit.rows("analysis_component")} == {
        "whewellite": 80,
        "uric_acid": 20,
    }
    head = unit.head()
    assert unit.load("stone_analyses", ANALYSES, *reversed(rows)).batch_id is None and unit.head() == head


def test_the_analysis_of_another_operation_is_not_filled(unit: Unit) -> None:
    patient = unit.patient("H-1")
    side, kidney = unit.side(10, patient)
    unit.add("stone_analysis", renal_unit_id=kidney, operation_id=unit.operation_of(side), state="sent")
    unit.side(40, patient, kidney)
    unit.load("stone_analyses", ANALYSES, ["H-1", "15.02.2024", "UA", "100"])  # day 45: the later one is nearer
    assert [row["state"] for row in unit.rows("stone_analysis")] == ["sent", "result"]


def test_a_discharge_ends_the_stay_that_it_falls_into(unit: Unit) -> None:
    patient = unit.patient("H-1")
    unit.add("admission", patient_id=patient, admitted_on=day(10), discharged_on=day(12))
    stay = unit.add("admission", patient_id=patient, admitted_on=day(20))
    unit.add("admission", patient_id=patient, admitted_on=day(90))
    row = ["H-1", "25.01.2024"]  # day 24
    unit.load("discharges", ["MRN", "Discharged"], row)
    assert [row["discharged_on"] for row in unit.rows("admission")] == [day(12), day(24), None]
    assert unit.rows("admission")[1]["id"] == stay
    head = unit.head()
    assert unit.load("discharges", ["MRN", "Discharged"], row, row).batch_id is None and unit.head() == head
    unit.load("discharges", ["MRN", "Discharged"], ["H-1", "01.01.2024"])
    assert unit.whys() == ["stay"]


def test_a_discharge_that_contradicts_the_registry_is_refused_with_both_values(unit: Unit) -> None:
    patient = unit.patient("H-1")
    unit.add("admission", patient_id=patient, admitted_on=day(10), discharged_on=day(15))
    source = unit.source("discharges", ["MRN", "Discharged"], ["H-1", "13.01.2024"])
    done = load_file(unit.registry, source, by="clerk")
    (found,) = [found for found in done.findings if found.severity is Severity.ERROR]
    assert (found.rule, found.value, found.row, found.column) == ("row.differs", "13.01.2024", 2, "B")
    assert "2024-01-16" in found.why  # day 15


def test_a_death_fills_the_patient(unit: Unit) -> None:
    patient = unit.patient("H-1")
    row = ["H-1", "01.06.2024"]
    done = unit.load("deaths", ["MRN", "Died"], row)
    assert done.amended == {"patient": 1} and done.new == {}
    found = unit.only("patient")
    assert (found["id"], found["died_on"], found["death_source"]) == (patient, date(2024, 6, 1), "record")
    head = unit.head()
    assert unit.load("deaths", ["MRN", "Died"], row, row).batch_id is None and unit.head() == head


def test_an_attendance_is_entered_once(unit: Unit) -> None:
    unit.operation(unit.patient("H-1"), 10)
    row = ["H-1", "20.01.2024", "fever"]
    unit.load("attendances", ["MRN", "Came on", "Complaint"], row)
    unit.load("attendances", ["MRN", "Came on", "Complaint"], row, ["H-1", "20.01.2024", "colic"])
    assert [(row["entry_number"], row["what"]) for row in unit.rows("later_entry")] == [
        (1, "unplanned_attendance"),
        (2, "unplanned_attendance"),
    ]


def test_a_row_without_a_number_is_an_error(unit: Unit) -> None:
    done = load_file(unit.registry, unit.source("deaths", ["MRN", "Died"], ["", "01.06.2024"]), by="clerk")
    assert [found.rule for found in done.findings if found.severity is Severity.ERROR] == ["log.patient.named"]
    assert unit.rows("batch") == []


def test_one_row_a_result_fills_the_field_of_its_test(unit: Unit) -> None:
    unit.operation(unit.patient("H-1"), 10)
    headings = ["MRN", "Date", "Test", "Value", "Unit"]
    crea, crp = ["H-1", "12.01.2024", "CREA", "106", "umol/L"], ["H-1", "12.01.2024", "crp", "40", "mg/L"]
    done = unit.load("blood_results_by_test", headings, crea, ["H-1", "12.01.2024", "K", "4,1", "mmol/L"])
    (note,) = [found for found in done.findings if found.rule == "log.extract.passed"]
    assert (note.severity, note.row) == (Severity.NOTE, 3)
    unit.load("blood_results_by_test", headings, crea, crp)
    found = unit.only("observation_set")
    assert (found["creatinine_umol_l"], found["c_reactive_protein_mg_l"]) == (106, 40)
    head = unit.head()
    assert unit.load("blood_results_by_test", headings, crp, crea).batch_id is None and unit.head() == head


def test_a_day_after_today_is_an_error(unit: Unit) -> None:
    unit.operation(unit.patient("H-1"), 10)
    ahead = date.today().year + 1
    source = unit.source("attendances", ["MRN", "Came on", "Complaint"], ["H-1", f"20.01.{ahead}", "fever"])
    done = load_file(unit.registry, source, by="clerk")
    assert done.errors and unit.rows("later_entry") == []


def test_a_row_that_names_its_operation_goes_there(unit: Unit) -> None:
    patient = unit.patient("H-1")
    side, _ = unit.side(10, patient)
    unit.side(12, patient, unit.unit(patient, "right"))
    headings = ["MRN", "Operation", "Onset", "Event"]
    fever = ["H-1", "11.01.2024", "14.01.2024", "fever"]
    unit.load("complications", headings, fever)
    unit.load("complications", headings, ["H-1", "11.01.2024", "15.01.2024", "sepsis"], fever)
    assert [(r["operation_id"], r["complication_number"], r["what"]) for r in unit.rows("complication")] == [
        (unit.operation_of(side), 1, "fever"),
        (unit.operation_of(side), 2, "sepsis"),
    ]
    unit.load("complications", headings, ["H-1", "20.01.2024", "", "fever"])
    assert unit.whys() == ["operation"]
    assert len(unit.rows("operation")) == len(unit.rows("course") + unit.rows("treated_side")) == 2


def test_a_day_known_to_the_month_leads_to_no_operation(unit: Unit) -> None:
    unit.operation(unit.patient("H-1"), 10)
    source = unit.source("attendances", ["MRN", "Came on", "Complaint"], ["H-1", "01/2024", "fever"])
    assert source.mapping is not None
    mapping = unit.folder / "months.toml"
    mapping.write_text(source.mapping.read_text().replace('["dd.mm.yyyy"]', '["dd.mm.yyyy", "mm/yyyy"]'))
    unit.load_source(Source(source.files, mapping))
    assert unit.whys() == ["day"]


def test_a_row_may_fill_a_blank_of_its_operation(unit: Unit) -> None:
    patient = unit.patient("H-1")
    unit.side(10, patient)
    source = unit.source(
        "complications", ["MRN", "Operation", "Onset", "Event", "ASA"], ["H-1", "11.01.2024", "", "", "2"]
    )
    assert source.mapping is not None
    mapping = unit.folder / "asa.toml"
    mapping.write_text(source.mapping.read_text() + '[[column]]\nheading = "ASA"\nto = "operation.asa_class"\n')
    assert unit.load_source(Source(source.files, mapping)).amended == {"operation": 1}
    assert (unit.only("operation")["asa_class"], unit.only("operation")["purpose"]) == ("2", "stone_removal")
