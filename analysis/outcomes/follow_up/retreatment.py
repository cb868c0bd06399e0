"""Time to retreatment of a course."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.outcomes.follow_up.happened import courses, deaths_and_losses, treatments_after, with_end
from analysis.outcomes.follow_up.known import Later
from analysis.outcomes.follow_up.rows import finished
from analysis.outcomes.follow_up.rules import Choices
from analysis.outcomes.follow_up.timed import AT_RISK, timed, together
from analysis.outcomes.tidy import Tidy


def retreatment(tidy: Tidy, later: Later, choices: Choices) -> pd.DataFrame:
    """One row a course of the cohort; see `rows.COLUMNS`. From the index operation (or the last planned stage done) to
    the first unplanned stone treatment of that kidney after the last planned stage done.

    From the index on nobody with planned stages can have the event before the last of them; the other origin has no
    such time.
    """
    base = courses(tidy)
    exact = base["day"].astype("float64")
    planned = choices.origin == "planned_end"
    base = base.assign(
        origin_low=base["end_low"].astype("float64") if planned else exact,
        origin_high=base["end_high"].astype("float64") if planned else exact,
        state=np.where(base["out"] == "", AT_RISK, base["out"]),
    )
    base = with_end(base, later, tidy.as_of, choices)
    events = together(
        [
            treatments_after(base, tidy, later, choices, after=("end_low", "end_high")),
            deaths_and_losses(base, tidy),
        ]
    )
    return finished(timed(base, events, tidy.as_of), later)
