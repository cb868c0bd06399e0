"""The rules hold their peace on an invented unit whose records are sound."""

from __future__ import annotations

from pathlib import Path

from registry.intake.load_plan import make_plan
from registry.store.registry import open_registry
from registry.validation.clinical.all_rules import rules_by_id
from registry.validation.findings import Severity
from synthetic_cohort.frames import cohort
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.records import records
from synthetic_cohort.workbook import write_workbook

OPERATIONS = 1000


def test_at_most_two_false_alarms_in_a_thousand_operations(sqlite_location: str, tmp_path: Path) -> None:
    write_workbook(records(cohort(Parameters(), OPERATIONS, seed=3)), tmp_path / "sound.xlsx")
    with open_registry(sqlite_location) as registry:
        plan = make_plan(registry, tmp_path / "sound.xlsx")
    alarms = [found for found in plan.findings.listed() if found.rule in rules_by_id()]
    assert len(plan.new["operation"]) >= OPERATIONS
    assert [found.rule for found in alarms if found.severity is Severity.ERROR] == []
    assert len(alarms) <= 2 * OPERATIONS / 1000, [found.rule for found in alarms]
