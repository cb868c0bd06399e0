"""Makes a log in a unit's style, with mess and planted errors, and writes it with mapping and truth beside it."""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from registry.schema.errors import GravelbookError
from synthetic_cohort.frames import cohort
from synthetic_cohort.logs.cases import cases
from synthetic_cohort.logs.grid import Page, State
from synthetic_cohort.logs.mess import Mess, in_cells, in_lines
from synthetic_cohort.logs.planting import Planted, plant
from synthetic_cohort.logs.style import Style
from synthetic_cohort.logs.style_diary import DIARY
from synthetic_cohort.logs.style_export import EXPORT
from synthetic_cohort.logs.style_grouped import GROUPED
from synthetic_cohort.logs.style_semicolon import SEMICOLON
from synthetic_cohort.logs.style_tabs import TABS
from synthetic_cohort.logs.style_yearly import YEARLY
from synthetic_cohort.logs.text_pages import text_bytes
from synthetic_cohort.logs.truth_of_log import Truth, truth_of
from synthetic_cohort.logs.xlsx_pages import workbook_bytes
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.records import records

STYLES: dict[str, Style] = {style.name: style for style in (SEMICOLON, GROUPED, TABS, YEARLY, DIARY, EXPORT)}
"""The six ways of keeping a log."""

MESSES = {"none": Mess.none, "usual": Mess.usual, "heavy": Mess.heavy}
"""How messy a log can be, by name."""


@dataclass(frozen=True)
class Log:
    """A log that was made.

    Attributes:
        style: how it is kept.
        pages: its pages, hidden ones included.
        truth: what it truly says.
        planted: the errors in it.
        bom: its text files begin with a mark.
    """

    style: Style
    pages: list[Page]
    truth: Truth
    planted: list[Planted]
    bom: bool

    def contents(self) -> dict[str, bytes]:
        """The files of the log, by name."""
        of: dict[str, list[Page]] = {}
        for page in self.pages:
            of.setdefault(page.file, []).append(page)
        return {name: self._bytes(pages) for name, pages in of.items()}

    def _bytes(self, pages: Sequence[Page]) -> bytes:
        if self.style.workbook:
            return workbook_bytes(pages)
        bom = self.bom and self.style.encoding == "utf-8"
        return text_bytes(pages[0], delimiter=self.style.delimiter, encoding=self.style.encoding, bom=bom)

    def mapping(self) -> bytes:
        """The hand-written mapping of the style."""
        return files("synthetic_cohort.logs").joinpath(f"{self.style.name}.toml").read_bytes()

    def report(self) -> str:
        """What the log holds, in two lines."""
        states = Counter(of.state for of in self.truth.values)
        lines = sum(len(page.data) for page in self.pages if not page.hidden)
        return (
            f"{self.style.about}\n{lines} lines, {len(self.truth.values)} registry values: "
            f"{states[State.RECOVERABLE]} can be recovered, {states[State.LOST]} are lost in the mess, "
            f"{states[State.PLANTED]} stand in lines that {len(self.planted)} planted errors speak of."
        )

    def write(self, folder: Path) -> list[Path]:
        """Write the files, the mapping, the truth and the list of planted errors; the log's own files are given back.

        Raises:
            GravelbookError: a file cannot be written.
        """
        written = self.contents()
        beside = {
            "mapping.toml": self.mapping(),
            "truth.json": as_json(self.truth.as_plain()),
            "planted.json": as_json([of.as_plain(self.pages) for of in self.planted]),
        }
        try:
            folder.mkdir(parents=True, exist_ok=True)
            for name, content in (written | beside).items():
                (folder / name).write_bytes(content)
        except OSError as problem:
            raise GravelbookError(
                f"The log cannot be written to {folder}: {problem.strerror}. Choose another folder."
            ) from problem
        return [folder / name for name in written]


def as_json(body: Any) -> bytes:
    """A body as JSON, for people as well."""
    return (json.dumps(body, ensure_ascii=False, indent=1) + "\n").encode()


def make_log(name: str, operations: int, seed: int, *, mess: Mess | None = None, errors: int = 0) -> Log:
    """Make a log of invented patients; the same arguments give the same bytes.

    Args:
        name: the style.
        operations: how many stone operations and drainages.
        seed: the same seed gives the same log.
        mess: how messy it is; by default as logs usually are.
        errors: how many errors are planted.

    Raises:
        GravelbookError: there is no such style, or a cohort of that size cannot be drawn.
    """
    style = STYLES.get(name)
    if style is None:
        raise GravelbookError(f"There is no log style '{name}'. Choose one of: {', '.join(STYLES)}.")
    rows = records(cohort(Parameters(), operations, seed), other_units=False)
    mess = Mess.usual() if mess is None else mess
    pages = style.pages(cases(rows, drainage=style.drainage))
    # Each layer draws from its own source, so that more mess does not move the planted errors.
    planted = plant(style, pages, errors, random.Random(f"{seed} errors"))
    in_cells(style, pages, mess, random.Random(f"{seed} cells"))
    in_lines(style, pages, mess, random.Random(f"{seed} lines"))
    return Log(style, pages, truth_of(pages), planted, bool(mess.bom))
