"""Sorts the rows of a file into those that can be loaded and those that cannot, each of these with its reasons."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING

from registry.intake.good_rows_keys import FileKeys, NamedRows, Unit, name_rows, unit_of
from registry.intake.good_rows_waiting import hanging_on, shared_records, together_with
from registry.intake.known_keys import Key
from registry.intake.load_plan import LoadPlan, plan_file
from registry.intake.progress import Progress
from registry.intake.rows import FileRows, SheetRows
from registry.intake.source import Source
from registry.intake.workbook_reader import all_sheets
from registry.validation.findings import Finding, FindingList, Problem, Severity

if TYPE_CHECKING:
    from registry.store.registry import Registry

WAITS = "row.waits"


@dataclass
class SortedRows:
    """A file whose rows were sorted.

    Attributes:
        plan: the good rows, checked without an error; or the whole file where ``refused``.
        sheets: all rows of the file as they were read.
        reasons: by rejected row, the findings that keep it out.
        refused: an error is not about a row, so that no part of the file can be loaded.
    """

    plan: LoadPlan
    sheets: list[SheetRows]
    reasons: dict[Unit, list[Finding]] = field(default_factory=dict)
    refused: bool = False

    def findings(self) -> list[Finding]:
        """Why rows were rejected, and what was found in the good ones."""
        why = [finding for found in self.reasons.values() for finding in found]
        return _again([*self.plan.findings.listed(), *why], self.plan.findings.file, self.sheets).listed()


def sort_rows(
    registry: Registry,
    source: Source,
    persons: Mapping[Unit, str] | None = None,
    *,
    today: date | None = None,
    progress: Progress | None = None,
) -> SortedRows:
    """Plan a file; leave out the rows at fault and all that hangs on them, and plan again until nothing is at fault.

    Args:
        registry: the registry that the rows are meant for.
        source: the files to read.
        persons: all rows of a log, those too from which nothing could be made, and whom each is about; ``""`` where
            that does not matter.
        today: the last day that may be recorded as past; today by default.
        progress: told of each sheet that was read and each that was checked.

    Raises:
        GravelbookError: the file as a whole cannot be read.
    """
    day = today or date.today()
    findings = FindingList(source.name)
    file = source.read(registry, findings)
    sheets: list[SheetRows] = []
    for rows in file.sheets:
        sheets.append(rows)
        if progress:
            progress("Reading", file.read, file.size)
    read = findings.listed()
    units = {unit_of(rows, index) for rows in sheets for index in range(len(rows))} | set(persons or ())
    plan = plan_file(registry, _of(file, sheets), _again(read, source.name, sheets), today=day, progress=progress)
    sorted_rows = SortedRows(plan, sheets)
    if not plan.findings.errors:
        return sorted_rows
    keys = name_rows(registry, sheets, [sheet.table for sheet in all_sheets()], day)
    reasons, faulty = sorted_rows.reasons, set[Unit]()
    while errors := [f for f in sorted_rows.plan.findings.listed() if f.severity is Severity.ERROR]:
        found = {_unit(finding) for finding in errors}
        if not found <= units or found <= faulty:
            return SortedRows(plan, sheets, refused=True)
        faulty |= found & reasons.keys()  # what was kept of a rejected row is at fault itself
        for finding in errors:
            reasons.setdefault(_unit(finding), []).append(finding)
        _reject_same(keys, errors, reasons)
        stay = _reject_waiting(keys, reasons, faulty, persons)
        kept = [_chosen(named, reasons, faulty, stay) for named in keys.sheets]
        left = [finding for finding in read if _unit(finding) not in reasons]
        sorted_rows.plan = plan_file(
            registry, _of(file, kept), _again(left, source.name, sheets), today=day, progress=progress
        )
    return sorted_rows


def _unit(finding: Finding) -> Unit:
    return finding.file, finding.sheet, finding.row or 0


def _of(file: FileRows, sheets: list[SheetRows]) -> FileRows:
    return replace(file, sheets=iter([rows for rows in sheets if len(rows) > 0]))


def _again(found: Iterable[Finding], name: str, sheets: list[SheetRows]) -> FindingList:
    """Findings as a list that takes more of them."""
    findings = FindingList(name)
    findings.sheet_order(dict.fromkeys(rows.title for rows in sheets))
    for f in found:
        problem = Problem(f.rule, f.severity, f.why, f.right)
        findings.add(problem, sheet=f.sheet, row=f.row, column=f.column, heading=f.heading, value=f.value, file=f.file)
    return findings


def _reject_same(keys: FileKeys, errors: list[Finding], reasons: dict[Unit, list[Finding]]) -> None:
    """Reject the first of two rows of one key as well: which of them is right cannot be told."""
    tables = {f.rule.removesuffix(".once") for f in errors if f.rule.endswith(".once")}
    for named in keys.sheets:
        if named.table not in tables:
            continue
        again = {
            key: unit
            for key, unit in zip(named.keys, named.units, strict=True)
            if any(f.rule == f"{named.table}.once" for f in reasons.get(unit, ()))
        }
        for key, unit in zip(named.keys, named.units, strict=True):
            if key in again and unit not in reasons:
                why = (
                    f"Row {again[key][2]} is the same {named.rows.sheet.title.lower()}: which is right cannot be told."
                )
                reasons[unit] = [_reason(unit, f"{named.table}.once", why, "one row for each")]


def _reject_waiting(
    keys: FileKeys, reasons: dict[Unit, list[Finding]], faulty: set[Unit], persons: Mapping[Unit, str] | None
) -> set[tuple[str, Key]]:
    """Reject what waits for rejected rows; returns the records of these that stay, because other rows need them."""
    while True:
        rejected = set(reasons)
        waiting = together_with(keys, rejected, persons) if persons is not None else {}
        stay = shared_records(keys, rejected | waiting.keys(), faulty) if persons is not None else set()
        waiting |= hanging_on(keys, rejected | waiting.keys(), faulty, stay)
        for unit, why in waiting.items():
            reasons[unit] = [_reason(unit, WAITS, why, "that row mended, and both loaded together")]
        if not waiting:
            return stay


def _reason(unit: Unit, rule: str, why: str, right: str) -> Finding:
    return Finding(unit[0], unit[1], unit[2], "", "", "", rule, Severity.ERROR, why, right)


def _chosen(named: NamedRows, rejected: Container[Unit], faulty: set[Unit], stay: set[tuple[str, Key]]) -> SheetRows:
    kept = [
        index
        for index, (unit, key) in enumerate(zip(named.units, named.keys, strict=True))
        if unit not in rejected or (key is not None and (named.table, key) in stay and unit not in faulty)
    ]
    return named.rows.chosen(kept)
