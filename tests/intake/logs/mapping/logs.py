"""Small logs and mappings, written by the tests."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from registry.intake.load import Loaded, load_file
from registry.intake.load_plan import LoadPlan, make_plan
from registry.intake.source import Source
from registry.store.registry import Registry
from registry.validation.findings import Finding, Severity

HEAD = """
name = "theatre log"
[reading]
decimal = ","
dates = ["dd.mm.yyyy"]
missing = ["?"]
[values.side]
L = "left"
R = "right"
B = "both"
[[column]]
heading = "MRN"
to = "hospital_number.number"
[[column]]
heading = "Date"
to = "operation.operated_on"
[[column]]
heading = "Side"
to = "renal_unit.unit"
values = "side"
[[constant]]
to = "treated_side.intent"
value = "stone_removal"
"""
HEADINGS = ["MRN", "Date", "Side"]
FIRST = ["H-1", "03.05.2024", "L"]


def with_site(registry: Registry) -> Registry:
    """The registry with one site, LB."""
    with registry.writing(by="test") as door:
        door.insert("site", {"code": "LB", "name": "Larkspur Bay", "time_zone": "Europe/Lisbon"})
    return registry


def log(folder: Path, rows: Sequence[Sequence[Any]], mapping: str, name: str = "log.csv") -> Source:
    """A CSV log of some rows, the first of them the headings, with a mapping."""
    return Source((write_rows(folder / name, rows),), write_mapping(folder, mapping))


def write_rows(path: Path, rows: Sequence[Sequence[Any]]) -> Path:
    """Write rows as CSV."""
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file, delimiter=";").writerows(rows)
    return path


def write_mapping(folder: Path, mapping: str) -> Path:
    """Write a mapping."""
    path = folder / "mapping.toml"
    path.write_text(mapping, encoding="utf-8")
    return path


def case(folder: Path, more: str, headings: Sequence[str], *rows: Sequence[Any]) -> Source:
    """A log with hospital number, date and side of a first operation, and some columns more."""
    lines = [[*HEADINGS, *headings], *([*FIRST, *row] for row in rows)]
    return log(folder, lines, HEAD + more)


def plan_of(registry: Registry, source: Source) -> LoadPlan:
    """The plan of a log that has no errors."""
    plan = make_plan(registry, source)
    assert errors(plan.findings.listed()) == [], plan.findings.listed()
    return plan


def loaded(registry: Registry, source: Source) -> Loaded:
    """A log, loaded."""
    done = load_file(registry, source, by="test")
    assert errors(done.findings) == []
    return done


def errors(findings: Sequence[Finding]) -> list[Finding]:
    """The errors among findings."""
    return [found for found in findings if found.severity is Severity.ERROR]


def only(plan: LoadPlan, table: str) -> dict[str, Any]:
    """The one new row of a table."""
    assert len(plan.new[table]) == 1, plan.new[table]
    return plan.new[table][0]


def found(plan: LoadPlan, rule: str) -> Finding:
    """The one finding of a rule."""
    listed = [one for one in plan.findings.listed() if one.rule == rule]
    assert len(listed) == 1, plan.findings.listed()
    return listed[0]
