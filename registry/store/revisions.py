"""Which shape a database has, and which one this program knows. Read without the migration library."""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path

from sqlalchemy import Connection, inspect, text

from registry.schema.errors import GravelbookError
from registry.store.location import Location


@cache
def known_revisions() -> tuple[str, ...]:
    """The revisions of this program, oldest first: the names of the revision files, which begin with a number.

    Raises:
        LookupError: the migrations are not installed beside this package.
    """
    spec = find_spec("migrations")
    if spec is None or spec.origin is None:
        raise LookupError("the package migrations is not installed")
    names = sorted(file.stem for file in (Path(spec.origin).parent / "versions").glob("[0-9]*.py"))
    if not names:
        raise LookupError("the package migrations holds no revision")
    return tuple(names)


def head_revision() -> str:
    """The revision this program works with."""
    return known_revisions()[-1]


def revision_of(connection: Connection) -> str | None:
    """The revision a database is at; None when it has never been a registry."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalars().all()
    return str(found[0]) if found else None


def check_revision(connection: Connection, location: Location) -> None:
    """Refuse a database of another shape than this program's.

    Raises:
        GravelbookError: no registry, an older one (says how to upgrade it), or a newer one.
    """
    found = revision_of(connection)
    if found is None:
        raise GravelbookError(
            f"{location.shown} is a database but holds no registry. Make one with: "
            f"gravelbook store create --registry {location.shown}"
        )
    if found == head_revision():
        return
    if found in known_revisions():
        raise GravelbookError(
            f"The registry {location.shown} has an older shape ({found}; this program works with {head_revision()}). "
            f"Bring it up to date with: gravelbook store upgrade --registry {location.shown}"
        )
    raise GravelbookError(
        f"The registry {location.shown} has a shape this program does not know ({found}): it was written by a newer "
        "program. Install that version; nothing was changed."
    )
