"""Loading a registry: ``python -m tests.benchmarks.measured.loading intake|door|verify FILE [DATABASE]``.

intake: a workbook into an empty registry. door: all rows of a registry, read into memory first, through the write
door into an empty one. verify: the proof of a registry. The empty registry is an SQLite file, or made in DATABASE.
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path
from typing import Any

from sqlalchemy import select

from registry.intake.load import load_file
from registry.schema.fields import info_of
from registry.schema.tables import ordered_tables
from registry.store.door import OWN_TABLES
from registry.store.registry import create_registry, open_registry
from registry.store.values import writable
from registry.store.verify import verify
from tests.benchmarks.measured.stopwatch import Stopwatch


def main() -> None:
    what, file = sys.argv[1], Path(sys.argv[2])
    with tempfile.TemporaryDirectory(dir=file.parent) as folder:
        if what == "verify":
            with open_registry(str(file)) as registry:
                watch = Stopwatch()
                proof = verify(registry)
                watch.say(rows=proof.rows)
            assert proof.holds, proof.summary
            return
        rows = _rows(file) if what == "door" else {}
        os.environ["GRAVELBOOK_KEY_FILE"] = str(Path(folder) / "key")
        with create_registry(sys.argv[3] if sys.argv[3:] else str(Path(folder) / "gravelbook.db")) as registry:
            watch = Stopwatch()
            if what == "intake":
                loaded = load_file(registry, file, by="benchmark")
                assert not loaded.errors, loaded.findings
                count = sum(loaded.new.values())
            else:
                with registry.writing(by="benchmark") as door:
                    door.load_batch(file_hash="0" * 64, file_name=None, tables=rows)
                count = sum(map(len, rows.values()))
            watch.say(rows=count)


def _rows(file: Path) -> dict[str, list[dict[str, Any]]]:
    """All rows in clear, as the door takes them."""
    found: dict[str, list[dict[str, Any]]] = {}
    with open_registry(str(file)) as registry, registry.reading() as connection:
        decrypt = registry.cipher(connection).decrypt
        for table in ordered_tables():
            if table.name in {*OWN_TABLES, "batch"}:
                continue
            names = ["id", *writable(table)]
            sealed = {name for name in names if info_of(table.c[name]).encrypted}
            for row in connection.execute(select(*(table.c[name] for name in names)).order_by(table.c.id)):
                clear = {
                    name: decrypt(value, table.name, name) if name in sealed else value
                    for name, value in zip(names, row, strict=True)
                    if value is not None
                }
                found.setdefault(table.name, []).append(clear)
    return found


if __name__ == "__main__":
    main()
