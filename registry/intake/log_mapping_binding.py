"""Which column of a log's sheet each entry of the mapping means; and the columns that no entry names."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from registry.intake.log_mapping import MappedColumn, Mapping, folded
from registry.schema.errors import GravelbookError
from registry.validation.findings import FindingList, Problem, Severity, shortened

if TYPE_CHECKING:
    from registry.intake.log_cells import LogCell, LogSheet


@dataclass
class BoundSheet:
    """A sheet of a log with the mapping's entries at their columns.

    Attributes:
        sheet: the rows.
        columns: each entry that the sheet has, with the index of its column.
        when: by heading, the index of a column on whose being filled a constant, or on whose words an entry, depends.
        layout: the names of the entries, by which sheets of one make are known.
    """

    sheet: LogSheet
    columns: list[tuple[MappedColumn, int]]
    when: dict[str, int]
    layout: frozenset[str]

    def reads(self, column: MappedColumn, cells: list[LogCell]) -> bool:
        """An entry is read in a row: the columns on which it depends hold one of their words."""
        return all(heading in self.when and folded(cells[self.when[heading]].text) in w for heading, w in column.where)


def bind(mapping: Mapping, sheets: list[LogSheet], findings: FindingList) -> list[BoundSheet]:
    """Find the mapping's columns in the sheets of a log.

    Args:
        mapping: the mapping.
        sheets: the sheets that were read.
        findings: takes columns that no entry names, and headings that one of several sheets does not have.

    Raises:
        GravelbookError: a heading is in none of the sheets, or stands twice in one of them.
    """
    mistakes: list[str] = []
    bound = [BoundSheet(sheet, [], _when(mapping, sheet), frozenset()) for sheet in sheets]
    for column in mapping.columns:
        meant = [one for one in bound if column.is_in(one.sheet)]
        places = [(one, _index(column, one.sheet, mistakes)) for one in meant]
        for one, at in places:
            if at is not None:
                one.columns.append((column, at))
        if all(at is None for _, at in places):
            mistakes.append(_nowhere(column, [one.sheet for one in meant]))
    known = {heading for one in bound for heading in one.when}
    for name, heading in _depended_on(mapping):
        if heading not in known:
            mistakes.append(f"{name}: {_no_heading(heading, sheets)}")
    if mistakes and len(mapping.columns) > 1 and not any(one.columns for one in bound):
        # What stands in such a row may be no headings but a case, so that it is not shown.
        raise GravelbookError(
            f"The mapping {mapping.file} does not fit {', '.join(dict.fromkeys(s.file for s in sheets))}: none of the "
            f"{len(mapping.columns)} columns that it reads is there. Give the mapping of this log, or say under "
            "[reading] in which rows its headings stand: headings_in_rows = [1]."
        )
    if mistakes:
        said = "\n".join(f"- {mistake}" for mistake in dict.fromkeys(mistakes))
        raise GravelbookError(
            f"The mapping {mapping.file} does not fit {', '.join(dict.fromkeys(s.file for s in sheets))}. Mend the "
            f"mapping, or the headings of the log.\n{said}"
        )
    for one in bound:
        one.layout = frozenset(f"{c.name}|{c.group}" for c, _ in one.columns)
        _unnamed(mapping, one, findings)
    return bound


def _depended_on(mapping: Mapping) -> list[tuple[str, str]]:
    """The headings on which entries depend, each with the key that names it."""
    whens = [(f"{constant.name}, key when", constant.when) for constant in mapping.constants if constant.when]
    return whens + [(f"{column.name}, key where", heading) for column in mapping.columns for heading, _ in column.where]


def _when(mapping: Mapping, sheet: LogSheet) -> dict[str, int]:
    headings = [folded(heading) for heading in sheet.headings]
    asked = {constant.when for constant in mapping.constants if constant.when}
    asked |= {heading for column in mapping.columns for heading, _ in column.where}
    return {heading: headings.index(heading) for heading in sorted(asked) if heading in headings}


def _index(column: MappedColumn, sheet: LogSheet, mistakes: list[str]) -> int | None:
    if column.letter:
        return sheet.columns.index(column.letter) if column.letter in sheet.columns else None
    found = [at for at, heading in enumerate(sheet.headings) if folded(heading) == column.heading]
    if len(found) > 1:
        letters = ", ".join(sheet.columns[at] for at in found)
        mistakes.append(
            f"{column.name}: the heading '{column.heading}' stands over the columns {letters} of {_title(sheet)}; "
            'say which is meant with letter = "…"'
        )
    return found[0] if found else None


def _nowhere(column: MappedColumn, sheets: list[LogSheet]) -> str:
    if not sheets:
        return f'{column.name}: no file or sheet is called file = "{column.file}", sheet = "{column.sheet}"'
    if column.letter:
        last = max((s.columns[-1] for s in sheets if s.columns), key=lambda c: (len(c), c), default="none")
        return f"{column.name}, key letter: there is no column {column.letter}; the last one is {last}"
    return f"{column.name}, key heading: {_no_heading(column.heading, sheets)}"


def _no_heading(heading: str, sheets: list[LogSheet]) -> str:
    shown = {folded(one): " ".join(one.split()) for sheet in sheets for one in sheet.headings if one.strip()}
    near = difflib.get_close_matches(heading, shown, n=3, cutoff=0.5)
    listed = " or ".join(f"'{shown[one]}'" for one in near)
    all_of = ", ".join(f"'{one}'" for one in shown.values())
    right = f"perhaps {listed}" if near else f"the headings are: {shortened(all_of, 400)}"
    return f"there is no heading '{heading}' in {', '.join(dict.fromkeys(map(_title, sheets)))}; {right}"


def _unnamed(mapping: Mapping, bound: BoundSheet, findings: FindingList) -> None:
    """Say which columns with values nobody reads; and which entries this sheet lacks that others of the log have."""
    sheet = bound.sheet
    read = {at for _, at in bound.columns} | set(bound.when.values())
    passed = {ignored.heading for ignored in mapping.ignored if ignored.heading}
    letters = {ignored.letter for ignored in mapping.ignored if ignored.letter}
    top = min(sheet.numbers, default=1)
    for at, heading in enumerate(sheet.headings):
        if at in read or folded(heading) in passed or sheet.columns[at] in letters:
            continue
        filled = sum(bool(row[at].text.strip()) for row in sheet.rows)
        if not filled:
            continue
        why = f"The mapping does not name this column, so that its {filled} filled cells are not read."
        right = "a [[column]] that says where it goes, or an [[ignore]]"
        findings.add(
            Problem("log.column.named", Severity.QUESTION, why, right),
            file=sheet.file,
            sheet=sheet.title,
            row=max(top - 1, 1),
            column=sheet.columns[at],
            heading=heading,
        )
    there = {column.name for column, _ in bound.columns}
    for column in mapping.columns:
        if column.name not in there and column.is_in(sheet) and not column.file and not column.sheet:
            why = f"This sheet has no column '{column.heading or column.letter}', which the mapping reads elsewhere."
            problem = Problem("log.column.there", Severity.NOTE, why)
            findings.add(problem, file=sheet.file, sheet=sheet.title, heading=column.heading)


def _title(sheet: LogSheet) -> str:
    return f"{sheet.file}, sheet {sheet.title}" if sheet.title else sheet.file
