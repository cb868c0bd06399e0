"""Any of the times to an event, from frozen tables."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from analysis.outcomes.definition import Definition
from analysis.outcomes.follow_up.fragment_event import fragment_event, passage
from analysis.outcomes.follow_up.known import later_of
from analysis.outcomes.follow_up.recurrence import recurrence, symptomatic_recurrence
from analysis.outcomes.follow_up.retreatment import retreatment
from analysis.outcomes.follow_up.rules import WHATS, ChoiceError, Choices
from analysis.outcomes.inputs import Tables, check
from analysis.outcomes.status import stone_free_status
from analysis.outcomes.tidy import tidied

FROM_IMAGE = tuple(what for what in WHATS if what != "retreatment")
"""Those that start from an image, and so need a definition of stone-free."""


def time_to(
    what: str,
    tables: Tables,
    followed: Mapping[str, pd.DataFrame],
    choices: Choices,
    definition: Definition | None = None,
) -> pd.DataFrame:
    """One row a course of the cohort with time in days, cause and reason; the columns are `rows.COLUMNS`.

    what: one of WHATS. followed: frames of `cohort.sql.follow_up`. definition: of stone-free (unit course, one
    threshold), for what starts from an image.

    Raises ChoiceError for another `what`, or a definition that is lacking, has several thresholds or another unit;
    TablesError when the tables are unsound.
    """
    if what not in WHATS:
        raise ChoiceError(f"{what!r} is no time to an event; choose one of {', '.join(WHATS)}.")
    if what == "retreatment":
        check(tables)
        tidy = tidied(tables)
        return retreatment(tidy, later_of(followed, tidy), choices)
    if definition is None or definition.unit != "course" or len(definition.thresholds) != 1:
        raise ChoiceError(f"{what} needs a definition of stone-free for courses at one threshold.")
    statuses = stone_free_status(tables, definition)
    tidy = tidied(tables)
    later = later_of(followed, tidy)
    if what == "recurrence":
        return recurrence(tidy, later, statuses, definition, choices)
    if what == "symptomatic_recurrence":
        return symptomatic_recurrence(tidy, later, statuses, choices)
    if choices.event == "passage":
        return passage(tidy, later, statuses, definition, choices)
    return fragment_event(tidy, later, statuses, definition, choices)
