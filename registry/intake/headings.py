"""The headings of a sheet: which column holds which field."""

from __future__ import annotations

import difflib
from typing import Any

from registry.intake.example_row import ROW_NOTE
from registry.intake.rejected_file_columns import is_added
from registry.intake.rows import SheetRows
from registry.schema.fields import info_of
from registry.schema.sheets import Sheet
from registry.schema.tables import links_of, metadata
from registry.schema.xlsx_parts import letters
from registry.validation.findings import FindingList, Problem, Severity


def find_headings(
    layout: Sheet,
    title: str,
    first: list[Any],
    below: list[list[Any]],
    faults: dict[tuple[int, int], str],
    findings: FindingList,
) -> dict[str, int]:
    """The column of each heading, by number from 0. Every heading that is not understood is a finding."""
    known = {heading.casefold(): heading for heading in layout.headings}
    positions: dict[str, int] = {}
    for at, cell in enumerate(first):
        typed = str(cell).strip()
        heading = known.get("_".join(typed.casefold().split()))
        place: dict[str, Any] = {"sheet": title, "row": 1, "column": letters(at), "heading": typed}
        if typed.casefold() == ROW_NOTE or is_added(typed):
            continue
        if not typed:
            if any(at < len(row) and row[at] != "" for row in below):
                why = "The column holds values but has no heading, so they would be lost."
                findings.add(Problem("heading.known", Severity.ERROR, why, "a heading, or an empty column"), **place)
        elif heading is None:
            near = difflib.get_close_matches(typed.casefold(), layout.headings, n=3, cutoff=0.5)
            right = f"perhaps {' or '.join(near)}; else remove the column" if near else "remove the column"
            why = f"'{typed}' is not a heading of {layout.title}."
            findings.add(Problem("heading.known", Severity.ERROR, why, right), **place, value=typed)
        elif heading in positions:
            why = f"'{heading}' heads column {letters(positions[heading])} already."
            findings.add(Problem("heading.once", Severity.ERROR, why, "one column for each heading"), **place)
        else:
            positions[heading] = at
    return positions


def check_needed(rows: SheetRows, findings: FindingList) -> None:
    links = links_of(rows.sheet.table)
    table = metadata.tables[rows.sheet.table]
    for column in rows.sheet.columns:
        by_link = any(info_of(table.columns[name]).required for name in links if name in column.links)
        needed = by_link if column.links else column.info.required
        if not needed or column.folded or column.optional_site or column.info.default is not None:
            continue
        if column.heading not in rows.cells:
            why = f"The heading {column.heading} is missing, and no row of {rows.sheet.title} can be kept without it."
            findings.add(
                Problem(
                    "heading.needed", Severity.ERROR, why, f"a column headed {column.heading}: {column.info.label}"
                ),
                sheet=rows.title,
                row=1,
                heading=column.heading,
            )
