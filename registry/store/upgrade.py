"""Runs the revisions: in one transaction, foreign keys checked before it is kept, backed up first."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from registry.schema.errors import GravelbookError
from registry.store.engine import BUSY_MS, WRITING
from registry.store.revisions import revision_of

if TYPE_CHECKING:
    from alembic.config import Config
    from sqlalchemy import Connection, Engine


def script_folder() -> Path:
    """The folder of the migrations, also when installed."""
    return Path(str(files("migrations")))


def migration_engine(url: Any) -> Engine:
    """An engine for migrations alone: foreign keys off, table changes inside the transaction.

    A rebuilt SQLite table would take its children along if foreign keys were on, and the pragma is not heard
    inside a transaction; so it is set on connecting and the keys are checked before the commit.
    """
    from sqlalchemy import create_engine, event
    from sqlalchemy.pool import NullPool

    engine = create_engine(url, poolclass=NullPool)
    if engine.dialect.name == "sqlite":

        @event.listens_for(engine, "connect")
        def _prepare(driver_connection: Any, _record: Any) -> None:
            driver_connection.isolation_level = None
            for pragma in ("foreign_keys = OFF", "journal_mode = WAL", "synchronous = FULL", "secure_delete = ON"):
                driver_connection.execute(f"PRAGMA {pragma}")
            driver_connection.execute(f"PRAGMA busy_timeout = {BUSY_MS}")

        @event.listens_for(engine, "begin")
        def _begin(connection: Connection) -> None:
            connection.exec_driver_sql("BEGIN IMMEDIATE")

    else:
        from registry.store.engine import begin_postgresql

        event.listen(engine, "begin", begin_postgresql)
    return engine


@contextmanager
def migrating(place: Engine | str) -> Iterator[Connection]:
    """A connection in one transaction for migrations; foreign keys are checked before the commit.

    Args:
        place: an engine whose database is meant, or a file name or URL.
    Raises:
        GravelbookError: rows would point nowhere after the migration; nothing was changed.
    """
    from registry.store.location import parse_location

    engine = migration_engine(parse_location(place).url if isinstance(place, str) else place.url)
    try:
        with engine.connect().execution_options(**{WRITING: True}) as connection, connection.begin():
            yield connection
            if engine.dialect.name == "sqlite":
                lost = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
                if lost:
                    raise GravelbookError(
                        f"The migration would leave {len(lost)} rows pointing nowhere, the first in table "
                        f"{lost[0][0]}; nothing was changed. Run 'gravelbook store verify' and report this."
                    )
    finally:
        engine.dispose()


def move(connection: Connection, target: str, versions: Path | None = None) -> None:
    """Run the revisions up or down to ``target`` on an open connection.

    Args:
        connection: of ``migrating``.
        target: "head", "base" or the name of a revision.
        versions: a further folder of revisions (tests keep some of their own).
    """
    from alembic import command
    from alembic.script import ScriptDirectory

    config = _configuration(connection, versions)
    order = [revision.revision for revision in ScriptDirectory.from_config(config).walk_revisions()][::-1]
    wanted = order[-1] if target == "head" else target
    position: dict[str | None, int] = {None: -1, "base": -1, **{name: i for i, name in enumerate(order)}}
    if wanted not in position:
        raise GravelbookError(f"There is no revision {wanted}; the revisions are {', '.join(order)}.")
    step = command.upgrade if position[wanted] >= position[revision_of(connection)] else command.downgrade
    step(config, wanted)


def _configuration(connection: Connection, versions: Path | None) -> Config:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(script_folder()))
    config.set_main_option("path_separator", "newline")
    folders = [script_folder() / "versions", *([versions] if versions else [])]
    config.set_main_option("version_locations", "\n".join(str(folder) for folder in folders))
    config.attributes["connection"] = connection
    return config


def upgrade_to_head(engine: Engine) -> None:
    """Make or complete the tables in an engine's database."""
    with migrating(engine) as connection:
        move(connection, "head")
