"""What a unit's way of keeping a log consists of, and how its pages are laid out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from synthetic_cohort.logs.cases import Case
from synthetic_cohort.logs.columns import Column
from synthetic_cohort.logs.grid import Cell, Line, LineKind, Page

Entry = Sequence[Case]


@dataclass(frozen=True)
class Table:
    """One kind of page.

    Attributes:
        file: the file that it stands in.
        columns: its columns.
        about: what a line is.
        keep: which cases have a line.
        title: the sheet of a case; empty for a text file.
        both_sides: the two sides of one operation share a line.
        above: lines above the headings.
    """

    file: str
    columns: tuple[Column, ...]
    about: str = "case"
    keep: Callable[[Case], bool] = lambda case: True
    title: Callable[[Case], str] = lambda case: ""
    both_sides: bool = False
    above: tuple[str, ...] = ()

    @property
    def two_rows(self) -> bool:
        """It has two rows of headings."""
        return any(column.over for column in self.columns)

    def entries(self, cases: Sequence[Case]) -> list[Entry]:
        """The cases that share a line, in order."""
        kept = [case for case in cases if self.keep(case)]
        if not self.both_sides:
            return [(case,) for case in kept]
        together: list[tuple[Case, ...]] = []
        for case in kept:
            if together and (together[-1][0].number, together[-1][0].on) == (case.number, case.on):
                together[-1] = (*together[-1], case)
            else:
                together.append((case,))
        return [*together]

    def headings(self) -> list[Line]:
        """The lines above the first case."""
        lines = [Line(LineKind.NOISE, [Cell(words)]) for words in self.above]
        if self.two_rows:
            over = [column.over for column in self.columns]
            shown = [None if n and name == over[n - 1] else name or None for n, name in enumerate(over)]
            lines.append(Line(LineKind.HEADING, [Cell(name) for name in shown]))
        return [*lines, Line(LineKind.HEADING, [Cell(column.heading) for column in self.columns])]

    def merged(self) -> list[tuple[int, int, int, int]]:
        """The heads that span several columns."""
        if not self.two_rows:
            return []
        over, row, found, start = [column.over for column in self.columns], len(self.above), [], 0
        for at in range(1, len(over) + 1):
            if at == len(over) or over[at] != over[start]:
                if at - start > 1 and over[start]:
                    found.append((row, start, row, at - 1))
                start = at
        return found

    def line(self, entry: Entry) -> Line:
        """The line of a case."""
        return Line(LineKind.DATA, [column.of(entry) for column in self.columns])


@dataclass(frozen=True)
class Style:
    """How one unit keeps its log.

    Attributes:
        name: by which it is chosen.
        about: what is particular about it, in a sentence.
        tables: its kinds of page.
        workbook: it is a workbook; otherwise text.
        encoding: of text files.
        delimiter: of text files.
        drainage: sides that were only drained have lines too.
        epoch_1904: dates are counted from 1904.
        total: the word in front of a line of totals.
        marks: marks of a missing value that the mapping declares.
    """

    name: str
    about: str
    tables: tuple[Table, ...]
    workbook: bool
    encoding: str = "utf-8"
    delimiter: str = ","
    drainage: bool = True
    epoch_1904: bool = False
    total: str = "Total"
    marks: tuple[str, ...] = ("?", "n/a", "-")

    def pages(self, cases: Sequence[Case]) -> list[Page]:
        """The pages of a log without mess."""
        return [page for table in self.tables for page in table_pages(self, table, cases)]

    def says(self, target: str) -> bool:
        """Some column becomes this ``table.heading``; every log says nothing at all."""
        return not target or any(target in column.targets for table in self.tables for column in table.columns)

    def table(self, page: Page) -> Table:
        """The kind of a page."""
        return next(table for table in self.tables if (table.file, table.about) == (page.file, page.about))


def table_pages(style: Style, table: Table, cases: Sequence[Case]) -> list[Page]:
    """The pages of one kind, one a sheet."""
    pages: dict[str, Page] = {}
    for entry in table.entries(cases):
        title = table.title(entry[0])
        page = pages.get(title)
        if page is None:
            page = Page(table.file, title, table.headings(), merged=table.merged(), about=table.about)
            page.epoch_1904 = style.epoch_1904
            pages[title] = page
        line = table.line(entry)
        line.entry = entry
        page.lines.append(line)
    return list(pages.values())


def blank(width: int, first: Any = None) -> Line:
    """A line with nothing in it but perhaps a first word."""
    return Line(LineKind.NOISE, [Cell(first), *(Cell() for _ in range(width - 1))])
