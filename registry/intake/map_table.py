"""The proposal for the eye and for a program."""

from __future__ import annotations

import json
from typing import Any

from registry.intake.map_proposal import Proposal
from registry.intake.map_whole import WholeProposal
from registry.validation.findings import shortened

_HEADINGS = ("column", "heading", "proposal", "sureness", "why")
_LONGEST_HEADING, _LONGEST_PROPOSAL = 32, 60


def as_table(whole: WholeProposal) -> str:
    """The proposal as a table, one line a column, and what is left to do."""
    rows = [_HEADINGS, *(_row(p) for p in whole.columns)]
    widths = [max(len(row[n]) for row in rows) for n in range(4)]
    lines = ["  ".join([*(c.ljust(w) for c, w in zip(row[:4], widths, strict=True)), row[4]]).rstrip() for row in rows]
    proposed = sum(p.proposed for p in whole.columns)
    lines.append(
        f"{proposed} of {len(whole.columns)} columns are proposed, {len(whole.columns) - proposed} left to you."
    )
    if whole.marks:
        marks = ", ".join(f"{mark} ({count})" for mark, count in whole.marks.most_common())
        lines.append(f"Marks that look like missing values, for you to declare: {marks}.")
    for target, words in whole.wanting.items():
        lines.append(f"No column surely says {words} ({target}).")
    for target, value, why in whole.taken:
        lines.append(f"Taken to be {value} in every row: {target}, because {why}. Change it if it is not so.")
    for target, value in whole.constants:
        lines.append(f"No column says {target}; decide whether it is {value} in every row.")
    return "\n".join(lines) + "\n"


def _row(proposal: Proposal) -> tuple[str, ...]:
    to = proposal.to if proposal.sureness >= _SHOWN else ()
    named = "status" if "status" in proposal.settings else " + ".join(to) or "-"
    why = "; ".join(dict.fromkeys([*proposal.reasons, *(f"but {d}" for d in proposal.doubts)]))
    mark = "" if proposal.proposed or named == "-" else "? "
    return (
        proposal.made.letter,
        shortened(proposal.made.heading.text, _LONGEST_HEADING),
        shortened(mark + named, _LONGEST_PROPOSAL),
        f"{proposal.words} {proposal.sureness:.2f}",
        why,
    )


_SHOWN = 0.25


def as_json(whole: WholeProposal) -> str:
    """The proposal for a program."""
    body = {
        "file": whole.file,
        "sheet": whole.sheet,
        "rows": whole.rows,
        "columns": [_column(p) for p in whole.columns],
        "marks_of_missing_values": dict(whole.marks),
        "not_found": whole.wanting,
        "taken": [{"to": target, "value": value, "because": why} for target, value, why in whole.taken],
        "to_decide": [{"to": target, "value": value} for target, value in whole.constants],
    }
    return json.dumps(body, ensure_ascii=False, indent=1) + "\n"


def _column(p: Proposal) -> dict[str, Any]:
    return {
        "column": p.made.letter,
        "heading": p.made.heading.text,
        "filled": len(p.made.filled),
        "proposed": p.proposed,
        "to": list(p.to),
        "sureness": round(p.sureness, 2),
        "reasons": p.reasons,
        "doubts": p.doubts,
        "others": p.others,
        "settings": p.settings,
        "side": p.family.side,
        "group": p.family.group,
        "constants": p.family.constants,
    }
