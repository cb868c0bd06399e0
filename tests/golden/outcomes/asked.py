"""Asks the command line about a registry of worked cases, each question once."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from tests.command_line import gravelbook


@dataclass(frozen=True)
class Unit:
    """A loaded registry with the study numbers of its cases."""

    location: Path
    people: tuple[tuple[str, str], ...]
    as_of: str = "2025-12-31"

    def number(self, name: str) -> str:
        return dict(self.people)[name]

    def answer(self, *words: str) -> tuple[dict[str, Any], list[dict[str, str]]]:
        """The JSON and the list of cases of a command that has both."""
        return _answered(self, words)

    def lines(self, name: str, *words: str) -> list[dict[str, str]]:
        """The list of cases, of one person."""
        return [line for line in self.answer(*words)[1] if line["study_number"] == self.number(name)]


@cache
def _answered(unit: Unit, words: tuple[str, ...]) -> tuple[dict[str, Any], list[dict[str, str]]]:
    target = unit.location.parent / "cases.csv"
    target.unlink(missing_ok=True)
    told = gravelbook(
        *(*words, "--registry", str(unit.location), "--format", "json", "--cases", str(target)),
        *("--as-of", unit.as_of),
    )
    assert told.status == 0, told.err
    return json.loads(told.out), list(csv.DictReader(io.StringIO(target.read_text(encoding="utf-8"))))
