"""What is wrong, open or worth knowing, each said once and with its place: the table of findings."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any

from registry.schema.plurals import counted


class Severity(StrEnum):
    """How a finding counts."""

    ERROR = "error"  # nothing is loaded until it is mended
    QUESTION = "question"  # possible but unlikely: a person should look; it is loaded
    NOTE = "note"  # read in a way that the person should know of


@dataclass(frozen=True, slots=True)
class Problem:
    """What is the matter with one value, before its place is known."""

    rule: str
    severity: Severity
    why: str
    right: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One problem at its place.

    ``row`` is the number that the spreadsheet shows beside the row, ``column`` its letter and ``heading`` the
    word in its first row; ``value`` is what stands there, never shown where it could name a person.
    """

    file: str
    sheet: str
    row: int | None
    column: str
    heading: str
    value: str
    rule: str
    severity: Severity
    why: str
    right: str = ""

    @property
    def place(self) -> str:
        """The place as a spreadsheet writes it: ``Stone!F12``; ``log.csv!F12`` where the file has no sheets."""
        at = f"{self.column}{self.row or ''}"
        return f"{self.sheet}!{at}" if self.sheet else f"{self.file}!{at}" if at else self.file


class FindingList:
    """Findings as they come in, told apart by file and put in order when they are read."""

    def __init__(self, file: str) -> None:
        self.file = file
        self._found: list[tuple[int, Finding]] = []
        self._order: dict[str, int] = {}

    def sheet_order(self, titles: Iterable[str]) -> None:
        """Say in which order the sheets come."""
        self._order = {title: n for n, title in enumerate(titles, start=1)}

    def add(
        self,
        problem: Problem,
        *,
        sheet: str = "",
        row: int | None = None,
        column: str = "",
        heading: str = "",
        value: Any = "",
        file: str = "",
    ) -> None:
        """Add a problem at its place."""
        found = Finding(
            file or self.file,
            sheet,
            row,
            column,
            heading,
            str(value),
            problem.rule,
            problem.severity,
            problem.why,
            problem.right,
        )
        self._found.append((len(self._found), found))

    def listed(self) -> list[Finding]:
        """All findings, by sheet, row and column."""
        last = len(self._order) + 1

        def place(entry: tuple[int, Finding]) -> tuple[int, int, int, str, int]:
            number, found = entry
            at = self._order.get(found.sheet, last) if found.sheet else 0
            return at, found.row or 0, len(found.column), found.column, number

        return [found for _, found in sorted(self._found, key=place)]

    def count(self, severity: Severity) -> int:
        """How many findings of a severity there are."""
        return sum(found.severity is severity for _, found in self._found)

    @property
    def errors(self) -> int:
        """How many errors there are."""
        return self.count(Severity.ERROR)


HEADINGS = ("file", "sheet", "row", "column", "heading", "value", "rule", "severity", "why", "right")


def as_text(findings: Sequence[Finding]) -> str:
    """The findings as a table for the eye: one line each, the longest cells last."""
    if not findings:
        return "Nothing to mend.\n"
    rows = [("severity", "place", "heading", "value", "why", "right", "rule")]
    for found in findings:
        rows.append(
            (found.severity, found.place, found.heading, shortened(found.value), found.why, found.right, found.rule)
        )
    widths = [max(len(row[n]) for row in rows) for n in range(4)]
    lines = []
    for row in rows:
        fixed = "  ".join(cell.ljust(width) for cell, width in zip(row[:4], widths, strict=True))
        rest = " | ".join(cell for cell in row[4:] if cell)
        lines.append(f"{fixed}  {rest}".rstrip())
    return "\n".join(lines) + "\n" + summary(findings) + "\n"


def as_csv(findings: Sequence[Finding]) -> str:
    """The findings as comma-separated values with a heading row."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADINGS)
    for found in findings:
        cells = (getattr(found, name) for name in HEADINGS)
        writer.writerow("" if cell is None else cell for cell in cells)
    return out.getvalue()


def as_json(findings: Sequence[Finding]) -> str:
    """The findings as JSON: counts by severity, then every finding."""
    counts = Counter(found.severity for found in findings)
    body = {
        "counts": {severity.value: counts[severity] for severity in Severity},
        "findings": [asdict(found) for found in findings],
    }
    return json.dumps(body, ensure_ascii=False, indent=1) + "\n"


def summary(findings: Sequence[Finding]) -> str:
    """How many there are of each severity, in a line."""
    counts = Counter(found.severity for found in findings)
    return ", ".join(counted(counts[s], s.value) for s in Severity)


def shortened(text: str, longest: int = 40) -> str:
    """A value on one line and no longer than a table cell."""
    line = " ".join(text.split())
    return line if len(line) <= longest else line[: longest - 1] + "…"
