"""Fixtures of the cohort's tests."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cohort.rows import Rows


@pytest.fixture
def rows() -> Rows:
    """Rows of a registry with one site."""
    return Rows()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A place for a frozen snapshot."""
    return tmp_path / "frozen"
