"""Who is counted, in which window, reviewed or not: worked by hand on a small unit."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from tests.cohort.rows import Rows, day

from .asked import answer, found
from .ward import admission, complication, grading, operated, patient_of, reviewed, ward


def test_the_rate_among_the_reviewed_with_the_bounds_beside(tmp_path: Path):
    rows = found(ward(), tmp_path, "grades", "measure", "unreviewed", unreviewed="reviewed,lower,upper")
    any_ = rows["any complication", "reviewed"]
    # Seven due; reviewed: four of S1 and one of S2. Known without a review: the transfusion.
    assert (any_["eligible"], any_["reviewed"], any_["not_due"], any_["known_unreviewed"]) == (7, 5, 1, 1)
    assert (any_["n"], any_["events"], any_["estimate"]) == (5, 3, 3 / 5)
    assert (any_["lower"], any_["upper"]) == (4 / 7, 5 / 7)
    assert (rows["any complication", "lower"]["n"], rows["any complication", "lower"]["unknown"]) == (7, 1)
    assert rows["any complication", "upper"]["events"] == 5
    assert rows["grade II or worse", "reviewed"]["events"] == 2
    assert rows["grade III or worse", "reviewed"]["events"] == 1  # the first grader's IIIa, on day 30
    assert rows["grade V", "reviewed"]["estimate"] == 0


def test_the_worst_grade_of_each_and_the_events(tmp_path: Path):
    worst = found(ward(), tmp_path / "a", "worst", "worst")
    assert {grade: row["events"] for (grade,), row in worst.items()} == {
        "none": 2, "I": 1, "II": 1, "IIIa": 1, "IIIb": 0, "IVa": 0, "IVb": 0, "V": 0,
    }  # fmt: skip
    (events,) = found(ward(), tmp_path / "b", "events", show="events").values()
    # Events are counted of all that are due, two of one patient, and have no rate.
    assert (events["events"], events["I"], events["II"], events["IIIa"]) == (5, 1, 3, 1)
    assert events["estimate"] is events["n"] is None


@pytest.mark.parametrize(("grades", "iii_a", "iii_b"), [("person", 1, 0), ("rule", 0, 1)])
def test_a_persons_grade_or_the_rules(tmp_path: Path, grades: str, iii_a: int, iii_b: int):
    worst = found(ward(), tmp_path, "worst", "worst", grades=grades)
    assert (worst["IIIa",]["events"], worst["IIIb",]["events"]) == (iii_a, iii_b)


def test_at_90_days_only_who_was_reviewed_to_then(tmp_path: Path):
    rows = found(ward(), tmp_path, "grades", "measure", "days", days="30,90")
    assert (rows["any complication", 90]["reviewed"], rows["any complication", 30]["reviewed"]) == (1, 5)


def test_by_operator(tmp_path: Path):
    rows = found(ward(), tmp_path, "grades", "measure", by="operator")
    first, second = rows["S1", "any complication"], rows["S2", "any complication"]
    assert (first["eligible"], first["n"], first["events"]) == (5, 4, 2)
    assert (second["eligible"], second["n"], second["events"], second["not_due"]) == (2, 1, 1, 1)


def test_drainages_are_counted_when_asked(tmp_path: Path):
    made = answer(ward(), tmp_path / "a")
    assert made.report.definition["operations_left_out"] == 1
    assert made.report.definition["complications_elsewhere"] == 1
    rows = found(ward(), tmp_path / "b", "grades", "measure", denominator="all")
    assert rows["any complication",]["eligible"] == 8


def test_the_index(tmp_path: Path):
    (row,) = found(ward(), tmp_path, "index", show="index").values()
    # 0, 0, I, IIIa and II with II.
    assert row["n"] == 5
    assert row["estimate"] == pytest.approx((8.660254 + 26.220221 + 29.580399) / 5, abs=1e-5)
    assert (row["median"], row["with_complication"]) == (pytest.approx(8.660254), 3)
    assert row["low"] < row["estimate"] < row["high"]


def test_an_onset_known_to_the_month_that_does_not_settle_the_window_is_unknown(tmp_path: Path):
    rows = Rows()
    operation = operated(rows, on=10)  # day 30 after it is 10 February
    reviewed(rows, operation, 90)
    complication(rows, operation, "fever", dt.date(2024, 2, 1), ["antibiotic"], onset_on_precision="month")
    grades = found(rows, tmp_path, "grades", "measure", "days", days="30,90")
    assert (grades["any complication", 30]["n"], grades["any complication", 30]["unknown"]) == (0, 1)
    assert (grades["any complication", 30]["lower"], grades["any complication", 30]["upper"]) == (0, 1)
    assert grades["grade III or worse", 30]["n"] == 1  # a II decides nothing there
    text = answer(rows, tmp_path / "b").report.sections[1].notes
    assert "1 complication with an onset that does not settle the 30 days" in text[0]


def test_a_grade_that_is_open_counts_for_what_is_certain_of_it(tmp_path: Path):
    rows = Rows()
    operation = operated(rows)
    reviewed(rows, operation, 90)
    complication(rows, operation, "obstruction", 3, ["stent_placed"])
    grades = found(rows, tmp_path / "a", "grades", "measure")
    assert grades["grade III or worse",]["events"] == 1
    assert grades["grade IV or worse",]["n"] == 1
    worst = found(rows, tmp_path / "b", "worst", "worst")
    assert (worst["IIIa",]["n"], worst["IIIa",]["unknown"]) == (0, 1)
    (index,) = found(rows, tmp_path / "c", "index").values()
    assert (index["n"], index["unknown"], index["estimate"]) == (0, 1, None)


def test_an_event_counts_after_each_operation_it_came_after_and_once_for_the_patient(tmp_path: Path):
    rows = Rows()
    unit = rows.unit()
    first, second = operated(rows, unit=unit), operated(rows, unit=unit, on=10)
    reviewed(rows, first, 60)
    shared = complication(rows, second, "fever", 12, ["antibiotic"])
    rows.add("complication_also_after", complication_id=shared, operation_id=first)
    by_operation = found(rows, tmp_path / "a", "grades", "measure")["any complication",]
    assert (by_operation["n"], by_operation["events"]) == (2, 2)
    by_patient = found(rows, tmp_path / "b", "grades", "measure", unit="patient")["any complication",]
    assert (by_patient["n"], by_patient["events"]) == (1, 1)
    (events,) = found(rows, tmp_path / "c", "events", unit="patient", show="events").values()
    assert events["events"] == 1


def test_a_patient_is_judged_at_the_first_operation_with_every_later_event_in_the_window(tmp_path: Path):
    rows = Rows()
    unit = rows.unit()
    first, second, late = (operated(rows, unit=unit, on=on) for on in (0, 10, 200))
    reviewed(rows, first, 300)
    complication(rows, second, "fever", 12, ["antibiotic"])
    complication(rows, late, "sepsis", 201, ["dialysis"], organs_failing=1)
    worst = found(rows, tmp_path, "worst", "worst", unit="patient")
    assert (worst["II",]["events"], worst["IVa",]["events"]) == (1, 0)


def test_planned_stages_do_not_grade_a_complication(tmp_path: Path):
    rows = Rows()
    unit = rows.unit()
    course = rows.add("course", renal_unit_id=unit)
    rows.add("planned_stage", course_id=course, stage_number=1, decided_on=day(0))
    first = operated(rows, unit=unit, course_id=course, stage_number=0)
    second = operated(rows, unit=unit, on=14, course_id=course, stage_number=1)
    unplanned = operated(rows, unit=unit, on=20)
    reviewed(rows, first, 90)
    complication(rows, first, "other", 14, [f"ureteroscopy:general@{second}"])
    complication(rows, second, "steinstrasse", 20, [f"ureteroscopy:general@{unplanned}"])
    made = answer(rows, tmp_path)
    events = made.gathered.events.set_index("complication_id")
    assert list(events["state"]) == ["no complication", "graded"]
    assert list(events["proposal"].fillna("")) == ["", "IIIb"]
    worst = {row["worst"]: row["events"] for row in made.report.sections[2].rows}
    assert (worst["none"], worst["IIIb"]) == (2, 1)


def test_a_planned_stent_removal_does_not_and_an_early_one_does(tmp_path: Path):
    rows = Rows()
    unit = rows.unit()
    operation = operated(rows, unit=unit)
    reviewed(rows, operation, 90)
    for removed, planned in ((20, 20), (10, 20)):
        visit = rows.operation(patient_of(rows, operation), removed, purpose="stent")
        rows.side(unit, operation=visit, intent="stent")
        rows.add("drain", renal_unit_id=unit, placed_on=day(0), drain_number=removed, kind="stent",
                 planned_removal_on=day(planned), removed_on=day(removed))  # fmt: skip
        complication(rows, operation, "stent_symptoms", 5, [f"other_intervention:local@{visit}"])
    events = answer(rows, tmp_path).gathered.events
    assert list(events["proposal"]) == ["I", "IIIa"]


def test_readmissions_and_attendances(tmp_path: Path):
    rows = Rows()
    back, planned, early, attended, inside = (operated(rows) for _ in range(5))
    for operation in (back, planned, early, attended, inside):
        patient = patient_of(rows, operation)
        stay = admission(rows, patient, 0, 2)
        rows.tables["operation"][operation - 1]["admission_id"] = stay
        reviewed(rows, operation, 40)
    admission(rows, patient_of(rows, back), 30, 33, "yes")
    admission(rows, patient_of(rows, planned), 10, 11, "no")
    admission(rows, patient_of(rows, early), 31, 33, "yes")  # day 31 is out
    rows.add("later_entry", patient_id=patient_of(rows, attended), occurred_on=day(7), entry_number=1,
             what="unplanned_attendance")  # fmt: skip
    open_ = admission(rows, patient_of(rows, inside), 20, 22, None)
    found_rows = found(rows, tmp_path / "a", "attendance", "measure", show="attendance")
    assert (found_rows["readmission",]["n"], found_rows["readmission",]["events"]) == (4, 1)
    assert found_rows["readmission",]["unknown"] == 1  # whether it was unplanned is not recorded
    assert found_rows["unplanned attendance",]["events"] == 1
    assert (found_rows["either",]["n"], found_rows["either",]["events"]) == (4, 2)
    complication(rows, inside, "fever", 20, ["antibiotic"], readmission_id=open_)
    found_rows = found(rows, tmp_path / "b", "attendance", "measure", show="attendance")
    assert found_rows["readmission",]["events"] == 2  # a complication names it


def test_death_of_any_cause_stands_apart_from_grade_v(tmp_path: Path):
    rows = Rows()
    of_it, of_other, alive, lost = (operated(rows) for _ in range(4))
    for operation, died in ((of_it, 5), (of_other, 30)):
        rows.tables["patient"][patient_of(rows, operation) - 1]["died_on"] = day(died)
    complication(rows, of_it, "sepsis", 2, ["intensive_care"], died_of_it="yes", organs_failing=2)
    rows.tables["patient"][patient_of(rows, alive) - 1]["last_known_alive_on"] = day(60)
    rows.add("contact", patient_id=patient_of(rows, lost), contacted_on=day(29))
    rows.operation(patient_of(rows, alive), 100, purpose="stent")
    deaths = found(rows, tmp_path / "a", "deaths", "measure")
    assert (deaths["death of any cause",]["n"], deaths["death of any cause",]["events"]) == (3, 2)
    assert deaths["of these, no grade V",]["events"] == 1
    grades = found(rows, tmp_path / "b", "grades", "measure")
    # Both dead count as reviewed by their death; the one known to be alive was not reviewed.
    assert (grades["grade V",]["n"], grades["grade V",]["events"]) == (2, 1)


def test_nothing_after_the_as_of_date_is_read(tmp_path: Path):
    rows = Rows()
    operation = operated(rows)
    reviewed(rows, operation, 60)
    later = complication(rows, operation, "fever", 50, ["antibiotic"])
    grading(rows, later, "first", "II")
    asked = ask_at(rows, tmp_path, 45)
    assert len(asked.gathered.events) == 0
    assert not asked.statuses[0].reviewed[0]
    assert len(ask_at(rows, tmp_path, 60).gathered.events) == 1


def ask_at(rows: Rows, folder: Path, on: int):  # type: ignore[no-untyped-def]
    from analysis.reports.complications.answering import answer_asked
    from analysis.reports.request.source import ask_snapshot_cohort

    return answer_asked(ask_snapshot_cohort(rows.snapshot_of(folder), as_of=day(on)), {})


def test_more_of_the_unreviewed_known_to_have_had_it_is_said_and_the_bounds_still_hold_the_rate(tmp_path: Path):
    rows = Rows()
    for at in range(8):
        operation = operated(rows)
        if at < 6:
            reviewed(rows, operation, 40)
        else:
            complication(rows, operation, "fever", 1, ["antibiotic"])
    made = answer(rows, tmp_path)
    (row, *_) = (row for row in made.report.sections[1].rows if row["measure"] == "any complication")
    assert (row["estimate"], row["lower"], row["known_share"], row["upper"]) == (0, 0, 2 / 8, 2 / 8)
    assert any("do not stand for all" in note for note in made.report.sections[1].notes)


def two_sexes(reviewed_men: int) -> Rows:
    """20 women, 10 of them reviewed, of whom 5 had a fever; 20 men without any, so many of them reviewed."""
    rows = Rows()
    for sex, seen, with_fever in (("female", 10, 5), ("male", reviewed_men, 0)):
        for at in range(20):
            operation = operated(rows, unit=rows.unit(rows.patient(sex=sex)))
            if at < seen:
                reviewed(rows, operation, 40)
            if at < with_fever:
                complication(rows, operation, "fever", 1, ["antibiotic"])
    return rows


def test_weighting_gives_the_unreviewed_what_the_reviewed_of_their_kind_had(tmp_path: Path):
    asked = {"unreviewed": "reviewed,weighted", "replicates": "50"}
    rows = found(two_sexes(16), tmp_path, "grades", "measure", "unreviewed", **asked)
    assert rows["any complication", "reviewed"]["estimate"] == 5 / 26
    weighted = rows["any complication", "weighted"]
    # Half the women had one, and no man: a quarter of the 40.
    assert weighted["estimate"] == pytest.approx(10 / 40)
    assert weighted["low"] < weighted["estimate"] < weighted["high"]
    assert (weighted["n"], weighted["unknown"]) == (26, 14)


def test_weights_that_cannot_be_made_are_said_and_leave_no_number(tmp_path: Path):
    made = answer(two_sexes(20), tmp_path, unreviewed="weighted", replicates="50").report.sections[1]
    (row, *_) = made.rows
    assert (row["estimate"], row["low"], row["high"]) == (None, None, None)
    assert "separated" in row["reason"]
    assert any(row["reason"] in note and "The bounds hold" in note for note in made.notes)


def test_what_contradicts_itself_or_is_missing_is_named_case_by_case(tmp_path: Path):
    rows = Rows()
    for at in range(7):
        operation = operated(rows)
        reviewed(rows, operation, 40)
        complication(rows, operation, "fever", 1, ["none", "antibiotic"] if at else ["stent_placed"])
    grading(rows, 2, "first", "II")
    made = answer(rows, tmp_path).report.sections[1]
    (note,) = (note for note in made.notes if note.startswith("Contradictory"))
    assert "Contradictory or without one grade (7): operation 1, complication 1 (fever): anaesthesia of:" in note
    assert "operation 2, complication 1 (fever): observation only, beside another therapy" in note
    assert note.endswith("and 2 more, which the cases name.")
    any_, second, *_ = (row for row in made.rows)
    assert (any_["events"], any_["n"]) == (7, 7)  # an event without a grade is an event
    assert (second["measure"], second["events"], second["n"], second["unknown"]) == ("grade II or worse", 2, 2, 5)


def test_a_suffix_d_is_counted_among_the_events(tmp_path: Path):
    rows = Rows()
    operation = operated(rows)
    reviewed(rows, operation, 40)
    complication(rows, operation, "urinoma", 1, ["drainage:local"], present_at_discharge="yes")
    (row,) = found(rows, tmp_path, "events", show="events").values()
    assert (row["IIIa"], row["suffix_d"]) == (1, 1)


def test_an_operation_of_two_sides_is_one_and_stands_by_its_tightest_side(tmp_path: Path):
    rows = Rows()
    scope = rows.scope(75)
    patient = rows.patient()
    operation = rows.operation(patient)
    for unit, inner in (("left", 120), ("right", 100)):
        side = rows.side(rows.unit(patient, unit), operation=operation)
        rows.used(side, rows.sheath(inner))
        rows.used(side, scope)
    reviewed(rows, operation, 40)
    grades = found(rows, tmp_path, "grades", "measure", by="scope_to_sheath_ratio")
    assert grades[0.75, "any complication"]["n"] == 1
    assert len(grades) == 5


def test_the_figure_shows_the_rows_and_no_rate_of_few(tmp_path: Path):
    from analysis.reports.complications.figure_of import figure_data, in_words

    (row,) = figure_data(answer(ward(), tmp_path)).to_dict("records")
    assert (row["n"], row["with"], row["eligible"], row["any"]) == (5, 3, 7, 3 / 5)
    assert [row[name] for name in ("V", "IV", "III", "II", "I", "open")] == [0, 0, 1 / 5, 1 / 5, 1 / 5, 0]
    assert (row["bottom"], row["top"]) == (4 / 7, 5 / 7)
    few = figure_data(answer(ward(), tmp_path / "few", by="operator"))
    assert list(few["instead"]) == ["2 of 4, n < 5", "1 of 1, n < 5"]
    assert few["any"].isna().all()
    assert "no rate shown" in in_words(few)[0]


def test_agreement_of_rule_and_graders(tmp_path: Path):
    rows = found(ward(), tmp_path, "agreement", "pair", "weights", show="agreement")
    one = rows["rule and first grader", "linear"]
    assert (one["n"], one["unknown"], one["observed"]) == (1, 4, 0)
    assert rows["rule and second grader", "quadratic"]["observed"] == 1
    assert rows["first grader and second grader", "linear"]["n"] == 1


def test_nobody_gives_nulls(tmp_path: Path):
    rows = Rows()
    operated(rows, intent="drainage")
    rows.add("contact", patient_id=1, contacted_on=day(200))
    for show in ("grades,index,attendance,deaths", "events", "agreement"):
        answer(rows, tmp_path / show, show=show)
    grades = found(rows, tmp_path / "x", "grades", "measure")
    assert (grades["any complication",]["n"], grades["any complication",]["estimate"]) == (0, None)
