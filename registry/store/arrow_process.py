"""Run as a program: reads queries from standard input, one a line, and answers each with an Arrow stream.

It imports nothing of ours, and is given the SQLite file. All queries are answered from one transaction.
"""

from __future__ import annotations

import json
import sys


def answer(file: str) -> None:
    """Answer queries until standard input ends."""
    import adbc_driver_sqlite.dbapi as sqlite
    import pyarrow as pa

    from urllib.parse import quote  # isort: skip

    connection = sqlite.connect(f"file:{quote(file)}?mode=ro")
    try:
        for line in sys.stdin:
            with connection.cursor() as cursor:
                cursor.adbc_statement.set_options(**{"adbc.sqlite.query.batch_rows": "65536"})
                cursor.execute(json.loads(line))
                reader = cursor.fetch_record_batch()
                with pa.ipc.new_stream(sys.stdout.buffer, reader.schema) as stream:
                    for batch in reader:
                        stream.write_batch(batch)
                sys.stdout.buffer.flush()
    finally:
        connection.close()


if __name__ == "__main__":
    answer(sys.argv[1])
