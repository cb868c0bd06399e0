"""Fresh PostgreSQL databases for tests, on the server that GRAVELBOOK_TEST_POSTGRES names or the local one."""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import create_engine, make_url
from sqlalchemy.exc import OperationalError
from sqlalchemy.pool import NullPool

SERVER = os.environ.get("GRAVELBOOK_TEST_POSTGRES", "postgresql+psycopg://postgres@127.0.0.1:5432/postgres")
# In CI a missing server is a failure, never a silent skip.
REQUIRED = os.environ.get("GRAVELBOOK_TEST_POSTGRES_REQUIRED") == "1"


def missing_server() -> str | None:
    """Why there is no server to test on, or None."""
    engine = create_engine(SERVER, poolclass=NullPool, connect_args={"connect_timeout": 3})
    try:
        with engine.connect():
            return None
    except OperationalError:
        return f"no PostgreSQL server at {make_url(SERVER).render_as_string(hide_password=True)}"


def run_on_server(statement: str) -> None:
    """Run one statement outside any transaction."""
    engine = create_engine(SERVER, poolclass=NullPool, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql(statement)


@contextmanager
def fresh_database(template: str = "template1") -> Iterator[str]:
    """The URL of a database of its own, dropped afterwards."""
    name = f"gravelbook_test_{uuid.uuid4().hex[:12]}"
    run_on_server(f'CREATE DATABASE {name} TEMPLATE "{template}"')
    try:
        yield make_url(SERVER).set(database=name).render_as_string(hide_password=False)
    finally:
        run_on_server(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
