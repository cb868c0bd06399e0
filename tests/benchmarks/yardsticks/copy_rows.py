"""Yardstick: the rows of a registry into the tables of an empty PostgreSQL registry by COPY alone.

One transaction; constraints, foreign keys and indexes as they stand. The rows are in memory before the clock starts;
nothing is encrypted, entered in a history or checked but by the tables' own constraints.

    python copy_rows.py REGISTRY_FILE CONNECTION
"""

import json
import sqlite3
import sys
import time

import psycopg

NOT_ROWS = ("change_history", "sqlite_sequence", "alembic_version")


def main() -> None:
    source = sqlite3.connect(sys.argv[1])
    names = [name for (name,) in source.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    leads_to = {
        name: {row[2] for row in source.execute(f'PRAGMA foreign_key_list("{name}")')} - {name}
        for name in names
        if name not in NOT_ROWS
    }
    order: list[str] = []
    while leads_to:  # parents first
        free = [name for name, parents in leads_to.items() if not parents - set(order)]
        order += free
        for name in free:
            del leads_to[name]
    rows = {}
    for name in order:
        found = source.execute(f'SELECT * FROM "{name}" ORDER BY id')
        rows[name] = [column[0] for column in found.description], found.fetchall()
    count = 0
    with psycopg.connect(sys.argv[2]) as target:
        started = time.perf_counter()
        with target.cursor() as cursor:
            for name, (columns, held) in rows.items():
                if not held:
                    continue
                listed = ", ".join(f'"{column}"' for column in columns)
                with cursor.copy(f'COPY "{name}" ({listed}) FROM STDIN') as copying:
                    for row in held:
                        copying.write_row(row)
                count += len(held)
        target.commit()
        seconds = time.perf_counter() - started
    print(json.dumps({"seconds": seconds, "rows": count}))


if __name__ == "__main__":
    main()
