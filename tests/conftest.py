"""Fixtures that many rooms' tests share: an empty registry on each engine, made by the revisions."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import make_url

from registry.store.registry import Registry, create_registry, open_registry
from tests import postgres

ENGINES = ("sqlite", "postgresql")


@pytest.fixture(autouse=True)
def own_settings(monkeypatch: pytest.MonkeyPatch) -> None:
    """No test reads the settings of the person who runs it."""
    for name in ("GRAVELBOOK_REGISTRY", "GRAVELBOOK_KEY_FILE", "GRAVELBOOK_SNAPSHOTS", "GRAVELBOOK_USER"):
        monkeypatch.delenv(name, raising=False)


def need_server() -> None:
    """Skip, and say so, without a PostgreSQL server; fail where one must be there."""
    why = postgres.missing_server()
    if why is not None:
        if postgres.REQUIRED:
            pytest.fail(why)
        pytest.skip(why)


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty registry in a file, made once by the revisions; tests work on copies."""
    file = tmp_path_factory.mktemp("template") / "empty.db"
    create_registry(str(file)).close()
    return file


@pytest.fixture(scope="session")
def postgres_template(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """An empty registry in a database of its own and its key file; tests work on copies of the database."""
    need_server()
    key = tmp_path_factory.mktemp("template") / "postgres.key"
    with postgres.fresh_database() as url, pytest.MonkeyPatch.context() as patch:
        patch.setenv("GRAVELBOOK_KEY_FILE", str(key))
        create_registry(url).close()
        patch.undo()
        yield str(make_url(url).database), key


@pytest.fixture(params=ENGINES)
def location(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """Where an empty registry is, once on each engine."""
    if request.param == "sqlite":
        yield str(sqlite_copy(request.getfixturevalue("sqlite_template"), tmp_path / "gravelbook.db"))
        return
    template, key = request.getfixturevalue("postgres_template")
    monkeypatch.setenv("GRAVELBOOK_KEY_FILE", str(key))
    monkeypatch.setenv("GRAVELBOOK_SNAPSHOTS", str(tmp_path / "snapshots"))
    with postgres.fresh_database(template) as url:
        yield url


@pytest.fixture
def registry(location: str) -> Iterator[Registry]:
    """An empty, open registry, once on each engine."""
    with open_registry(location) as opened:
        yield opened


@pytest.fixture
def sqlite_location(sqlite_template: Path, tmp_path: Path) -> str:
    """Where an empty registry in a file is, for tests that are not about the engine."""
    return str(sqlite_copy(sqlite_template, tmp_path / "gravelbook.db"))


def sqlite_copy(template: Path, target: Path) -> Path:
    """Copy a registry's file and its key file."""
    shutil.copyfile(template, target)
    shutil.copyfile(template.with_name(template.name + ".key"), target.with_name(target.name + ".key"))
    return target
