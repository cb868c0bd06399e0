"""What is due, for the eye, as CSV and as JSON. Cases are named by study number alone."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from collections.abc import Collection, Sequence
from dataclasses import asdict

from registry.schema.plurals import counted
from registry.validation.due.item import HEADINGS, DueItem, Way, What

LATE_SHOWN = 15
"""So many of each kind that is past its time are shown to the eye: years of them would hide the rest."""

COLUMNS = (
    "what", "site", "study_number", "about", "since", "due_on", "overdue_days", "way", "todo", "note", "table", "row",
)  # fmt: skip


def as_text(items: Sequence[DueItem], on: dt.date, what: Collection[What] = tuple(What)) -> str:
    """The list for the eye, a section a kind; what must be settled without a call stands apart at the section's end."""
    lines = [f"Due on {on}"]
    for kind in (kind for kind in What if kind in what):
        mine = [item for item in items if item.what is kind]
        lines += ["", f"{HEADINGS[kind]}: {len(mine) or 'none'}"]
        told = _told([item for item in mine if item.way is not Way.RECORD])
        lines += _table(told)
        apart = [item for item in mine if item.way is Way.RECORD]
        if apart:
            lines += ["  Not to be contacted: settle these from the record.", *_table(_told(apart))]
        left_out = len(mine) - len(told) - len(_told(apart))
        if left_out:
            lines.append(
                f"  and {left_out} more that are past the time in which they would count (--format csv has all)"
            )
    return "\n".join(lines) + "\n"


def _told(items: Sequence[DueItem]) -> list[DueItem]:
    """All that can still be done in time; of what cannot, the latest."""
    late = sorted((item for item in items if item.late), key=lambda item: item.overdue_days)[:LATE_SHOWN]
    return [item for item in items if not item.late or item in late]


def as_csv(items: Sequence[DueItem]) -> str:
    """The list as comma-separated values with a heading row."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows([getattr(item, name) for name in COLUMNS] for item in items)
    return out.getvalue()


def as_json(items: Sequence[DueItem], on: dt.date, what: Collection[What] = tuple(What)) -> str:
    """The list as JSON: the day, counts of the kinds that were asked for, then every item."""
    counts = {kind.value: sum(item.what is kind for item in items) for kind in What if kind in what}
    listed = [{name: asdict(item)[name] for name in COLUMNS} for item in items]
    return json.dumps({"on": on, "counts": counts, "items": listed}, default=str, ensure_ascii=False, indent=1) + "\n"


def _table(items: Sequence[DueItem]) -> list[str]:
    rows = [
        (
            item.study_number or "-",
            item.site,
            _timing(item.overdue_days),
            f"due {item.due_on}",
            item.about,
            "; ".join(filter(None, (item.todo, item.note))),
        )
        for item in items
    ]
    widths = [max((len(row[n]) for row in rows), default=0) for n in range(5)]
    return [
        "  " + "  ".join([*(cell.ljust(width) for cell, width in zip(row, widths, strict=False)), row[5]])
        for row in rows
    ]


def _timing(days: int) -> str:
    if days == 0:
        return "today"
    number = counted(abs(days), "day")
    return f"{number} overdue" if days > 0 else f"in {number}"
