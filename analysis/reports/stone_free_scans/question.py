"""One question about stone-free status and its cohort, from which several sections are worked out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import pandas as pd

from analysis.cohort.columns import cohort_columns
from analysis.outcomes.definition import Definition
from analysis.outcomes.inputs import Tables
from analysis.outcomes.status import stone_free_status
from analysis.reports.request.grouping import Grouping, grouped, units_of
from analysis.reports.request.source import Asked
from analysis.reports.stone_free.packed import SEEN_BY, Packed, packed
from analysis.reports.stone_free.references import with_references
from analysis.reports.stone_free.render_text import SPOKEN_MODALITY
from analysis.reports.stone_free.request import Request
from analysis.tables.rounding import percent


@dataclass(frozen=True)
class Judged:
    """A cohort judged by one definition: statuses, packed units in the order of unit_id, their groups."""

    definition: Definition
    statuses: pd.DataFrame
    units: Packed
    grouping: Grouping

    def at(self, code: str) -> pd.DataFrame:
        """The statuses at one threshold, one row a unit in the order of `units`."""
        rows = self.statuses[self.statuses["threshold"] == code].set_index("unit_id")
        return rows.reindex(pd.Index(self.units.unit_id, name="unit_id")).reset_index()


@dataclass(frozen=True)
class Question:
    """A request, and the cohort it is asked of."""

    request: Request
    asked: Asked

    def judged(self, definition: Definition) -> Judged:
        """The cohort judged by a definition and grouped as asked."""
        cohort = self.asked.cohort
        statuses = stone_free_status(Tables(**cohort.outcome_frames, as_of=cohort.as_of), definition)
        units = with_references(packed(statuses, definition.thresholds), cohort.outcome_frames["sides"], definition)
        grouping = grouped(
            units.side_id,
            units.inside(),
            cohort.sides_frame,
            self.request.by,
            unit_of=units_of(cohort_columns()),
        )
        return Judged(definition, statuses, units, grouping)

    @cached_property
    def own(self) -> Judged:
        """Judged by the definition asked for."""
        return self.judged(self.request.definition)

    @cached_property
    def frames(self) -> dict[str, pd.DataFrame]:
        """Readings and fragments, not dated after the as-of date by way of the statuses that name them."""
        from analysis.cohort.sql.readings import READINGS_SUBJECT
        from analysis.cohort.subjects import subject_frames

        return subject_frames(self.asked.snapshot, READINGS_SUBJECT, self.asked.cohort.as_of)


def modalities_of(values: pd.Series) -> dict[str, int]:
    """How many of each modality, the better first; `none` for a missing one."""
    counts = values.astype(object).where(values.notna(), SEEN_BY[-1]).value_counts()
    return {name: int(counts[name]) for name in SEEN_BY if name in counts.index}


def seen_by_words(counts: Mapping[str, int]) -> str:
    """`CT 480 (97.6 %), second look 12 (2.4 %)`, or `none`."""
    whole = sum(counts.values())
    said = [f"{SPOKEN_MODALITY[name]} {count:,} ({percent(count / whole)})" for name, count in counts.items()]
    return ", ".join(said) or "none"


def shares_over(rows: Sequence[Mapping[str, Any]], key: str) -> dict[str, int]:
    """Modality counts of several rows added up."""
    summed: dict[str, int] = {}
    for row in rows:
        for name, count in row[key].items():
            summed[name] = summed.get(name, 0) + count
    return {name: summed[name] for name in SEEN_BY if name in summed}
