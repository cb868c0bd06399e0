"""Findings about a log, said for one sheet at a time; no value of a cell is ever in them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from registry.schema.xlsx_parts import letters
from registry.validation.findings import FindingList, Problem, Severity

_LONGEST_LIST = 12


@dataclass(frozen=True)
class Remarks:
    """Takes what there is to say about one sheet (``sheet`` is blank for a CSV file)."""

    findings: FindingList
    file: str
    sheet: str = ""

    @property
    def place(self) -> str:
        """The sheet in words."""
        return f"sheet '{self.sheet}' of {self.file}" if self.sheet else self.file

    def note(self, rule: str, why: str, right: str = "", *, row: int | None = None, at: int | None = None) -> None:
        """Say how something was read; ``at`` is the number of the column, from 0."""
        self._add(Problem(f"log.{rule}", Severity.NOTE, why, right), row, at)

    def question(self, rule: str, why: str, right: str, *, row: int | None = None, at: int | None = None) -> None:
        """Ask a person to look."""
        self._add(Problem(f"log.{rule}", Severity.QUESTION, why, right), row, at)

    def error(
        self, rule: str, why: str, right: str, *, row: int | None = None, at: int | None = None, heading: str = ""
    ) -> None:
        """Say what has to be mended; a rule with a full stop in it is shared with the workbook."""
        self._add(Problem(rule if "." in rule else f"log.{rule}", Severity.ERROR, why, right), row, at, heading)

    def _add(self, problem: Problem, row: int | None, at: int | None, heading: str = "") -> None:
        column, heading = "" if at is None else letters(at), " ".join(heading.split())
        self.findings.add(problem, sheet=self.sheet, row=row, column=column, heading=heading, file=self.file)


def listed(numbers: Iterable[int]) -> str:
    """Row numbers in words: ``3, 7 to 9``; a long list ends with how many more there are."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and runs[-1][1] == number - 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    shown = [str(first) if first == last else f"{first} to {last}" for first, last in runs[:_LONGEST_LIST]]
    rest = sum(last - first + 1 for first, last in runs[_LONGEST_LIST:])
    return ", ".join(shown) + (f" and {rest} more" if rest else "")


def rows(numbers: Iterable[int]) -> str:
    """``Row 3`` or ``Rows 3, 7 to 9``."""
    known = sorted(numbers)
    return f"Row{'s' if len(known) > 1 else ''} {listed(known)}"
