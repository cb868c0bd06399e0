"""Merged cells below the headings: what stands in the first of them counts for all of them."""

from __future__ import annotations

from registry.intake.log_cells import EMPTY, MERGED, LogCell
from registry.intake.log_raw import RawSheet, filled
from registry.intake.log_remarks import Remarks
from registry.schema.xlsx_parts import letters

_SHOWN = 12


def fill_merged(raw: RawSheet, first: int, remarks: Remarks) -> None:
    """Fill merged cells down and to the right; a filled cell says that it was.

    Args:
        raw: the sheet; its rows are changed.
        first: the position of the first row below the headings.
        remarks: takes one note with the places.
    """
    start = raw.numbers[first] if first < len(raw.numbers) else None
    places: list[str] = []
    for merge in sorted(raw.merges, key=lambda merge: (merge.top, merge.left)):
        if start is None or merge.top < start:
            continue
        top = merge.top - 1
        source = raw.rows[top][merge.left] if top < len(raw.rows) and merge.left < len(raw.rows[top]) else EMPTY
        if not filled(source):
            continue
        copy = LogCell(source.text, source.value, MERGED)
        for number in range(merge.top, min(merge.bottom, len(raw.rows)) + 1):
            row = raw.rows[number - 1]
            row.extend([EMPTY] * (merge.right + 1 - len(row)))
            for at in range(merge.left, merge.right + 1):
                if (number, at) != (merge.top, merge.left):
                    row[at] = copy
                    fault = raw.faults.get((merge.top, merge.left))
                    if fault:
                        raw.faults[number, at] = fault
        places.append(f"{letters(merge.left)}{merge.top} to {letters(merge.right)}{merge.bottom}")
    if places:
        more = f" and {len(places) - _SHOWN} more" if len(places) > _SHOWN else ""
        why = f"Merged cells were filled with what stands in the first of them: {', '.join(places[:_SHOWN])}{more}."
        remarks.note("merged", why)
