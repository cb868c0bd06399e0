"""The revisions make what the declarations say, to the text of every CHECK."""

from __future__ import annotations

from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Engine, text

from registry.schema.tables import metadata
from registry.store.revisions import head_revision, known_revisions, revision_of
from registry.store.upgrade import migrating, move
from tests.migrations.shape import shape, tables, triggers


def declared_shape(engine: Engine) -> dict[str, list[str]]:
    """The shape that the declarations give on an engine of this kind; what is made is undone again."""
    with engine.connect() as connection:
        transaction = connection.begin()
        metadata.create_all(connection)
        made = shape(connection)
        transaction.rollback()
        metadata.drop_all(connection)  # the SQLite driver commits table changes by itself
        connection.commit()
    return made


def without_triggers(lines: list[str]) -> list[str]:
    return [line for line in lines if not line.startswith("trigger ")]


def test_revisions_make_the_declared_tables(empty_engine: Engine) -> None:
    declared = declared_shape(empty_engine)
    with migrating(empty_engine) as connection:
        move(connection, "head")
    with empty_engine.connect() as connection:
        made = shape(connection)
    assert sorted(made) == sorted(declared)
    for table, lines in declared.items():
        assert without_triggers(made[table]) == lines, f"{table} has drifted from its declaration"


def test_a_changed_check_is_seen(empty_engine: Engine) -> None:
    """The comparison would notice: the same constraint by name with another limit is another shape."""
    with migrating(empty_engine) as connection:
        move(connection, "head")
        before = shape(connection)["stone"]
        if connection.dialect.name == "sqlite":
            connection.execute(text("PRAGMA writable_schema = ON"))
            connection.execute(
                text("UPDATE sqlite_master SET sql = replace(sql, 'length_mm BETWEEN 0.5', 'length_mm BETWEEN 0.6')")
            )
            connection.execute(text("PRAGMA writable_schema = OFF"))
        else:
            connection.execute(text("ALTER TABLE stone DROP CONSTRAINT ck_stone_length_mm_within"))
            connection.execute(
                text("ALTER TABLE stone ADD CONSTRAINT ck_stone_length_mm_within CHECK (length_mm BETWEEN 0.6 AND 200)")
            )
        assert shape(connection)["stone"] != before


def test_alembic_sees_no_difference_either(empty_engine: Engine) -> None:
    with migrating(empty_engine) as connection:
        move(connection, "head")
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []


def test_each_revision_is_named_as_its_file_and_follows_the_one_before(empty_engine: Engine) -> None:
    with migrating(empty_engine) as connection:
        for name in known_revisions():
            move(connection, name)
            assert revision_of(connection) == name
        assert revision_of(connection) == head_revision()


def test_the_history_is_guarded_by_triggers_at_every_revision_that_has_it(empty_engine: Engine) -> None:
    expected = {"change_history_no_update", "change_history_no_delete"}
    expected |= {{"sqlite": "change_history_no_replace", "postgresql": "change_history_no_truncate"}[
        empty_engine.dialect.name
    ]}  # fmt: skip
    with migrating(empty_engine) as connection:
        move(connection, "head")
        first = triggers(connection)
        assert set(first) == expected
        for name in reversed(known_revisions()):
            move(connection, name)
            assert triggers(connection) == (first if "change_history" in tables(connection) else {}), name
        move(connection, "head")
        assert triggers(connection) == first
