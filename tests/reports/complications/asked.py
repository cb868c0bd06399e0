"""Asking about complications, of rows frozen without a database and through the command."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

from analysis.reports.complications.answering import Answer, answer_asked
from analysis.reports.complications.command import complications
from analysis.reports.request.source import ask_snapshot_cohort
from analysis.reports.sections.render_json import as_json
from tests.cohort.rows import Rows

Found = dict[tuple[Any, ...], dict[str, Any]]


def answer(rows: Rows, folder: Path, **typed: str) -> Answer:
    """The answer for these rows."""
    return answer_asked(ask_snapshot_cohort(rows.snapshot_of(folder)), typed)


def found(rows: Rows, folder: Path, section: str, *keys: str, **typed: str) -> Found:
    """The rows of one section by the values of some of their keys."""
    return keyed(json.loads(as_json(answer(rows, folder, **typed).report))["rows"], section, *keys)


def keyed(rows: list[dict[str, Any]], section: str, *keys: str) -> Found:
    own = [row for row in rows if row["section"] == section]
    made = {(*row["group"].values(), *(row[key] for key in keys)): row for row in own}
    assert len(made) == len(own), "the keys do not tell the rows apart"
    return made


def run(*arguments: str) -> Result:
    """The command; a GravelbookError stands in `exception`."""
    return CliRunner().invoke(complications, list(arguments))
