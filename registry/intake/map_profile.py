"""What stands in one column of a log: how many cells, in which shapes, and which marks look like missing values."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from registry.intake.log_cells import LogCell, LogSheet
from registry.intake.map_words import Heading

# Marks that people use where a value is not known. They are suggested and never set: only a person can say.
MARKS = frozenset(
    (
        "?",
        "??",
        "???",
        "n/a",
        "na",
        "n.a.",
        "n.a",
        "nk",
        "n.k.",
        "n/k",
        "unknown",
        "unk",
        "-",
        "--",
        "---",
        "–",
        "—",
        ".",
        "tbc",
        "nd",
        "missing",
        "#n/a",
    )
) | {
    "not known",
    "not available",
}
FILLERS = frozenset({"99", "999", "9999", "99999", "-1", "-9", "-99", "-999"})
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")


@dataclass
class Profile:
    """One column.

    Attributes:
        letter: its letter.
        heading: its heading in parts.
        cells: every cell, in order of the rows.
        rows: the numbers of the rows.
        filled: the places of the cells that hold something other than a mark of a missing value.
        marks: the marks that look like missing values, with their number.
    """

    letter: str
    heading: Heading
    cells: list[LogCell]
    rows: list[int]
    filled: list[int] = field(default_factory=list)
    marks: Counter[str] = field(default_factory=Counter)

    @property
    def texts(self) -> list[str]:
        """The filled cells as a person sees them, without outer blanks."""
        return [self.cells[at].text.strip() for at in self.filled]

    def places(self, at: list[int], most: int = 3) -> str:
        """Addresses of some cells, for a person to look at."""
        shown = ", ".join(f"{self.letter}{self.rows[n]}" for n in at[:most])
        return f"{shown} and {len(at) - most} more" if len(at) > most else shown


def profile(sheet: LogSheet, number: int, heading: Heading) -> Profile:
    """Look through one column of a sheet.

    Args:
        sheet: the sheet that was read.
        number: the column, from 0.
        heading: its heading in parts.
    """
    made = Profile(sheet.columns[number], heading, [row[number] for row in sheet.rows], sheet.numbers)
    fillers: dict[str, list[int]] = {}
    for at, cell in enumerate(made.cells):
        text = cell.text.strip()
        if not text:
            continue
        if text.casefold() in MARKS:
            made.marks[text] += 1
        elif text in FILLERS:
            fillers.setdefault(text, []).append(at)
        else:
            made.filled.append(at)
    numbers = [abs(float(t.replace(",", "."))) for t in made.texts if _NUMBER.fullmatch(t)]
    for text, places in fillers.items():
        apart = numbers and (text.startswith("-") or max(numbers) * 1.5 < abs(float(text)))
        if apart and len(numbers) > len(places):
            made.marks[text] += len(places)
        else:
            made.filled.extend(places)
    made.filled.sort()
    return made


def shape(text: str) -> str:
    """A wording without its content: 7 digits, 2 letters and 5 digits, 3 words."""
    if re.fullmatch(r"\d+", text):
        return f"{len(text)} digits" if len(text) > 1 else "one digit"
    if found := re.fullmatch(r"([A-Za-z]+)[ -]?(\d+)", text):
        return f"letters and {len(found.group(2))} digits"
    if _NUMBER.fullmatch(text):
        return "numbers"
    words = len(text.split())
    return "one word" if words == 1 else f"{words} words" if words < 4 else "sentences"


def shapes_in_words(made: Profile, kinds: int = 2) -> str:
    """The commonest shapes of a column, without repeating a value."""
    if not made.filled:
        return "no cell is filled"
    values = [made.cells[at].value for at in made.filled]
    if all(isinstance(v, datetime | date) for v in values):
        return f"all {len(values)} cells are date cells"
    if all(isinstance(v, time | timedelta) for v in values):
        return f"all {len(values)} cells are times"
    counted = Counter(shape(text) for text in made.texts).most_common(kinds)
    return f"{len(values)} filled cells: " + ", ".join(f"{count} are {name}" for name, count in counted)


def counts_rows(made: Profile) -> bool:
    """The column only counts the rows: 1, 2, 3 …"""
    texts = made.texts
    return len(texts) > 2 and [t.removesuffix(".0") for t in texts] == [str(n) for n in range(1, len(texts) + 1)]
