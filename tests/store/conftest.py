"""A registry with rows in every table, on each engine."""

from __future__ import annotations

import pytest

from registry.store.registry import Registry
from tests.store.filled import fill


@pytest.fixture
def filled(registry: Registry) -> Registry:
    """A registry with two rows in every table."""
    with registry.writing(by="filler", reason="first entry") as door:
        fill(door)
    return registry
