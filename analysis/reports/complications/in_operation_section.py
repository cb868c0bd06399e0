"""What happened in the operation, on three separate scales, per treated side."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.cohort.sql import in_operation
from analysis.cohort.subjects import subject_frames
from analysis.estimators.proportions import ProportionMethod
from analysis.outcomes.in_operation.contradictions import contradictions
from analysis.outcomes.in_operation.scales import SCALES, Scale
from analysis.outcomes.in_operation.standing import standings
from analysis.reports.request.grouping import Grouping, grouped
from analysis.reports.request.source import Asked
from analysis.reports.request.splits import Split
from analysis.reports.sections.proportion_rows import proportion_rows
from analysis.reports.sections.report import Column, Section

COLUMNS = (
    Column("scale and grade", "what"),
    Column("n", "n", "count"),
    Column("sides", "events", "count"),
    Column("share", "estimate", "percent"),
    Column("interval", "low high", "percent_range"),
    Column("by patient", "low_clustered high_clustered", "percent_range"),
    Column("missing", "unknown", "count"),
    Column("not applicable", "not_applicable", "count"),
    Column("graded though not applicable", "outside", "count"),
)
SHOWN = 5


def in_operation_section(
    asked: Asked,
    by: Sequence[Split],
    level: float,
    interval: ProportionMethod,
    days: Sequence[int],
    settings: Mapping[str, str],
) -> Section:
    """The distribution of each scale over the treated sides, with the published groups of grades.

    by, level, interval: as `infection_section` takes them; days and settings are not looked at: a grade is of the
    operation itself. Each row: group, what (scale and grade in words), scale (the definition's id), grade (its code, or
    the name of a group of grades), grouped_by (the source of such a group, else None), n (graded sides), unknown
    (missing), not_applicable, outside (graded where the scale does not apply: in no n), events, estimate, low,
    high, low_clustered, high_clustered, clusters. Raises GravelbookError for a column that is not there.
    """
    sides = asked.cohort.sides_frame
    frames = subject_frames(asked.snapshot, in_operation.SUBJECT, asked.cohort.as_of)
    stand = standings(sides, frames["reasons"])
    everybody = np.ones(len(sides), dtype=bool)
    grouping = grouped(sides["side_id"].to_numpy(np.int64), everybody, sides, by)
    patient = pd.factorize(sides["patient_id"])[0].astype(np.int64)
    rows: list[dict[str, Any]] = []
    for scale in SCALES:
        rows += _scale_rows(scale, stand[scale.column], patient, grouping, interval, level)
    order = {str(label): at for at, label in enumerate(grouping.as_dicts())}
    rows.sort(key=lambda row: order[str(row["group"])])
    found = contradictions(sides, frames["events"], stand)
    return Section(
        name="in_operation",
        title="In the operation, per treated side",
        rows=rows,
        columns=COLUMNS,
        definition={
            "unit": "side",
            "level": level,
            "interval": interval,
            "definitions": {scale.definition.id: scale.definition.as_dict() for scale in SCALES},
            "contradictions": found.to_dict("records"),
        },
        in_words=[
            ("Sides", "Every treated side of the cohort, whatever its operation was for; nothing hangs on a review"),
            *(scale.definition.in_words() for scale in SCALES),
        ],
        notes=[
            "The three scales measure different things and are never added up or merged. A blank is missing, never a "
            "grade 0. Contradictory grades are counted as recorded, unless the scale does not apply.",
            *_contradiction_notes(found),
            *(["Study numbers are patients' data: these lines are not to leave the unit."] if len(found) else []),
        ],
    )


def in_operation_contradictions(asked: Asked) -> pd.DataFrame:
    """Grades and events that cannot both be true: side_id, study_number, operated_on, unit, kind, what."""
    sides = asked.cohort.sides_frame
    frames = subject_frames(asked.snapshot, in_operation.SUBJECT, asked.cohort.as_of)
    return contradictions(sides, frames["events"], standings(sides, frames["reasons"]))


def _scale_rows(
    scale: Scale,
    stand: pd.DataFrame,
    patient: npt.NDArray[np.int64],
    grouping: Grouping,
    interval: ProportionMethod,
    level: float,
) -> list[dict[str, Any]]:
    asked: list[tuple[str, str, Iterable[str], str | None]] = [
        *((grade, scale.label_of(grade), (grade,), None) for grade in scale.grades),
        *((one.name, one.label, one.grades, one.source) for one in scale.derived),
    ]
    counted = (stand["state"] == "graded").to_numpy(bool)
    rows = []
    for name, what, grades, source in asked:
        event = stand["grade"].isin(list(grades)).to_numpy(bool)
        made = proportion_rows(
            event=event, counted=counted, cluster=patient, grouping=grouping, interval=interval, level=level
        )
        for place, row in enumerate(made):
            own = stand["state"][grouping.codes == place]
            named = {
                "what": what,
                "scale": scale.definition.id,
                "grade": name,
                "grouped_by": source,
                "unknown": int((own == "missing").sum()),
                "not_computable": {"grade": int((own == "missing").sum())} if (own == "missing").any() else {},
                "not_applicable": int((own == "not applicable").sum()),
                "outside": int((own == "outside").sum()),
            }
            rows.append({**named, **row})
    return rows


def _contradiction_notes(found: pd.DataFrame) -> list[str]:
    """One note a kind of contradiction, with the first cases."""
    notes = []
    for kind, own in found.groupby("kind", sort=False):
        told = [
            f"{row.study_number} {row.unit} {row.operated_on:%Y-%m-%d}"
            for row in own.head(SHOWN).itertuples(index=False)
        ]
        more = f" and {len(own) - SHOWN} more, all named in the definition of --format json" if len(own) > SHOWN else ""
        notes.append(f"Contradictory record: {kind}: {len(own)}: {', '.join(told)}{more}.")
    return notes
