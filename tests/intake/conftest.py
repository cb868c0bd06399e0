"""Empty registries of a test's own, on both engines."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from registry.store.registry import Registry, create_registry, open_registry
from tests.postgres import REQUIRED, fresh_database, missing_server

MakeRegistry = Callable[[], Registry]


@pytest.fixture(scope="session")
def empty_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty SQLite registry, made once."""
    file = tmp_path_factory.mktemp("empty") / "empty.db"
    with create_registry(file, by="test"):
        pass
    return file


@pytest.fixture
def make_registry(empty_file: Path, tmp_path: Path) -> Iterator[MakeRegistry]:
    """Makes empty SQLite registries."""
    opened: list[Registry] = []

    def make() -> Registry:
        file = tmp_path / f"registry{len(opened)}.db"
        shutil.copy(empty_file, file)
        shutil.copy(f"{empty_file}.key", f"{file}.key")
        opened.append(open_registry(file))
        return opened[-1]

    yield make
    for registry in opened:
        registry.close()


@pytest.fixture
def registry(make_registry: MakeRegistry) -> Registry:
    """An empty SQLite registry."""
    return make_registry()


@pytest.fixture(params=["sqlite", "postgresql"])
def two_engines(
    request: pytest.FixtureRequest, make_registry: MakeRegistry, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[tuple[Registry, Registry]]:
    """Two empty registries on one engine."""
    if request.param == "sqlite":
        yield make_registry(), make_registry()
        return
    why = missing_server()
    if why and not REQUIRED:
        pytest.skip(why)
    made = []
    with fresh_database() as first, fresh_database() as second:
        for number, url in enumerate((first, second)):
            monkeypatch.setenv("GRAVELBOOK_KEY_FILE", str(tmp_path / f"pg{number}.key"))
            made.append(create_registry(url, by="test"))
        yield made[0], made[1]
        for registry in made:
            registry.close()
