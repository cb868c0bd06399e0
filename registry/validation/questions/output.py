"""Questions for the eye, as CSV and as JSON. People's own wording is shown to the eye alone, and leaves in no file."""

from __future__ import annotations

import csv
import io
import json
import textwrap
from collections.abc import Sequence

from registry.schema.plurals import counted
from registry.validation.questions.listing import ListedQuestion

COLUMNS = (
    "id", "site", "study_number", "on", "rule", "sentence", "owner", "state", "asked_on", "age_days", "answered_by",
    "table", "row", "field",
)  # fmt: skip


def as_text(questions: Sequence[ListedQuestion]) -> str:
    """The list for the eye: a line that says which case and whose turn it is, and the sentence under it."""
    if not questions:
        return "No questions.\n"
    lines = []
    for each in questions:
        case = " ".join(filter(None, (each.site, each.study_number, str(each.on or "")))) or "no case"
        days = counted(each.age_days, "day")
        owner = f"asked of {each.owner}" if each.owner else "asked of nobody yet"
        lines.append(f"{each.id}  {case}  {each.rule}  {owner}, {days}, {each.state.label.lower()}")
        said = [each.sentence or each.own_wording or "(the wording cannot be read any more)"]
        said += [f"{each.state.label} ({each.answered_by}): {each.answer}"] if each.answer else []
        lines += [textwrap.indent(textwrap.fill(text, 94), "    ") for text in said]
    return "\n".join([*lines, counted(len(questions), "question")]) + "\n"


def as_csv(questions: Sequence[ListedQuestion]) -> str:
    """The list as comma-separated values with a heading row, without people's own wording."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for each in questions:
        writer.writerow("" if getattr(each, name) is None else getattr(each, name) for name in COLUMNS)
    return out.getvalue()


def as_json(questions: Sequence[ListedQuestion]) -> str:
    """The list as JSON, without people's own wording."""
    body = {"questions": [{name: getattr(each, name) for name in COLUMNS} for each in questions]}
    return json.dumps(body, default=str, ensure_ascii=False, indent=1) + "\n"
