"""What the tests of invented patients share: the demo's rows, drawn once."""

from __future__ import annotations

import pytest

from synthetic_cohort.frames import Cohort, cohort
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.records import records
from synthetic_cohort.story import Rows
from synthetic_cohort.synthesis import demo_records


@pytest.fixture(scope="session")
def demo() -> Rows:
    """The demo's rows."""
    return demo_records()


@pytest.fixture(scope="session")
def unit() -> tuple[Cohort, Rows]:
    """A larger unit, every measurement in the registry's own units."""
    drawn = cohort(Parameters(), 6000, 17)
    return drawn, records(drawn, other_units=False)
