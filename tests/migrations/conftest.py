"""Empty databases on both engines, to be migrated."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine, create_engine
from sqlalchemy.pool import NullPool

from tests import postgres


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_engine(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Engine]:
    """An engine on a database without tables."""
    if request.param == "sqlite":
        yield create_engine(f"sqlite:///{tmp_path / 'empty.db'}", poolclass=NullPool)
        return
    why = postgres.missing_server()
    if why is not None:
        if postgres.REQUIRED:
            pytest.fail(why)
        pytest.skip(why)
    with postgres.fresh_database() as url:
        yield create_engine(url, poolclass=NullPool)
