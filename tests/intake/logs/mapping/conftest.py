"""A registry with one site."""

from __future__ import annotations

import pytest

from registry.store.registry import Registry
from tests.intake.conftest import MakeRegistry
from tests.intake.logs.mapping.logs import with_site


@pytest.fixture
def unit(make_registry: MakeRegistry) -> Registry:
    """A registry with the site LB and nothing else."""
    return with_site(make_registry())
