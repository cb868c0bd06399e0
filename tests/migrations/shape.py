"""The shape of a database, in words that two databases can be compared by."""

from __future__ import annotations

import re

from sqlalchemy import Connection

# Catalogue tables of the migrations themselves.
NOT_OURS = "alembic_version"


def tables(connection: Connection) -> list[str]:
    """The names of all tables."""
    if connection.dialect.name == "sqlite":
        text = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
    else:
        text = "SELECT tablename FROM pg_tables WHERE schemaname = 'public'"
    return sorted(name for name in connection.exec_driver_sql(text).scalars() if name != NOT_OURS)


def shape(connection: Connection) -> dict[str, list[str]]:
    """For each table: every column, constraint (with the text of each CHECK), index and option, one line each."""
    described = _sqlite if connection.dialect.name == "sqlite" else _postgresql
    return {name: sorted(described(connection, name)) for name in tables(connection)}


def triggers(connection: Connection) -> dict[str, str]:
    """Every trigger by name, with its text."""
    if connection.dialect.name == "sqlite":
        text = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
    else:
        text = (
            "SELECT t.tgname, pg_get_triggerdef(t.oid) || p.prosrc FROM pg_trigger t "
            "JOIN pg_proc p ON p.oid = t.tgfoid "
            "WHERE NOT t.tgisinternal"
        )
    return {name: " ".join(sql.split()) for name, sql in connection.exec_driver_sql(text).all()}


def _sqlite(connection: Connection, table: str) -> list[str]:
    rows = connection.exec_driver_sql("SELECT type, name, sql FROM sqlite_master WHERE tbl_name = ?", (table,)).all()
    lines: list[str] = []
    for kind, name, sql in rows:
        if kind == "table":
            body = sql[sql.index("(") + 1 : sql.rindex(")")]
            lines += [" ".join(line.split()).replace('"', "") for line in _split(body)]
            lines.append(sql[sql.rindex(")") + 1 :].strip())
        elif kind == "index" and sql:
            lines.append(" ".join(sql.split()))
        elif kind == "trigger":
            lines.append(f"trigger {name}")
    return lines


def _split(body: str) -> list[str]:
    """The parts of a table's definition between commas that stand in no bracket and no string."""
    parts, depth, quoted, start = [], 0, False, 0
    for position, character in enumerate(body):
        if character == "'":
            quoted = not quoted
        elif not quoted and character in "()":
            depth += 1 if character == "(" else -1
        elif not quoted and depth == 0 and character == ",":
            parts.append(body[start:position])
            start = position + 1
    return [*parts, body[start:]]


def _postgresql(connection: Connection, table: str) -> list[str]:
    columns = connection.exec_driver_sql(
        "SELECT column_name, data_type, is_nullable FROM information_schema.columns WHERE table_name = %s", (table,)
    ).all()
    constraints = connection.exec_driver_sql(
        "SELECT conname, pg_get_constraintdef(oid) FROM pg_constraint WHERE conrelid = %s::regclass", (table,)
    ).all()
    indexes = connection.exec_driver_sql("SELECT indexdef FROM pg_indexes WHERE tablename = %s", (table,)).scalars()
    lines = [" ".join(map(str, row)) for row in [*columns, *constraints]]
    return lines + [re.sub(r"\s+", " ", definition) for definition in indexes]
