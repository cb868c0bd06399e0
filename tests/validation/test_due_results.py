"""What is due that is asked in the hospital. Each with one that must be listed and one that must not."""

from __future__ import annotations

import csv
import io
import json

import pytest

from registry.schema.errors import GravelbookError
from registry.schema.fields import Code, Day, Moment, Number, Reference, Whole, info_of
from registry.schema.tables import metadata
from registry.store.registry import Registry
from registry.validation.due.item import Way, What
from registry.validation.due.listing import due
from registry.validation.due.picture import Picture
from registry.validation.sign_off_ready import needed_fields, standings
from registry.validation.theatre_list.lines import ListLine, take_lines
from tests.command_line import gravelbook
from tests.validation.small_registry import TODAY, SmallRegistry, day


@pytest.fixture
def small(registry: Registry) -> SmallRegistry:
    return SmallRegistry(registry)


def rows(small: SmallRegistry, what: What, on: int = 200) -> dict[tuple[str, int], int]:
    """The overdue days of the items of a kind, by table and row."""
    found = due(small.registry, on=day(on), what=[what])
    return {(item.table, item.row): item.overdue_days for item in found}


def test_results_are_awaited_until_they_are_in_or_given_up(small: SmallRegistry) -> None:
    unit = small.unit(patient := small.patient())
    sent = small.add("stone_analysis", renal_unit_id=unit, analysis_number=1, state="sent", sent_on=day(150))
    small.add("stone_analysis", renal_unit_id=unit, analysis_number=2, state="result", sent_on=day(150))
    small.add("stone_analysis", renal_unit_id=unit, analysis_number=3, state="lost", sent_on=day(150))
    pending = small.add("culture", patient_id=patient, taken_on=day(190), specimen="urine")
    for number, reason in enumerate(("not_recorded", "pending"), start=2):
        reasoned = small.add(
            "culture",
            patient_id=patient,
            taken_on=day(190),
            specimen="urine",
            culture_number=number,
            missing_reasons=f"result={reason};",
        )
    small.add("culture", patient_id=patient, taken_on=day(190), specimen="blood", result="negative")
    booked = small.scan(unit, 195, not_done="pending")
    small.scan(unit, 205, not_done="pending")
    small.scan(unit, 180, not_done="refused")
    unread = small.scan(unit, 150, read=False)
    small.scan(unit, 151)
    assert rows(small, What.RESULTS) == {
        ("stone_analysis", sent): 50 - 42,
        ("culture", pending): 10 - 7,
        ("culture", reasoned): 10 - 7,
        ("examination", booked): 5,
        ("examination", unread): 50 - 14,
    }


def test_a_positive_culture_matters_before_an_operation_until_its_treatment_is_recorded(small: SmallRegistry) -> None:
    def culture(number: str, taken: int, result: str = "positive", **values: str) -> int:
        return small.add(
            "culture", patient_id=patients[number], taken_on=day(taken), specimen="urine", result=result, **values
        )

    names = ("listed", "today", "treated", "superseded", "cancelled", "over", "untreated", "decided", "dead")
    patients = {name: small.patient(name, **({"died_on": day(195)} if name == "dead" else {})) for name in names}
    take_lines(
        small.registry,
        [
            *(ListLine(day(207), name) for name in ("listed", "treated", "superseded", "untreated", "decided", "dead")),
            ListLine(day(207), "cancelled", cancelled=True),
            ListLine(day(199), "over"),
        ],
        by="tester",
    )
    small.operation(patients["today"], 200)
    must = {culture("listed", 190): -7, culture("today", 190): 0, culture("untreated", 190, treated_with="none"): -7}
    culture("treated", 190, treated_with="cephalosporin")
    culture("superseded", 180)
    culture("superseded", 190, "negative")
    culture("decided", 190, missing_reasons="treated_with=not_applicable;")
    for name in ("cancelled", "over", "dead"):
        culture(name, 190)
    assert rows(small, What.CULTURES) == {("culture", row): overdue for row, overdue in must.items()}
    assert {item.way for item in due(small.registry, on=TODAY, what=[What.CULTURES])} == {Way.ASK}


def test_a_line_of_the_list_is_missing_until_its_operation_is_there(small: SmallRegistry) -> None:
    patient = small.patient("H1")
    take_lines(small.registry, [ListLine(day(190), "H1"), ListLine(day(190), "H2"), ListLine(day(201), "H3")], by="x")
    found = due(small.registry, on=TODAY, what=[What.THEATRE_LIST])
    assert [(item.study_number, item.overdue_days) for item in found] == [("", 10), ("S001", 10)]
    small.operation(patient, 190)  # nobody has matched the list again yet
    assert [item.study_number for item in due(small.registry, on=TODAY, what=[What.THEATRE_LIST])] == [""]


def value_of(table: str, name: str) -> object:
    """Something that a field may hold."""
    match info_of(metadata.tables[table].columns[name]).kind:
        case Code(list=codes):
            return codes.codes()[0]
        case Whole(low=low) | Number(low=low):
            return low
        case Day():
            return day(0)
        case Moment() | Reference():
            raise AssertionError(f"{table}.{name} cannot be filled in here")
        case _:
            return "x"


def complete_case(small: SmallRegistry) -> tuple[int, int, int]:
    """An operation that lacks nothing: its key, its side's and its patient's."""

    def full(table: str, **values: object) -> int:
        needed = {name: value_of(table, name) for name in needed_fields().get(table, ())}
        return small.add(table, **{**needed, **values})

    small.patients += 1
    patient = full("patient", site_id=small.site, study_number=f"S{small.patients:03d}", birth_year=1960)
    unit = full("renal_unit", patient_id=patient, unit="left")
    course = small.add("course", renal_unit_id=unit)
    full("stone", course_id=course)
    admission = full("admission", patient_id=patient, admitted_on=day(99), discharged_on=day(101))
    operation = full(
        "operation", patient_id=patient, operated_on=day(100), purpose="stone_removal", admission_id=admission
    )
    side = full("treated_side", operation_id=operation, renal_unit_id=unit, intent="stone_removal", course_id=course)
    operator = small.add("operator", site_id=small.site, code=f"OP{small.patients}")
    full("operation_operator", operation_id=operation, operator_id=operator, role="first")
    small.scan(unit, 130)
    small.contact(patient, 135)
    return operation, side, patient


def test_a_case_is_ready_when_nothing_is_lacking_and_nothing_is_asked(small: SmallRegistry) -> None:
    ready, side, patient = complete_case(small)
    assert rows(small, What.SIGN_OFF) == {("operation", ready): 70}

    def lacking() -> tuple[str, ...]:
        with small.registry.reading() as connection:
            return standings(Picture(connection, TODAY))[0].lacking

    small.change("treated_side", side, satava=None)
    assert lacking() == ("treated_side.satava",)
    assert rows(small, What.SIGN_OFF) == {}
    small.change("treated_side", side, missing_reasons="satava=not_recorded;")
    assert lacking() == ()

    asked = {"rule": "r", "about_table": "patient", "about_row": patient, "asked_at": "2024-06-01T00:00:00+00:00"}
    question = small.add("question", site_id=small.site, **asked)
    assert lacking() == ("question",)
    small.change("question", question, state="stands_as_recorded")
    assert lacking() == ()

    with small.registry.writing(by="tester", reason="ready") as door:
        signed = {"signed_off_by": "tester", "signed_off_at": "2024-06-01T00:00:00+00:00"}
        door.update("operation", ready, signed, revision=1)
    assert rows(small, What.SIGN_OFF) == {}


def test_an_open_follow_up_keeps_a_case_from_being_signed_off(small: SmallRegistry) -> None:
    operation, _, patient = complete_case(small)
    with small.registry.reading() as connection:
        examination, contact = metadata.tables["examination"], metadata.tables["contact"]
        scan = connection.execute(examination.select()).one().id
        talk = connection.execute(contact.select()).one().id
    small.change("examination", scan, examined_on=day(105))
    small.withdraw("contact", talk)
    with small.registry.reading() as connection:
        assert standings(Picture(connection, TODAY))[0].lacking == ("follow-up scan", "review")
    small.change("patient", patient, died_on=day(120))
    assert rows(small, What.SIGN_OFF) == {("operation", operation): 70}


def test_a_setting_that_is_no_number_is_said(small: SmallRegistry) -> None:
    small.side(100)
    small.set("follow_up_scan_days", "a month")
    with pytest.raises(GravelbookError, match="follow_up_scan_days of site LB is 'a month'"):
        due(small.registry, on=TODAY)


def test_the_command_says_it_in_text_csv_and_json(small: SmallRegistry, location: str) -> None:
    small.side(100, patient=small.patient("HN-77"))
    small.side(100, patient=small.patient(not_to_be_contacted="yes"))
    small.registry.close()
    asked = ("quality", "due", "--registry", location, "--on", "2024-07-19", "--what", "follow-up")
    text = gravelbook(*asked)
    assert text.status == 0, text.err
    assert text.out.index("S001") < text.out.index("Not to be contacted") < text.out.index("S002")
    assert "70 days overdue" in text.out and "HN-77" not in text.out
    found = json.loads(gravelbook(*asked, "--format", "json").out)
    assert found["counts"] == {"follow-up": 2} and found["items"][0]["overdue_days"] == 70
    listed = list(csv.DictReader(io.StringIO(gravelbook(*asked, "--format", "csv").out)))
    assert [row["way"] for row in listed] == ["call", "record"]
    assert gravelbook("quality", "due", "--registry", location, "--on", "soon").status == 2
