"""From the file of a theatre list to its lines, and from them into the registry."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from registry.intake.load import batch_of
from registry.intake.log_mapping import ONE, Mapping
from registry.intake.log_mapping_targets import Target
from registry.intake.log_records import RowValues
from registry.intake.log_rows import rows_of_files, site_of
from registry.intake.source import Source
from registry.intake.theatre_list_targets import LINE, LISTED_ON, NUMBER, STATE, WORDING
from registry.intake.values import parse
from registry.schema.errors import GravelbookError
from registry.schema.lists_outcome import ListLineState
from registry.schema.tables import metadata
from registry.validation.field_words import hides
from registry.validation.findings import Finding, FindingList, Problem, Severity
from registry.validation.theatre_list.lines import ListLine, take_into
from registry.validation.theatre_list.matching import match_lines

if TYPE_CHECKING:
    from registry.store.registry import Registry

_KEY = (LINE, "", ONE)


@dataclass(frozen=True)
class LoadedList:
    """What became of a theatre list.

    Attributes:
        batch_id: the batch that was written; None when nothing was.
        lines: how many lines the file has.
        new: lines that were not held.
        updated: lines whose wording or state changed.
        gone: lines held of the list's days that it does not have any more.
        contradicted: lines that it calls cancelled although an operation here matches them.
        states: all held lines of the list's days, by state; ``open`` are left.
        findings: questions and notes; with errors, nothing was written.
        errors: how many errors there are.
        seen_before: this very file was loaded before.
    """

    batch_id: int | None = None
    lines: int = 0
    new: int = 0
    updated: int = 0
    gone: int = 0
    contradicted: int = 0
    states: dict[str, int] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    errors: int = 0
    seen_before: bool = False


def read_lines(registry: Registry, source: Source, mapping: Mapping, findings: FindingList) -> list[ListLine]:
    """The lines of a theatre list, in their order.

    Args:
        registry: the registry, for the site.
        source: the files.
        mapping: the mapping, of this kind.
        findings: takes what is wrong with them.

    Raises:
        GravelbookError: a file cannot be read, or does not fit the mapping.
    """
    site = site_of(registry, mapping)
    found = (_line(row, mapping, site, findings) for row in rows_of_files(mapping, source, findings))
    return [line for line in found if line is not None]


def load_list(
    registry: Registry, source: Source, mapping: Mapping, *, by: str, reason: str | None = None
) -> LoadedList:
    """Take a theatre list in, whole or not at all, and match its lines.

    Args:
        registry: where the lines go.
        source: the files.
        mapping: the mapping, of this kind.
        by: who loads it.
        reason: why, for the change history.

    Raises:
        GravelbookError: the file as a whole cannot be read or holds no lines, or the store refused them.
    """
    content_hash = source.content_hash()
    if batch_of(registry, content_hash) is not None:
        return LoadedList(seen_before=True)
    findings = FindingList(source.name)
    lines = read_lines(registry, source, mapping, findings)
    if findings.errors:
        return LoadedList(lines=len(lines), findings=findings.listed(), errors=findings.errors)
    if not lines:
        raise GravelbookError(f"{source.name} holds no lines below its headings. Look whether it is the right file.")
    with registry.writing(by=by, reason=reason or "theatre list") as door:
        batch = door.load_batch(file_hash=content_hash, file_name=source.name, source=mapping.name, tables={})
        taken = take_into(door, lines)
    match_lines(registry, by=by)
    return LoadedList(
        batch_id=batch,
        lines=len(lines),
        new=len(taken.added),
        updated=len(taken.updated),
        gone=len(taken.gone),
        contradicted=len(taken.contradicted),
        states=_states(registry, lines),
        findings=findings.listed(),
    )


def _line(row: RowValues, mapping: Mapping, site: str, findings: FindingList) -> ListLine | None:
    """A row as a line; None, with a finding, where it cannot be one."""
    values: dict[str, Any] = {}
    for heading in (LISTED_ON, NUMBER, WORDING, STATE):
        said = row.value(LINE, heading)
        constants = (one.value for one in mapping.constants if one.to.heading == heading)
        cell, columns = (said.cell, said.columns) if said is not None else (next(constants, None), ())
        info = Target(LINE, heading).info
        parsed = parse(info, cell)
        for problem in parsed.problems:
            row.report(findings, columns, problem, hidden=hides(info))
        values[heading] = None if parsed.failed else parsed.value
    if any(key == _KEY for key, _ in row.failed):
        return None
    on, number = values[LISTED_ON], values[NUMBER]
    if not isinstance(on, date):
        if not any(finding.row == row.number for finding in findings.listed() if finding.severity is Severity.ERROR):
            _blank(row, findings, LISTED_ON, Severity.ERROR, "The line has no day, so that no operation can match it.")
        return None
    if number is None and values[WORDING] is None:
        return None  # a session without a case, or a ruled line
    if number is None:
        _blank(row, findings, NUMBER, Severity.QUESTION, "The line has no hospital number, so that nothing matches it.")
    wording = None if values[WORDING] is None else str(values[WORDING])
    return ListLine(on, None if number is None else str(number), wording, _cancelled(values[STATE]), site)


def _cancelled(state: Any) -> bool:
    return state is not None and ListLineState(str(state)) is ListLineState.CANCELLED


def _blank(row: RowValues, findings: FindingList, heading: str, severity: Severity, why: str) -> None:
    columns = tuple(at for column, at in row.bound.columns if any(t.heading == heading for t in column.targets))
    info = Target(LINE, heading).info
    row.report(findings, columns, Problem(f"{LINE}.{heading}.required", severity, why, info.label.lower()))


def _states(registry: Registry, lines: list[ListLine]) -> dict[str, int]:
    """The held lines of the days of a list, by state."""
    line, site = metadata.tables[LINE].c, metadata.tables["site"].c
    days = {(one.site, one.listed_on) for one in lines}
    low, high = min(on for _, on in days), max(on for _, on in days)
    query = select(site.code, line.listed_on, line.state)
    with registry.reading() as connection:
        held = connection.execute(query.where(line.site_id == site.id, line.listed_on.between(low, high))).all()
    counts = Counter(str(ListLineState(row.state).value) for row in held if (row.code, row.listed_on) in days)
    return {state.value: counts[state.value] for state in ListLineState}
