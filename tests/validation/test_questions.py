"""Questions: asked once, given to someone, answered, closed when the data are mended, asked anew when broken again."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from dataclasses import replace

import pytest
from sqlalchemy import select

from registry.schema.errors import GravelbookError
from registry.schema.lists_outcome import QuestionState
from registry.schema.tables import metadata
from registry.store.erasing import erase_patient
from registry.store.registry import Registry
from registry.validation.clinical.all_rules import CLINICAL_RULES
from registry.validation.questions.answering import answer, assign, stands
from registry.validation.questions.asking import AskedNow, ask
from registry.validation.questions.cases import cases_of
from registry.validation.questions.held_data import check_held_data
from registry.validation.questions.listing import ListedQuestion, listed
from registry.validation.questions.opening import Checked, Open
from tests.command_line import gravelbook
from tests.validation.small_registry import SmallRegistry, day

RULE = "treated_side.pre_stented.days"


@pytest.fixture
def small(registry: Registry) -> SmallRegistry:
    return SmallRegistry(registry)


@pytest.fixture
def broken(small: SmallRegistry) -> Open:
    """A side that breaks a rule."""
    side, _ = small.side(100)
    return Open(RULE, "treated_side", side, "pre_stented_days", "Stented for 400 days before.")


def run(small: SmallRegistry, *opens: Open, ran: tuple[str, ...] = (RULE,), **more: object) -> AskedNow:
    return ask(small.registry, Checked(opens, frozenset(ran), **more), by="manager")  # type: ignore[arg-type]


def every(small: SmallRegistry) -> list[ListedQuestion]:
    return listed(small.registry, states=list(QuestionState))


def states(small: SmallRegistry) -> list[str]:
    return [each.state.value for each in every(small)]


def test_a_question_is_asked_once_and_names_its_case(small: SmallRegistry, broken: Open) -> None:
    assert run(small, broken) == AskedNow(asked=1, mended=0, still_open=0, quiet=0)
    assert run(small, broken) == AskedNow(asked=0, mended=0, still_open=1, quiet=0)
    (question,) = listed(small.registry, today=dt.datetime.now(dt.UTC).date() + dt.timedelta(days=3))
    assert (question.site, question.study_number, question.on) == ("LB", "S001", day(100))
    assert (question.rule, question.sentence, question.age_days) == (RULE, "Stented for 400 days before.", 3)


def test_two_fields_of_one_row_are_two_questions(small: SmallRegistry, broken: Open) -> None:
    assert run(small, broken, replace(broken, field="pre_stented")).asked == 2
    assert run(small, broken, replace(broken, field="pre_stented")).still_open == 2


def test_it_closes_by_itself_when_mended_and_is_a_new_question_when_broken_again(
    small: SmallRegistry, broken: Open
) -> None:
    run(small, broken)
    assign(small.registry, every(small)[0].id, "JM", by="manager")
    assert run(small) == AskedNow(asked=0, mended=1, still_open=0, quiet=0)
    assert states(small) == ["mended"]
    assert run(small, broken).asked == 1
    assert states(small) == ["mended", "asked"]
    assert every(small)[1].owner == "JM"  # who was asked before is asked again


def test_what_was_not_judged_is_not_mended(small: SmallRegistry, broken: Open) -> None:
    run(small, broken)
    assert run(small, ran=()).mended == 0  # the rule did not run
    assert run(small, unjudged=frozenset({(RULE, "treated_side", broken.row)})).mended == 0
    assert states(small) == ["asked"]


def test_what_stands_as_recorded_stays_quiet_until_the_values_change(small: SmallRegistry, broken: Open) -> None:
    run(small, broken)
    stands(small.registry, every(small)[0].id, "confirmed in the letter", by="surgeon")
    assert run(small, broken) == AskedNow(asked=0, mended=0, still_open=0, quiet=1)
    assert run(small).mended == 0
    assert run(small, broken).quiet == 1  # the same values, seen again
    changed = replace(broken, sentence="Stented for 500 days before.")
    assert run(small, changed).asked == 1
    assert states(small) == ["stands_as_recorded", "asked"]
    small.change("treated_side", broken.row, pre_stented_days=300)  # a value of the field that the sentence leaves out
    stands(small.registry, every(small)[1].id, "confirmed again", by="surgeon")
    assert run(small, changed).asked == 1


def test_an_answer_waits_for_the_data_to_be_mended(small: SmallRegistry, broken: Open) -> None:
    run(small, broken)
    answer(small.registry, every(small)[0].id, "it was 40", by="surgeon")
    assert run(small, broken) == AskedNow(asked=0, mended=0, still_open=0, quiet=1)
    assert run(small, replace(broken, sentence="Stented for 401 days before.")).asked == 1
    assert run(small).mended == 1
    assert states(small) == ["mended", "mended"]


def test_an_open_question_keeps_its_wording_up_to_date(small: SmallRegistry, broken: Open) -> None:
    run(small, broken)
    run(small, replace(broken, sentence="Stented for 500 days before."))
    assert [each.sentence for each in every(small)] == ["Stented for 500 days before."]


def test_questions_are_listed_by_owner_rule_and_state(small: SmallRegistry, broken: Open) -> None:
    other = Open("patient.sex.rule", "patient", 1, "sex", "Sex and procedure disagree.")
    run(small, broken, other, ran=(RULE, other.rule))
    first, second = every(small)
    assign(small.registry, second.id, "JM", by="manager")
    assert [each.id for each in listed(small.registry, owner="JM")] == [second.id]
    assert [each.id for each in listed(small.registry, rule="treated_side")] == [first.id]
    assert [each.id for each in listed(small.registry, rule=RULE)] == [first.id]
    answer(small.registry, first.id, "yes", by="JM")
    assert [each.id for each in listed(small.registry)] == [second.id]
    assert [each.id for each in listed(small.registry, states=[QuestionState.ANSWERED])] == [first.id]


def test_a_mended_or_unknown_question_cannot_be_answered(small: SmallRegistry, broken: Open) -> None:
    with pytest.raises(GravelbookError, match="no question 77"):
        answer(small.registry, 77, "yes", by="JM")
    run(small, broken)
    number = every(small)[0].id
    with pytest.raises(GravelbookError, match="the wording is empty"):
        stands(small.registry, number, "  ", by="JM")
    run(small)
    with pytest.raises(GravelbookError, match="is closed: the data were mended"):
        stands(small.registry, number, "it is right", by="JM")


def test_wording_is_stored_encrypted_under_the_patients_key(small: SmallRegistry, broken: Open) -> None:
    run(small, broken)
    answer(small.registry, every(small)[0].id, "Mrs Planted was told", by="JM")
    with small.registry.reading() as connection:
        row = connection.execute(select(metadata.tables["question"])).one()
        assert row.asked.startswith("enc1:") and row.answer.startswith("enc1:")
    with small.registry.writing(by="tester", reason="asked to be forgotten") as door:
        erase_patient(door, 1, "asked to be forgotten")
    (question,) = every(small)
    assert question.answer == "(erased)" and question.study_number == "S001"
    assert run(small, broken).quiet == 1  # nothing tells any more whether the values changed: it stays settled
    assert run(small).mended == 1
    assert run(small, broken).asked == 1  # without wording, which cannot be kept for this patient
    assert every(small)[1].sentence == ""


def test_a_question_about_a_row_that_is_gone_closes_without_its_wording(small: SmallRegistry, broken: Open) -> None:
    run(small, broken)
    small.withdraw("treated_side", broken.row)
    assert run(small).mended == 1
    with small.registry.reading() as connection:
        assert connection.execute(select(metadata.tables["question"].c.asked)).scalar() is None


def test_every_table_leads_to_its_case(small: SmallRegistry) -> None:
    side, unit = small.side(100)
    course = small.add("course", renal_unit_id=unit)
    small.change("treated_side", side, course_id=course)
    stone = small.add("stone", course_id=course)
    examination = small.scan(unit, 130)
    model = small.add("equipment_model", site_id=small.site, model_code="M1", kind="scope")
    places = [("stone", stone), ("reading", 1), ("examination", examination), ("equipment_model", model), ("stone", 99)]
    with small.registry.reading() as connection:
        found = cases_of(connection, places)
        rows_of_every_table = cases_of(connection, [(name, 1) for name in metadata.tables])
    assert [(case.study_number, case.on) for case in found.values()] == [
        ("S001", day(100)),
        ("S001", day(130)),
        ("S001", day(130)),
        ("", None),
    ]
    assert {case.site for case in found.values()} == {"LB"}
    assert rows_of_every_table["treated_side", 1].operation_id == 1


def test_a_row_that_the_rules_cannot_judge_any_more_is_not_mended(small: SmallRegistry) -> None:
    rules = [rule for rule in CLINICAL_RULES if rule.id == "drain.removed_on.after_placed"]
    row = small.add("drain", renal_unit_id=small.unit(), placed_on=day(100), kind="stent", removed_on=day(90))

    def again() -> AskedNow:
        return ask(small.registry, check_held_data(small.registry, rules), by="manager")

    assert again().asked == 1
    small.change("drain", row, removed_on=day(0), removed_on_precision="year")  # some day of 2024: before or after?
    assert again() == AskedNow(asked=0, mended=0, still_open=0, quiet=0)
    assert states(small) == ["asked"]
    small.change("drain", row, removed_on=day(110), removed_on_precision=None)
    assert again().mended == 1


def test_a_value_outside_its_plausible_range_is_asked_about(small: SmallRegistry) -> None:
    operation = small.operation(small.patient(), 100, weight_kg=250.0)
    small.operation(small.patient(), 100, weight_kg=80.0)
    checked = check_held_data(small.registry, [])
    assert [(each.rule, each.row) for each in checked.opens] == [("operation.weight_kg.plausible", operation)]
    assert checked.opens[0].sentence == "Weight: 250 kg is above the highest expected, 200 kg."
    ask(small.registry, checked, by="manager")
    stands(small.registry, every(small)[0].id, "weighed twice", by="JM")
    assert ask(small.registry, check_held_data(small.registry, []), by="manager").quiet == 1
    small.change("operation", operation, weight_kg=260.0)
    assert ask(small.registry, check_held_data(small.registry, []), by="manager").asked == 1
    small.change("operation", operation, weight_kg=150.0)
    assert ask(small.registry, check_held_data(small.registry, []), by="manager").mended == 1


def test_a_rule_that_cannot_run_closes_nothing_and_is_named(small: SmallRegistry) -> None:
    rule = replace(CLINICAL_RULES[0], broken="no_such_column > 1")
    checked = check_held_data(small.registry, [rule])
    assert checked.failed == (rule.id,) and rule.id not in checked.ran


def test_the_commands_ask_from_the_rules_and_take_answers(small: SmallRegistry, location: str) -> None:
    _, unit = small.side(100)
    drain = {"renal_unit_id": unit, "placed_on": day(100), "kind": "stent", "removed_on": day(90)}
    row = small.add("drain", **drain)  # removed before it was placed
    small.registry.close()

    def quality(*arguments: str) -> str:
        done = gravelbook("quality", "questions", *arguments, "--registry", location)
        assert done.status == 0, done.err
        return done.out

    assert "Asked " in quality("ask", "--by-whom", "manager")
    open_ones = json.loads(quality("--format", "json"))["questions"]
    mine = [each for each in open_ones if (each["table"], each["row"]) == ("drain", row)]
    assert mine and mine[0]["study_number"] == "S001"
    number = str(mine[0]["id"])
    quality("assign", number, "JM")
    quality("stands", number, "--reason", "Mrs Planted says so", "--by-whom", "JM")
    assert "Mrs Planted says so" in quality("list", "--state", "all")
    for output_format in ("csv", "json"):  # people's own wording leaves in no file
        assert "Planted" not in quality("list", "--state", "all", "--format", output_format)
    listed_csv = csv.DictReader(io.StringIO(quality("list", "--of", "JM", "--state", "all", "--format", "csv")))
    assert [each["id"] for each in listed_csv] == [number]
    assert "Asked 0; 0 mended" in quality("ask", "--by-whom", "manager")
    wrong = gravelbook("quality", "questions", "answer", "999", "x", "--registry", location)
    assert wrong.status == 1 and "no question 999" in wrong.err
