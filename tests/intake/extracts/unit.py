"""A unit that loads extracts: files of a few rows, by the example mappings that stand beside these tests."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sqlalchemy import select

from registry.intake.load import Loaded, load_file
from registry.intake.source import Source
from registry.intake.waiting import held_waiting
from registry.intake.waiting_again import TriedAgain, try_again
from registry.schema.tables import metadata
from registry.store.registry import Registry
from tests.intake.logs.mapping.logs import HEAD, HEADINGS, errors, write_mapping, write_rows
from tests.validation.small_registry import SmallRegistry

MAPPINGS = Path(__file__).with_name("mappings")


class Unit(SmallRegistry):
    """A registry, and files for it."""

    def __init__(self, registry: Registry, folder: Path) -> None:
        super().__init__(registry)
        self.folder = folder
        self.files = 0

    def source(self, kind: str, *rows: list[Any]) -> Source:
        """A file of some rows, the first of them the headings, with the example mapping of a kind."""
        self.files += 1
        return Source((write_rows(self.folder / f"{kind}{self.files}.csv", rows),), MAPPINGS / f"{kind}.toml")

    def load(self, kind: str, *rows: list[Any]) -> Loaded:
        """Such a file, loaded without errors; what waits is tried again after it, as the command does."""
        return self.load_source(self.source(kind, *rows))

    def load_source(self, source: Source) -> Loaded:
        done = load_file(self.registry, source, by="clerk")
        assert errors(done.findings) == [], done.findings
        return done

    def load_log(self, *cases: list[str]) -> Loaded:
        """A log of operations: hospital number, date and side."""
        self.files += 1
        rows = write_rows(self.folder / f"log{self.files}.csv", [HEADINGS, *cases])
        return self.load_source(Source((rows,), write_mapping(self.folder, HEAD)))

    def again(self) -> TriedAgain:
        return try_again(self.registry, by="clerk")

    def whys(self) -> list[str]:
        """Why the rows wait that do."""
        return [held.why for held in held_waiting(self.registry)]

    def rows(self, table: str) -> list[dict[str, Any]]:
        """The rows of a table, oldest first."""
        found = metadata.tables[table]
        with self.registry.reading() as connection:
            return [dict(row) for row in connection.execute(select(found).order_by(found.c.id)).mappings()]

    def only(self, table: str) -> dict[str, Any]:
        """The one row of a table."""
        (row,) = self.rows(table)
        return row

    def head(self) -> tuple[int, str]:
        """Length and hash of the change history: equal before and after means that nothing was written."""
        return self.registry.head()
