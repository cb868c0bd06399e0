"""Registries of invented patients to measure on, made once and kept in a temporary folder for later runs.

A registry of up to 10,000 operations comes from one workbook through the intake. A larger one is such a unit and
further copies of its patients, each written through the write door with keys and study numbers of their own: reading
a workbook of three million rows would take longer than everything that is measured.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

UNIT = 10_000
ROOT = Path(__file__).parents[2]


def work_folder() -> Path:
    """Where registries are kept between runs: GRAVELBOOK_BENCHMARKS, else this account's in the temporary folder."""
    told = os.environ.get("GRAVELBOOK_BENCHMARKS")
    folder = Path(told) if told else Path(tempfile.gettempdir()) / f"gravelbook-benchmarks-{os.getuid()}"
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder


def workbook_of(operations: int, folder: Path) -> Path:
    """A filled intake workbook of so many operations."""
    path = folder / f"workbook-{operations}-{_version()}.xlsx"
    if not path.is_file():
        _say(f"inventing {operations:,} operations")
        _made_apart("workbook", operations, path)
    return path


def registry_of(operations: int, folder: Path, *, unit: int = UNIT) -> Path:
    """The file of a registry that holds so many operations; beyond a unit's size, in whole units."""
    if operations <= unit:
        return loaded_registry(operations, folder)
    first = loaded_registry(unit, folder)
    kept = folder / f"copied-{operations}-{_version()}"
    if not kept.is_dir():
        _say(f"making a registry of {operations:,} operations, once; this takes some minutes")
        _made_apart("copied", operations // unit, kept, first)
    return kept / first.name


def loaded_registry(operations: int, folder: Path) -> Path:
    """The same, every row of it through the intake."""
    workbook = workbook_of(operations, folder)
    kept = folder / f"loaded-{operations}-{_version()}"
    if not kept.is_dir():
        _say(f"loading {workbook.name}")
        _made_apart("loaded", operations, kept, workbook)
    return kept / "gravelbook.db"


def _made_apart(what: str, number: int, target: Path, *source: Path) -> None:
    """Make it in a process of its own, so that this one stays small, and give it its name when it is whole."""
    with tempfile.TemporaryDirectory(dir=target.parent) as made:
        part = Path(made) / "part"
        command = [
            sys.executable,
            "-m",
            "tests.benchmarks.registries",
            what,
            str(number),
            str(part),
            *map(str, source),
        ]
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        subprocess.run(command, check=True, cwd=ROOT, env=environment, stdout=sys.stderr)
        part.rename(target)


def _make_workbook(operations: int, path: Path) -> None:
    from synthetic_cohort.frames import cohort
    from synthetic_cohort.parameters import Parameters
    from synthetic_cohort.records import records
    from synthetic_cohort.workbook import write_workbook

    write_workbook(records(cohort(Parameters(), operations, seed=1)), path)


def _load(workbook: Path, file: Path) -> None:
    from registry.intake.load import load_file
    from registry.store.registry import create_registry

    with create_registry(str(file)) as registry:
        loaded = load_file(registry, workbook, by="benchmark")
    if loaded.batch_id is None:
        raise RuntimeError(f"{workbook} was not loaded: {loaded.findings[:3]}")


def _copied(unit: Path, file: Path, times: int) -> None:
    from registry.store.registry import open_registry

    for name in (unit.name, f"{unit.name}.key"):
        shutil.copyfile(unit.with_name(name), file.with_name(name))
    with open_registry(str(file)) as registry:
        rows = _patients_rows(registry)
        for copy in range(1, times):
            _say(f"  {copy + 1} of {times}")
            with registry.writing(by="benchmark") as door:
                shifts = {name: door.next_ids(name, len(of)) - 1 for name, of in rows.items()}
                tables = {name: _shifted(name, of, shifts, copy) for name, of in rows.items()}
                door.load_batch(file_hash=hashlib.sha256(b"%d" % copy).hexdigest(), file_name=None, tables=tables)


def _patients_rows(registry: Any) -> dict[str, list[dict[str, Any]]]:
    """All rows that belong to a patient, as the door takes them; what is encrypted is left out."""
    from sqlalchemy import select

    from registry.schema.fields import info_of
    from registry.schema.tables import analysed_tables, patient_path
    from registry.store.values import writable

    rows = {}
    with registry.reading() as connection:
        for table in analysed_tables():
            if patient_path(table.name) is None:
                continue
            names = ["id", *(name for name in writable(table) if not info_of(table.c[name]).encrypted)]
            found = connection.execute(select(*(table.c[name] for name in names)).order_by(table.c.id)).all()
            if found:
                # The keys of one batch follow each other, so that a shift gives those of the next.
                assert [row.id for row in found] == list(range(1, len(found) + 1)), table.name
                rows[table.name] = [
                    {name: value for name, value in zip(names, row, strict=True) if value is not None} for row in found
                ]
    return rows


def _shifted(name: str, rows: list[dict[str, Any]], shifts: dict[str, int], copy: int) -> list[dict[str, Any]]:
    from registry.schema.fields import Reference, info_of
    from registry.schema.tables import metadata

    by = {"id": shifts[name]}
    for column in metadata.tables[name].columns:
        kind = info_of(column).kind
        if isinstance(kind, Reference) and kind.table in shifts:
            by[column.name] = shifts[kind.table]
    made = [{key: value + by[key] if key in by else value for key, value in row.items()} for row in rows]
    if name == "patient":
        for row in made:
            row["study_number"] = f"C{copy}-{row['study_number']}"
    return made


def _version() -> str:
    """A name for all that decides what a registry holds: who invents it, its shape, and this file."""
    sources = sorted([*ROOT.glob("synthetic_cohort/*.py"), *ROOT.glob("migrations/versions/*.py"), Path(__file__)])
    sealed = hashlib.sha256()
    for source in sources:
        sealed.update(source.read_bytes())
    return sealed.hexdigest()[:12]


def _say(what: str) -> None:
    print(f"  ({what})", file=sys.stderr, flush=True)


def main() -> None:
    """Make one: workbook, loaded or copied; how many operations, or units; its place; what it is made from."""
    what, number, place, *source = sys.argv[1:]
    target = Path(place)
    if what == "workbook":
        _make_workbook(int(number), target)
        return
    target.mkdir()
    if what == "loaded":
        _load(Path(source[0]), target / "gravelbook.db")
    else:
        _copied(Path(source[0]), target / "gravelbook.db", int(number))


if __name__ == "__main__":
    main()
