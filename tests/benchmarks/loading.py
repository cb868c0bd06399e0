"""Loading a workbook and writing through the door against raw inserts, and the proof of a registry in rows a second."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from statistics import median

from tests.benchmarks.pairs import Measured, Run, in_turn, measure, ours, yardstick
from tests.benchmarks.registries import UNIT, loaded_registry, registry_of, workbook_of
from tests.benchmarks.results import Line
from tests.postgres import fresh_database, missing_server

DOOR, DOOR_POSTGRESQL = 2.5, 1.3


def loading(folder: Path, *, operations: int = 100_000, unit: int = UNIT, pairs: int = 5) -> list[Line]:
    """A workbook of a unit's size, from its cells to the last commit; through the door alone, so many operations.

    Making a workbook of a hundred thousand operations would take longer than all that is measured here.
    """
    book = min(operations, unit)
    workbook, small = workbook_of(book, folder), loaded_registry(book, folder)
    file = registry_of(operations, folder, unit=unit)
    found = in_turn(
        {
            "its yardstick": lambda: measure(yardstick("raw_executemany", small)),
            "intake": lambda: measure(ours("loading", "intake", workbook)),
            "yardstick": lambda: measure(yardstick("raw_executemany", file)),
            "door": lambda: measure(ours("loading", "door", file)),
            "verify": lambda: measure(ours("loading", "verify", file)),
        },
        pairs,
    )
    named = f"{operations:,} operations"
    lines = [
        Line(
            f"load, {book:,} operations: workbook",
            found["intake"],
            found["its yardstick"],
            note=_speed(found["intake"]),
        ),
        Line(f"load, {named}: write door alone", found["door"], found["yardstick"], DOOR, note=_speed(found["door"])),
        Line(f"store verify, {named}", found["verify"], found["yardstick"], note=_speed(found["verify"])),
    ]
    return lines if missing_server() else [*lines, _postgresql(file, named, pairs)]


def _postgresql(file: Path, named: str, pairs: int) -> Line:
    from sqlalchemy import make_url

    def into(command: str) -> Run:
        def run() -> Measured:
            with ExitStack() as kept:
                url = kept.enter_context(fresh_database())
                if command == "door":
                    return measure(ours("loading", "door", file, url))
                _made(url, file.parent)
                plain = make_url(url).set(drivername="postgresql").render_as_string(hide_password=False)
                return measure(yardstick("copy_rows", file, plain))

        return run

    found = in_turn({"copy": into("copy"), "door": into("door")}, pairs)
    note = _speed(found["door"])
    return Line(
        f"load, {named}: write door, PostgreSQL", found["door"], found["copy"], DOOR_POSTGRESQL, note=f"{note}; COPY"
    )


def _made(url: str, folder: Path) -> None:
    """An empty registry in a database of its own, for the yardstick to fill."""
    measure(ours("empty_registry", url, folder))


def _speed(runs: list[Measured]) -> str:
    return f"{median(run.told['rows'] / run.seconds for run in runs):,.0f} rows/s"
