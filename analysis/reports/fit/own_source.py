"""Whether a registry is asked for the unit's own pairs, and what it says.

Sizes alone need no registry. One that is there is asked for its pairs without a word; when it cannot be, the sizes are
still answered and the reason is said. Asked for by name (`--own`, or an option about its cohort), it has to answer.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from analysis.reports.request.source import Asked, ask_cohort
from registry.schema.errors import GravelbookError


@dataclass(frozen=True, kw_only=True)
class OwnSource:
    """asked: the cohort, if any. remark: why a registry that is there could not be asked."""

    asked: Asked | None = None
    remark: str | None = None


def own_source(
    location: str,
    *,
    wanted: bool | None,
    named: bool = False,
    rules_file: Path | None = None,
    snapshot_name: str | None = None,
    research: bool = False,
    as_of: dt.date | None = None,
) -> OwnSource:
    """The unit's own cohort, if there is one to ask.

    wanted: True, it has to be there; False, it is not asked; None, it is asked if it is there. named: somebody said
    where it is, so that it is remarked when nothing is there.
    Raises GravelbookError when it is wanted and cannot be asked.
    """
    if wanted is False:
        return OwnSource()
    if wanted is None and not _there(location):
        return OwnSource(remark=f"The unit's own pairs are left out: there is no file {location}." if named else None)
    try:
        asked = ask_cohort(location, rules_file=rules_file, snapshot_name=snapshot_name, research=research, as_of=as_of)
    except GravelbookError as fault:
        if wanted:
            raise
        return OwnSource(remark=f"The unit's own pairs are left out: {fault}")
    return OwnSource(asked=asked)


def _there(location: str) -> bool:
    return "://" in location or Path(location).is_file()
