"""The worked cases again, typed into the intake workbook, loaded and asked for at the command line."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from registry.schema.tables import metadata
from registry.store.registry import open_registry
from tests import postgres
from tests.command_line import gravelbook
from tests.conftest import need_server, sqlite_copy
from tests.golden.stone_free_cases import CASES
from tests.golden.stone_free_story import WorkedCase
from tests.golden.through_workbook import Workbook, day_of, lines_of

GRAVELBOOK = Path(sys.executable).with_name("gravelbook")
FIVE = "0,lt2,2,lt4,4"
CODES = {("<=", "0"): "0", ("<", "2"): "lt2", ("<=", "2"): "2", ("<", "4"): "lt4", ("<=", "4"): "4"}
LETTERS = {"free": "S", "failed": "F", "unknown": "U", "not_due": "N", "died": "D", "out": "O"}
# An operation after the as-of date stands in no list of cases: the flow counts it, and the cohort never held it.
NEVER_LISTED = "out_after_as_of"

Question = tuple[tuple[str, str], ...]


def question_of(case: WorkedCase) -> Question:
    return (*sorted(case.options.items()), ("as-of", case.as_of.isoformat()))


QUESTIONS = sorted({question_of(case) for case in CASES})
HANDFUL: tuple[Question, ...] = (
    (("as-of", "2025-12-31"), ("unscanned", "complete,lower,upper")),
    (("as-of", "2025-12-31"), ("imaging", "us"), ("adequacy", "as-published")),
    (("as-of", "2025-12-31"), ("unit", "patient"), ("sessions", "auxiliary"), ("by", "year,bilateral")),
    (("as-of", "2025-12-31"), ("unit", "stone"), ("stones", "targeted")),
    (("as-of", "2024-06-01"), ("unit", "course"), ("sessions", "planned"), ("compare", "bilateral=no,yes")),
)


@dataclass(frozen=True)
class Told:
    """What the command answered: JSON, and its list of cases."""

    whole: dict[str, Any]
    cases: list[dict[str, str]]


class Unit:
    """A registry that the workbook was loaded into; each question is put to it once."""

    def __init__(self, location: str, folder: Path, book: Workbook, *, shuffled: int | None = None) -> None:
        self.location, self.folder, self.book = location, folder, book
        self.told: dict[Question, Told] = {}
        file = folder / "worked_cases.xlsx"
        book.save(file, shuffled=shuffled)
        loaded = subprocess.run(
            [GRAVELBOOK, "intake", "load", str(file), "--registry", location, "--by-whom", "data desk"],
            capture_output=True,
            text=True,
            check=False,
        )
        assert (loaded.returncode, loaded.stderr) == (0, ""), loaded.stdout + loaded.stderr

    def ask(self, question: Question) -> Told:
        if question not in self.told:
            target = self.folder / "cases.csv"
            options = [word for name, value in question for word in (f"--{name}", value)]
            asked = gravelbook(
                "stone-free",
                *("--registry", self.location, "--format", "json", "--threshold", FIVE, "--cases", str(target)),
                *("--replicates", "50", *options),
            )
            assert asked.status == 0, asked.err
            cases = list(csv.DictReader(io.StringIO(target.read_text(encoding="utf-8"))))
            self.told[question] = Told(json.loads(asked.out), cases)
        return self.told[question]

    def stone(self, place: dict[str, Any]) -> int:
        """The registry's key of a stone that a person knows by patient, kidney, course and number."""
        stone, course, unit, patient = (
            metadata.tables[name].c for name in ("stone", "course", "renal_unit", "patient")
        )
        query = select(stone.id).where(
            stone.course_id == course.id,
            course.renal_unit_id == unit.id,
            unit.patient_id == patient.id,
            patient.study_number == place["study_number"],
            unit.unit == place["unit"],
            course.course_number == place["course_number"],
            stone.stone_number == place["stone_number"],
        )
        with open_registry(self.location) as registry, registry.reading() as connection:
            return int(connection.execute(query).scalar_one())


@pytest.fixture(scope="module")
def book() -> Workbook:
    return Workbook(CASES)


@pytest.fixture(scope="module")
def unit(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory, book: Workbook) -> Unit:
    folder = tmp_path_factory.mktemp("worked")
    return Unit(str(sqlite_copy(sqlite_template, folder / "unit.db")), folder, book)


@pytest.fixture(scope="module")
def shuffled(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory, book: Workbook) -> Unit:
    folder = tmp_path_factory.mktemp("shuffled")
    return Unit(str(sqlite_copy(sqlite_template, folder / "unit.db")), folder, book, shuffled=20_240_301)


@pytest.fixture(scope="module")
def on_postgres(
    postgres_template: tuple[str, Path], tmp_path_factory: pytest.TempPathFactory, book: Workbook
) -> Iterator[Unit]:
    need_server()
    template, key = postgres_template
    folder = tmp_path_factory.mktemp("postgres")
    with postgres.fresh_database(template) as url:
        # Its key is named only while it is asked: the other units of this module have keys of their own.
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("GRAVELBOOK_KEY_FILE", str(key))
            patch.setenv("GRAVELBOOK_SNAPSHOTS", str(folder))
            made = Unit(url, folder, book)
            for question in HANDFUL:
                made.ask(question)
        yield made


@pytest.mark.parametrize("case", CASES, ids=[case.ref for case in CASES])
def test_worked_case(unit: Unit, case: WorkedCase) -> None:
    told = unit.ask(question_of(case))
    what = case.options.get("unit", "side")
    for expected in case.expected:
        place = unit.book.places[case.ref, what, expected.of]
        lines = lines_of(told.cases, what, place, unit.stone(place) if what == "stone" else None)
        if expected.rung == NEVER_LISTED:
            assert lines == [], case.why
            continue
        by_code = {CODES[line["comparison"], line["threshold_mm"]]: line for line in lines}
        assert len(lines) == len(by_code) == 5, case.why
        lines = [by_code[code] for code in FIVE.split(",")]
        assert "".join(LETTERS[line["status"]] for line in lines) == expected.statuses, case.why
        rungs = {"study" if line["rung"].startswith("study_") else line["rung"] for line in lines}
        assert rungs == {expected.rung}, case.why
        if expected.picked is not None:
            study = unit.book.places[case.ref, "examination", expected.picked]
            assert {line["examined_on"] for line in lines} == {day_of(study)}, case.why
            assert {line["modality"] for line in lines} <= {study["modality"], "us+kub"}, case.why


def test_operations_after_as_of_are_in_the_flow(unit: Unit) -> None:
    (case,) = (case for case in CASES if NEVER_LISTED in {expected.rung for expected in case.expected})
    flow = unit.ask(question_of(case)).whole["definition"]["flow"]
    everybody = len(unit.book.rows["treated_side"])
    assert flow[0]["reason"] == f"operated on after {case.as_of}"
    assert (flow[0]["left_out"]["sides"], flow[0]["stayed"]["sides"]) == (everybody, 0)


@pytest.mark.parametrize("question", [*QUESTIONS, *HANDFUL], ids=lambda asked: " ".join(map("=".join, asked)))
def test_the_counts_of_the_rows_are_those_of_the_cases(unit: Unit, question: Question) -> None:
    told = unit.ask(question)
    for row in told.whole["rows"]:
        group = ", ".join(str(value) for value in row["group"].values()) or "everyone"
        same = (group, f"{row['threshold_mm']:g}", row["comparison"])
        lines = [line for line in told.cases if (line["group"], line["threshold_mm"], line["comparison"]) == same]
        status, rung = Counter(line["status"] for line in lines), Counter(line["rung"] for line in lines)
        free = status["free"] + (status["unknown"] if row["unscanned"] == "upper" else 0)
        known = status["free"] + status["failed"]
        assert row["stone_free"] == free
        assert row["n"] == known + (status["unknown"] if row["unscanned"] != "complete" else 0)
        assert row["eligible"] == known + status["unknown"]
        assert [row[name] for name in ("unknown", "not_due", "died")] == [
            status[name] for name in ("unknown", "not_due", "died")
        ]
        for name in ("retreated_planned", "retreated_unplanned", "abandoned"):
            assert row[name] == rung[name]
        assert row["failed_inadequate"] == sum(line["failed_inadequate"] == "yes" for line in lines)
        of_n = [line for line in lines if line["status"] in ("free", "failed")]
        of_n += [line for line in lines if line["status"] == "unknown" and row["unscanned"] != "complete"]
        assert row["patients"] == len({line["study_number"] for line in of_n})


@pytest.mark.parametrize("question", HANDFUL, ids=lambda asked: " ".join(map("=".join, asked)))
@pytest.mark.parametrize("other", ["shuffled", "on_postgres"])
def test_neither_engine_nor_order_of_rows_changes_an_answer(
    unit: Unit, request: pytest.FixtureRequest, other: str, question: Question
) -> None:
    asked: Unit = request.getfixturevalue(other)
    here, there = unit.ask(question), asked.ask(question)
    assert without_keys(there) == without_keys(here)


def without_keys(told: Told) -> tuple[Any, ...]:
    """An answer without the keys that a registry gave its rows and the hashes that follow from them."""
    definition = {name: value for name, value in told.whole["definition"].items() if name != "snapshot"}
    cases = [
        {
            name: value
            for name, value in line.items()
            if name not in ("unit_id", "side_id", "operation_id", "picked_study")
        }
        for line in told.cases
    ]
    return definition, told.whole["rows"], told.whole["comparisons"], sorted(cases, key=lambda line: [*line.values()])


def test_a_retreatment_named_as_of_its_course_is_the_same(
    sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory, unit: Unit
) -> None:
    """A person may write the course beside an unplanned retreatment, whose stage stays blank, or leave it out."""
    book = Workbook(CASES)
    named = 0
    for side in book.rows["treated_side"]:
        if "course_number" not in side:
            side["course_number"] = 1
            named += 1
    assert named
    folder = tmp_path_factory.mktemp("named")
    other = Unit(str(sqlite_copy(sqlite_template, folder / "unit.db")), folder, book)
    for question in (HANDFUL[0], HANDFUL[4]):
        assert without_keys(other.ask(question)) == without_keys(unit.ask(question))
