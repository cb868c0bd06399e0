"""A registry with one site, on both engines."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from registry.store.registry import open_registry
from tests.intake.extracts.unit import Unit


@pytest.fixture
def unit(location: str, tmp_path: Path) -> Iterator[Unit]:
    """A registry with the site LB and nothing else, with a folder for files."""
    with open_registry(location) as opened:
        yield Unit(opened, tmp_path)
