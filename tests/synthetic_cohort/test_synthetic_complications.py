"""Complications: every grade, how they are graded and known, and their true probabilities."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest

from registry.intake.load_plan import make_plan
from registry.schema.errors import GravelbookError
from registry.store.registry import open_registry
from registry.validation.findings import Severity
from synthetic_cohort.aftermath import grade_chances
from synthetic_cohort.complication_kinds import FATAL, GRADES, INFECTION, KINDS, NONE
from synthetic_cohort.frames import cohort
from synthetic_cohort.outcome import infection_log_odds
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.records import records
from synthetic_cohort.truth_aftermath import aftermath_truths, graders_agree, reviewed, worst_grade
from synthetic_cohort.workbook import write_workbook
from tests.synthetic_cohort.shares import assert_share

PEOPLE = 150_000


@pytest.fixture(scope="module")
def many():
    return cohort(Parameters(), PEOPLE, 81)


def key(row):
    return row["study_number"], row["operated_on"], row["day_number"], row["complication_number"]


@pytest.mark.parametrize("grade", GRADES[1:])
@pytest.mark.parametrize("days", [30, 90])
def test_worst_grades_have_their_true_probability(many, grade, days):
    seen = many.operations[f"worst_{days}"] >= GRADES.index(grade)
    assert_share(seen.sum(), len(seen), worst_grade(Parameters(), grade, days).value)


def test_worst_grades_of_those_operated_on_have_theirs(many):
    operated = many.operations["operated"]
    seen = many.operations["worst_30"][operated] > NONE
    assert_share(seen.sum(), len(seen), worst_grade(Parameters(), "I", among="operated").value)


def test_the_chance_of_each_operation_is_its_own(many):
    """Deciles of the worked-out chance have that rate: the equation is right operation by operation."""
    chance = grade_chances(many.parameters, many.operations, GRADES.index("II"), 30)
    seen = many.operations["worst_30"] >= GRADES.index("II")
    for part in np.array_split(np.argsort(chance), 10):
        assert_share(seen[part].sum(), len(part), chance[part].mean())


def test_a_higher_grade_is_never_likelier_and_more_days_never_make_one_less_likely(many):
    operations = {name: values[:2000] for name, values in many.operations.items()}
    for days, more in ((0, 3), (3, 30), (30, 90)):
        chances = [grade_chances(many.parameters, operations, grade, days) for grade in range(1, len(GRADES))]
        assert all((higher <= lower + 1e-12).all() for lower, higher in pairwise(chances))
        later = grade_chances(many.parameters, operations, 1, more)
        assert (later >= chances[0] - 1e-12).all()


def test_reviews_are_missing_by_what_is_recorded(many):
    operations, true = many.operations, worst_grade(Parameters(), "I", among="reviewed")
    known = operations["reviewed"]
    assert_share(known.sum(), len(known), reviewed(Parameters()).value)
    seen = operations["worst_30"][known] > NONE
    assert_share(seen.sum(), len(seen), true.value)
    assert true.value > worst_grade(Parameters(), "I").value + 0.003


def test_reviews_by_lot_bend_nothing():
    by_lot = Parameters(review_missingness="completely_random", share_died=0, share_died_of_complication=0)
    assert worst_grade(by_lot, "I", among="reviewed").value == pytest.approx(worst_grade(by_lot, "I").value)
    assert reviewed(by_lot).value == pytest.approx(by_lot.share_reviewed)


def test_reviews_that_depend_on_what_happened_have_no_exact_truth_and_bend_more():
    by_what_happened = Parameters(review_missingness="not_random", reviewed_complicated=1.5)
    drawn = cohort(by_what_happened, PEOPLE, 82)
    seen = drawn.operations["worst_30"][drawn.operations["reviewed"]] > NONE
    assert seen.mean() > worst_grade(Parameters(), "I", among="reviewed").value + 0.01
    with pytest.raises(GravelbookError, match="no exact true value"):
        worst_grade(by_what_happened, "I", among="reviewed")
    assert "complication of any grade, 30 days, among the reviewed" not in aftermath_truths(by_what_happened)


def test_a_grade_that_is_none_is_refused_in_words():
    with pytest.raises(GravelbookError, match="no grade 'VI'"):
        worst_grade(Parameters(), "VI")


def test_graders_err_as_often_as_they_are_said_to(many):
    p, rows = many.parameters, many.complications
    living = (rows["grade"] > NONE) & (rows["kind"] != FATAL)
    for name, error in (("first_grade", p.grader_error_first), ("second_grade", p.grader_error_second)):
        given = living & (rows[name] > NONE)
        wrong = rows[name][given] != rows["grade"][given]
        assert_share(wrong.sum(), len(wrong), error)
        assert (np.abs(rows[name][given] - rows["grade"][given]) <= 1).all()
    both = (rows["first_grade"] > NONE) & (rows["second_grade"] > NONE)
    alike = rows["first_grade"][both] == rows["second_grade"][both]
    assert_share(alike.sum(), len(alike), graders_agree(p).value)
    assert (rows["first_grade"][rows["kind"] == FATAL] % (len(GRADES) - 1) == 0).all()


def test_complications_begin_before_the_next_operation_and_before_death(many):
    rows, operations = many.complications, many.operations
    assert (rows["day"] < operations["days_ahead"][rows["operation"]]).all()
    on = operations["on"][rows["operation"]] + rows["day"].astype("timedelta64[D]")
    died = many.patients["died_on"][operations["patient"][rows["operation"]]]
    assert (on <= died).all()


def test_infections_of_the_model_are_complications_one_for_one(many):
    rows = many.complications
    infected = rows["operation"][rows["kind"] == INFECTION]
    lost = np.setdiff1d(np.flatnonzero(many.operations["infection"]), infected)
    assert len(np.unique(infected)) == len(infected)
    # Those who died of a complication first are the only ones without theirs.
    assert np.isin(lost, rows["operation"][rows["kind"] == FATAL]).all()
    assert np.isfinite(infection_log_odds(many.parameters, many.operations)).all()


def test_kinds_are_told_apart_by_their_parameters():
    none = replace(
        Parameters(infection_log_odds=-20, share_died_of_complication=0, share_prolonged_prophylaxis=0),
        **{f"share_{k.name}_{r}": 0.0 for k in KINDS[:-2] for r in ("scope", "puncture")},
    )
    assert len(cohort(none, 4000, 3).complications["kind"]) == 0
    alone = replace(none, share_colic_scope=0.5)
    assert set(cohort(alone, 4000, 3).complications["kind"]) == {2}


# What the rows of a unit hold.


def test_rows_have_every_grade_suffix_anaesthesia_and_grader(unit):
    _, rows = unit
    assert {row["grade"] for row in rows["grading"]} == set(GRADES[1:])
    assert {row["suffix_d"] for row in rows["grading"]} == {"yes", "no"}
    assert {row["grader"] for row in rows["grading"]} == {"first", "second", "agreed"}
    assert {row["anaesthesia"] for row in rows["therapy"]} == {"none", "local", "sedation", "regional", "general"}
    assert {row["died_of_it"] for row in rows["complication"]} == {"yes", "no"}
    assert rows["complication_also_after"]
    assert max(Counter(key(row)[:3] for row in rows["complication"]).values()) >= 2
    assert any(isinstance(row["onset_on"], str) for row in rows["complication"])
    assert any(row.get("readmission") or row.get("admitted_on") for row in rows["complication"])


def test_the_agreed_grade_has_a_reason_and_settles_a_disagreement(unit):
    by = defaultdict(dict)
    for row in unit[1]["grading"]:
        by[key(row)][row["grader"]] = row
    agreed = [of for of in by.values() if "agreed" in of]
    assert len(agreed) > 40
    for of in by.values():
        assert ("agreed" in of) == ("second" in of and of["first"]["grade"] != of["second"]["grade"])
    assert all(of["agreed"]["reason"] for of in agreed)


def test_intensive_care_for_observation_alone_has_no_failing_organ_and_grade_two(unit):
    drawn, rows = unit
    watched = {key(row): row for row in rows["complication"] if row["what"] == "cardiac" and row["organs_failing"] == 0}
    therapies = defaultdict(set)
    for row in rows["therapy"]:
        therapies[key(row)].add(row["what"])
    assert watched
    assert all("intensive_care" in therapies[name] for name in watched)
    kinds = drawn.complications["kind"]
    number = next(n for n, kind in enumerate(KINDS) if kind.name == "watched")
    assert set(drawn.complications["grade"][kinds == number]) == {GRADES.index("II")}


def test_known_complications_are_written_and_unknown_ones_are_not(unit):
    drawn, rows = unit
    planned = [row for row in rows["therapy"] if "treating_operation.operated_on" in row]
    assert planned
    assert len(rows["complication"]) == drawn.complications["known"].sum() + len(planned)
    assert 0.9 < drawn.complications["known"].mean() < 1


def test_a_planned_stage_written_down_names_the_stage(unit):
    sides = {
        (row["study_number"], row["operated_on"], row["day_number"]): row.get("stage_number")
        for row in unit[1]["treated_side"]
    }
    planned = [row for row in unit[1]["therapy"] if "treating_operation.operated_on" in row]
    for row in planned:
        stage = row["study_number"], row["treating_operation.operated_on"], row["treating_operation.day_number"]
        assert sides[stage] == 1
        assert sides[key(row)[:3]] == 0


def test_deaths_of_a_complication_have_a_day_and_come_last(unit):
    _, rows = unit
    died = {row["study_number"]: row.get("died_on") for row in rows["patient"]}
    fatal = [row for row in rows["complication"] if row["died_of_it"] == "yes"]
    assert fatal
    for row in fatal:
        assert row["operated_on"] < row["onset_on"] <= died[row["study_number"]] <= row["onset_on"] + timedelta(days=4)
    others = sum(isinstance(day, date) for day in died.values()) - len(fatal)
    assert others > 10


def test_nothing_happens_to_the_dead():
    """Of twenty thousand operations, many of whose patients die soon."""
    drawn = cohort(Parameters(share_died=0.06, share_died_of_complication=0.01, infection_log_odds=-1.5), 20_000, 5)
    rows = records(drawn, other_units=False)
    died = {row["study_number"]: row.get("died_on") or date.max for row in rows["patient"]}
    assert sum(day < date.max for day in died.values()) > 1000
    for table, column in (
        ("admission", "admitted_on"), ("admission", "discharged_on"), ("operation", "operated_on"),
        ("observation_set", "observed_on"), ("culture", "taken_on"), ("contact", "contacted_on"),
        ("complication", "onset_on"), ("therapy", "given_on"), ("later_entry", "occurred_on"),
    ):  # fmt: skip
        late = [
            row for row in rows[table]
            if isinstance(row.get(column), date) and row[column] > died[row["study_number"]]
        ]  # fmt: skip
        assert late == [], (table, column)
    scans = [row for row in rows["examination"] if "not_done" not in row]
    assert all(row["examined_on"] <= died[row["study_number"]] for row in scans)


def test_contradictions_are_off_by_default_and_never_errors(sqlite_location, tmp_path):
    some = records(cohort(Parameters(share_contradictory=0.5), 800, 6))
    plain = records(cohort(Parameters(), 800, 6))
    assert len(some["therapy"]) > len(plain["therapy"]) + 20
    write_workbook(some, tmp_path / "contradictory.xlsx")
    with open_registry(sqlite_location) as registry:
        found = make_plan(registry, tmp_path / "contradictory.xlsx").findings.listed()
    assert [of for of in found if of.severity is Severity.ERROR] == []
    assert "therapy.given_on.after_onset" in {of.rule for of in found}
