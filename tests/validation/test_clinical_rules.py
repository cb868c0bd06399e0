"""Each clinical rule with a clean case, one that breaks it and one that it cannot judge."""

from __future__ import annotations

import re
from collections.abc import Iterator

import duckdb
import pytest

from registry.intake.clinical_check import cited_heading
from registry.schema.fields import Keeping, Note, Secret, info_of
from registry.schema.sheets import folded_into, sheets
from registry.schema.tables import metadata
from registry.validation.clinical.all_rules import CLINICAL_RULES, rules_by_id
from registry.validation.clinical.rule import ClinicalRule
from registry.validation.rule_running import run_rules
from tests.validation.rule_cases.changes import Example, engine_of, judged
from tests.validation.rule_cases.imaging_examples import IMAGING_EXAMPLES
from tests.validation.rule_cases.people_examples import PEOPLE_EXAMPLES
from tests.validation.rule_cases.scanned_examples import SCANNED_EXAMPLES
from tests.validation.rule_cases.side_examples import SIDE_EXAMPLES
from tests.validation.rule_cases.whole_case import whole_case

EXAMPLES = (*PEOPLE_EXAMPLES, *SIDE_EXAMPLES, *SCANNED_EXAMPLES, *IMAGING_EXAMPLES)
by_rule = pytest.mark.parametrize("example", EXAMPLES, ids=[example.rule for example in EXAMPLES])
every_rule = pytest.mark.parametrize("rule", CLINICAL_RULES, ids=[rule.id for rule in CLINICAL_RULES])


@pytest.fixture(scope="module")
def engine() -> Iterator[duckdb.DuckDBPyConnection]:
    with engine_of(whole_case()) as made:
        yield made


def test_every_rule_has_its_examples_and_every_example_its_rule() -> None:
    named = [example.rule for example in EXAMPLES]
    assert len(named) == len(set(named))
    assert set(named) == set(rules_by_id()), set(named) ^ set(rules_by_id())
    assert len(CLINICAL_RULES) == len(rules_by_id()) >= 48


@by_rule
def test_a_clean_case_is_judged_and_keeps_the_rule(engine: duckdb.DuckDBPyConnection, example: Example) -> None:
    found = judged(engine, example.rule, {})
    assert found.fault == ""
    assert found.checked > 0
    assert found.broken == ()


@by_rule
def test_a_breaking_case_is_found_at_its_row(engine: duckdb.DuckDBPyConnection, example: Example) -> None:
    found = judged(engine, example.rule, example.broken)
    assert found.fault == ""
    assert [each.row for each in found.broken] == [example.cited]
    assert not re.search(r"[{}?]", found.broken[0].why.removesuffix("?").replace("? ", " ")), found.broken[0].why


@by_rule
def test_what_cannot_be_judged_is_counted_and_not_passed(engine: duckdb.DuckDBPyConnection, example: Example) -> None:
    clean, found = judged(engine, example.rule, {}), judged(engine, example.rule, example.unknown)
    assert found.fault == ""
    assert found.broken == ()
    assert found.not_computable > clean.not_computable


@every_rule
def test_a_rule_cites_a_field_of_its_table_that_stands_in_a_sheet(rule: ClinicalRule) -> None:
    table = metadata.tables[rule.table]
    assert folded_into(table) is None
    assert rule.fields and all(field in table.columns for field in rule.fields)
    sheet = next(sheet for sheet in sheets() if sheet.table == rule.table)
    assert cited_heading(rule.table, rule.fields[0]) in sheet.headings


@every_rule
def test_a_rule_shows_nothing_that_tells_who_a_person_is(rule: ClinicalRule) -> None:
    shown = set(re.findall(r"[a-z_0-9]+", " ".join(rule.shows.values())))
    for table in rule.tables:
        for column in metadata.tables[table].columns:
            info = info_of(column)
            hidden = info.identifying or isinstance(info.kind, Note | Secret | Keeping)
            assert not (hidden and column.name in shown), f"{table}.{column.name}"
    assert set(re.findall(r"{(\w+)}", rule.why)) == set(rule.shows)


@every_rule
def test_a_rule_is_named_by_its_table_and_says_what_is_right(rule: ClinicalRule) -> None:
    table, field, word = rule.id.split(".")
    assert table == rule.table
    assert field in metadata.tables[table].columns and word
    assert len(rule.id) <= 80  # what the record of runs can hold
    assert rule.sentence and not rule.sentence.endswith(".") and rule.why[-1] in ".?"


def test_the_whole_case_keeps_all_rules_together(engine: duckdb.DuckDBPyConnection) -> None:
    said = list(run_rules(engine))
    assert [j.rule.id for j in said if j.broken or j.fault or not j.checked] == []
    assert len(said) == len(CLINICAL_RULES)


def test_a_rule_that_cannot_run_says_so_and_stops_no_other(engine: duckdb.DuckDBPyConnection) -> None:
    sound = CLINICAL_RULES[0]
    faulty = ClinicalRule(**{**vars_of(sound), "id": "operation.operated_on.faulty", "broken": "t.no_such_column"})
    first, second = run_rules(engine, [faulty, sound])
    assert (first.fault, first.checked, first.broken) == ("BinderException", 0, ())
    assert second.fault == "" and second.checked > 0


def vars_of(rule: ClinicalRule) -> dict[str, object]:
    from dataclasses import fields

    return {field.name: getattr(rule, field.name) for field in fields(rule)}


def test_the_engine_reaches_neither_disk_nor_database(engine: duckdb.DuckDBPyConnection, tmp_path: object) -> None:
    with pytest.raises(duckdb.PermissionException):
        engine.execute(f"ATTACH '{tmp_path}/held.db'")
