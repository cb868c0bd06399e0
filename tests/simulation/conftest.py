"""Long studies run only when they are asked for: `-m slow`."""

from __future__ import annotations

from pathlib import Path

import pytest

HERE = Path(__file__).parent


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out the slow tests of this folder unless marks were chosen."""
    if config.option.markexpr:
        return
    long = [item for item in items if item.path.is_relative_to(HERE) and item.get_closest_marker("slow")]
    if long:
        config.hook.pytest_deselected(items=long)
        items[:] = [item for item in items if item not in long]
