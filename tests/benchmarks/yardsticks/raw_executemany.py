"""Yardstick: the rows of a registry into empty tables by the standard library alone.

One transaction, foreign keys off, indexes last. The rows are in memory before the clock starts; nothing is encrypted
or entered in a history, and nothing checked but what the tables' own constraints say.

    python raw_executemany.py REGISTRY_FILE
"""

import json
import sqlite3
import sys
import tempfile
import time
from pathlib import Path

NOT_ROWS = ("change_history", "sqlite_sequence", "alembic_version")


def main() -> None:
    source = sqlite3.connect(sys.argv[1])
    made = source.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL").fetchall()
    tables = [name for kind, name, _ in made if kind == "table" and name not in NOT_ROWS]
    rows = {name: source.execute(f'SELECT * FROM "{name}"').fetchall() for name in tables}
    with tempfile.TemporaryDirectory(dir=Path(sys.argv[1]).parent) as folder:
        target = sqlite3.connect(Path(folder) / "raw.db", isolation_level=None)
        target.execute("PRAGMA foreign_keys = OFF")
        # With the usual 2 MB it spends three quarters of its time in writing pages out and reading them back.
        target.execute("PRAGMA cache_size = -262144")
        for kind, name, sql in made:
            if kind == "table" and name in tables:
                target.execute(sql)
        started = time.perf_counter()
        target.execute("BEGIN")
        for name, held in rows.items():
            if held:
                target.executemany(f'INSERT INTO "{name}" VALUES ({", ".join("?" * len(held[0]))})', held)
        for kind, _, sql in made:
            if kind == "index":
                target.execute(sql)
        target.execute("COMMIT")
        seconds = time.perf_counter() - started
        target.close()
    print(json.dumps({"seconds": seconds, "rows": sum(map(len, rows.values()))}))


if __name__ == "__main__":
    main()
