"""The check of what is held, on real registries and at the command line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from sqlalchemy import select

from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata
from registry.store.registry import Registry, open_registry
from registry.validation.clinical.all_rules import CLINICAL_RULES
from registry.validation.findings import Severity
from registry.validation.quality_check import RuleResult, State, check_held
from registry.validation.quality_commands import quality
from registry.validation.quality_runs import record_runs
from tests.cohort.rows import Rows, day

WIDTH, NEEDED = "stone.width_mm.within_length", "stone.length_mm.needed"
SOME = (WIDTH, NEEDED, "stone.width_mm.plausible", "stone.length_mm.within", "stone.course_id.exists", "stone.once",
        "stone.rows", "tract.rows", "tract.size_tenths_fr.within", "fragment.diameter.low_to_high")  # fmt: skip


def stones(**second: Any) -> Rows:
    """Two stones of one course; the second as a test says."""
    rows = Rows()
    unit = rows.unit(rows.patient(birth_year=1960, note="Plantednote"))
    course = rows.add("course", renal_unit_id=unit)
    rows.side(unit, 10, course_id=course, stage_number=0)
    rows.add("stone", course_id=course, length_mm=12.0, width_mm=9.0)
    rows.add("stone", course_id=course, **{"length_mm": 8.0, "width_mm": 6.0, **second})
    return rows


def by_rule(results: list[RuleResult]) -> dict[str, RuleResult]:
    return {result.rule: result for result in results}


def test_sound_rows_are_kept_and_empty_tables_are_no_pass(registry: Registry) -> None:
    stones().written(registry)
    found = by_rule(check_held(registry, SOME))
    assert set(found) == set(SOME)
    for rule in SOME[:7]:
        assert (found[rule].state, found[rule].broken) == (State.KEPT, 0), found[rule]
        assert found[rule].checked == 2
    for rule in SOME[7:]:
        assert (found[rule].state, found[rule].checked) == (State.EMPTY, 0), found[rule]


def test_a_broken_case_is_named_without_a_person(registry: Registry) -> None:
    stones(width_mm=11.0).written(registry)
    found = by_rule(check_held(registry, [WIDTH]))[WIDTH]
    assert (found.state, found.checked, found.broken, found.rows) == (State.BROKEN, 2, 1, (2,))
    assert found.severity is Severity.ERROR
    assert found.cases == ("A, S0001, left, stone_number 2",)
    assert found.whys == ("The stone is 11 mm wide and 8 mm long.",)


def test_missing_values_are_counted_apart_from_those_with_a_reason(registry: Registry) -> None:
    rows = stones(length_mm=None, missing_reasons="length_mm=not_recorded;")
    course = rows.tables["stone"][0]["course_id"]
    rows.add("stone", course_id=course, length_mm=None, width_mm=4.0)
    rows.written(registry)
    found = by_rule(check_held(registry, [NEEDED, WIDTH]))
    missing = found[NEEDED]
    assert (missing.state, missing.severity) == (State.BROKEN, Severity.NOTE)
    assert (missing.checked, missing.broken, missing.not_computable) == (2, 1, 1)
    assert missing.cases == ()
    assert (found[WIDTH].checked, found[WIDTH].not_computable) == (1, 2)


def test_what_nothing_can_judge_is_not_computable(registry: Registry) -> None:
    rows = stones(length_mm=None)
    rows.tables["stone"][0]["length_mm"] = None
    rows.written(registry)
    found = by_rule(check_held(registry, [WIDTH]))[WIDTH]
    assert (found.state, found.checked, found.not_computable) == (State.NOT_COMPUTABLE, 0, 2)


def test_an_unknown_rule_is_refused(sqlite_location: str) -> None:
    with open_registry(sqlite_location) as registry, pytest.raises(GravelbookError, match=r"no rule stone\.shape"):
        check_held(registry, ["stone.shape"])


def test_runs_are_kept_once_a_day_and_come_down_when_mended(registry: Registry) -> None:
    stones(width_mm=11.0).written(registry)
    runs = metadata.tables["quality_run"]

    def held() -> list[tuple[Any, ...]]:
        with registry.reading() as connection:
            chosen = select(runs.c.rule, runs.c.run_on, runs.c.checked, runs.c.broken, runs.c.not_computable)
            return [tuple(row) for row in connection.execute(chosen.order_by(runs.c.run_on))]

    record_runs(registry, check_held(registry, SOME), by="tester", today=day(100))
    assert held() == [(WIDTH, day(100), 2, 1, 0)]
    with registry.writing(by="tester", reason="mended") as door:
        door.update("stone", 2, {"width_mm": 6.0}, revision=1)
    record_runs(registry, check_held(registry, SOME), by="tester", today=day(100))
    assert held() == [(WIDTH, day(100), 2, 0, 0)]
    record_runs(registry, check_held(registry, SOME), by="tester", today=day(101))
    assert held() == [(WIDTH, day(100), 2, 0, 0), (WIDTH, day(101), 2, 0, 0)]


def asked(location: str, *more: str) -> Result:
    return CliRunner().invoke(quality, ["check", "--registry", location, *more])


def with_rules(*rules: str) -> list[str]:
    return [part for rule in rules for part in ("--rule", rule)]


def filled(location: str, rows: Rows) -> None:
    with open_registry(location) as registry:
        rows.written(registry)


def test_the_command_leaves_with_1_only_for_errors(sqlite_location: str) -> None:
    filled(sqlite_location, stones(length_mm=80.0))
    told = asked(sqlite_location, *with_rules("stone.length_mm.plausible", WIDTH))
    assert told.exit_code == 0, told.output
    assert "question  stone.length_mm.plausible: 1 of 2 judged." in told.output
    assert "A, S0001, left, stone_number 2" in told.output
    assert "0 cases are impossible (errors), 1 a person must look at (questions)." in told.output


def test_the_command_in_every_form(sqlite_location: str, tmp_path: Path) -> None:
    filled(sqlite_location, stones(width_mm=11.0))
    cases = tmp_path / "cases.csv"
    told = asked(sqlite_location, *with_rules(WIDTH), "--format", "json", "--cases", str(cases), "--record")
    assert told.exit_code == 1
    body = json.loads(told.stdout)
    assert (body["errors"], body["states"]["broken"]) == (1, 1)
    assert body["rules"][0]["cases"][0]["case"] == "A, S0001, left, stone_number 2"
    assert "Recorded what 1 rules found today." in told.stderr
    line = f'{WIDTH},error,stone,2,width_mm,"A, S0001, left, stone_number 2",The stone is 11 mm wide and 8 mm long.'
    assert line in cases.read_text(encoding="utf-8")
    listed = asked(sqlite_location, *with_rules(WIDTH), "--format", "csv").stdout.splitlines()
    assert listed[1].startswith(f"{WIDTH},stone,width_mm; length_mm,error,broken,2,1,0,,")
    for text in (told.output, cases.read_text(encoding="utf-8"), *listed):
        assert "Plantednote" not in text


def test_an_empty_registry_passes_nothing(sqlite_location: str) -> None:
    told = asked(sqlite_location)
    assert told.exit_code == 1
    assert f"{len(CLINICAL_RULES)} clinical rules: {len(CLINICAL_RULES)} nothing to judge." in told.output
    assert " kept" not in told.output
    assert "Nothing was judged: no rule had a row to look at." in told.output
