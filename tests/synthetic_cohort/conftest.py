"""What the tests of invented patients share: the demo's rows, drawn once."""

from __future__ import annotations

import pytest

from synthetic_cohort.story import Rows
from synthetic_cohort.synthesis import demo_records


@pytest.fixture(scope="session")
def demo() -> Rows:
    """The demo's rows."""
    return demo_records()
