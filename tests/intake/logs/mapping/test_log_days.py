"""Day and month changed over: an error where the row proves it, a question where it does not, never a change."""

from __future__ import annotations

from pathlib import Path

from registry.intake.load_plan import make_plan
from registry.store.registry import Registry
from registry.validation.findings import Severity
from tests.intake.logs.mapping.logs import HEAD, HEADINGS, case, found, log
from tests.intake.logs.mapping.test_log_status import SCAN, status

FOLLOW = SCAN + status("SFR", "at_mm = 2")


def test_a_scan_before_its_operation_that_a_swap_cures(unit: Registry, tmp_path: Path) -> None:
    # Operated on 3 May; 8 February is before it, 2 August is not. 5 March, the operation's swap, is not before it.
    finding = found(make_plan(unit, case(tmp_path, FOLLOW, ["Scanned", "SFR"], ["08.02.2024", "y"])), "log.day.swapped")
    assert (finding.severity, finding.row, finding.column, finding.right) == (Severity.ERROR, 2, "D", "2024-08-02")


def test_two_swaps_that_cure_are_a_question(unit: Registry, tmp_path: Path) -> None:
    # 5 March (the operation swapped) is before 4 April; and 8 April becomes 4 August.
    finding = found(make_plan(unit, case(tmp_path, FOLLOW, ["Scanned", "SFR"], ["08.04.2024", "y"])), "log.day.swapped")
    assert (finding.severity, finding.column) == (Severity.QUESTION, "B, D")


def test_a_wrong_order_that_no_swap_cures_is_left_to_other_rules(unit: Registry, tmp_path: Path) -> None:
    plan = make_plan(unit, case(tmp_path, FOLLOW, ["Scanned", "SFR"], ["20.01.2024", "y"]))
    assert [f for f in plan.findings.listed() if f.rule == "log.day.swapped"] == []


def test_a_day_that_is_none_by_the_declared_form(unit: Registry, tmp_path: Path) -> None:
    rows = [HEADINGS, ["H-1", "05.13.2024", "L"], ["H-2", "31.02.2024", "L"], ["H-3", "May 2024", "L"]]
    plan = make_plan(unit, log(tmp_path, rows, HEAD))
    rules = [(f.row, f.column, f.rule, f.right) for f in plan.findings.listed()]
    assert rules == [
        (2, "B", "operation.operated_on.swapped", "2024-05-13"),
        (3, "B", "operation.operated_on.calendar", "a day that exists"),
        (4, "B", "operation.operated_on.form", "a date in the form dd.mm.yyyy"),
    ]


def test_two_declared_forms_that_both_fit(unit: Registry, tmp_path: Path) -> None:
    mapping = HEAD.replace('dates = ["dd.mm.yyyy"]', 'dates = ["d/m/yyyy", "m/d/yyyy"]')
    rows = [HEADINGS, ["H-1", "3/5/2024", "L"], ["H-2", "13/5/2024", "L"], ["H-3", "4/4/2024", "L"]]
    plan = make_plan(unit, log(tmp_path, rows, mapping))
    finding = found(plan, "operation.operated_on.two_days")
    assert (finding.row, finding.right) == (2, "2024-05-03 or 2024-03-05")
    assert len(plan.new["operation"]) == 2
