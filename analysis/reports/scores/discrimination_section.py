"""Each score against what happened: how well it tells those left with stone from the free."""

from __future__ import annotations

from typing import Any

import numpy as np

from analysis.estimators.discrimination import CLUSTERED as RESAMPLED
from analysis.estimators.discrimination import METHOD, Area, auc
from analysis.outcomes.scores.all_scores import SCORES
from analysis.outcomes.thresholds import Threshold
from analysis.reports.scores.gathered import STATUSES, Gathered
from analysis.reports.scores.validation import free_when, of_threshold, validated_under
from analysis.reports.sections.report import Column, Section
from analysis.tables.rounding import NOTHING
from analysis.tables.small_numbers import too_few, withheld

ADEQUATE_AREA = (
    "Adequate: the area without the failures that are known only from a study that cannot clear a side; the two differ "
    "where such studies were done in easier or in harder cases."
)


def discrimination_section(held: Gathered) -> Section:
    """The area under the curve of each score, group and threshold."""
    free = held.request.stone_free
    rows = [
        row
        for place, group in enumerate(held.grouping.as_dicts())
        for code in held.request.scores
        for threshold in free.definition.thresholds
        for row in [area_row(held, code, threshold, place, group)]
    ]
    weak = any(row["failed_inadequate"] for row in rows)
    return Section(
        name="discrimination",
        title="Does the score tell who is left with stone?",
        rows=rows,
        columns=(
            Column("score", "name"),
            *free_when(free),
            Column("n", "n", "count"),
            Column("unknown", "unknown", "count"),
            Column("no score", "not_computable", "count"),
            Column("not free", "events", "count"),
            Column("area", "estimate", "number", digits=3),
            Column(METHOD, "low high", "ratio_range"),
            Column("by patient", "low_clustered high_clustered", "ratio_range"),
            *([Column("adequate", "adequate_in_words")] if weak else []),
        ),
        definition={
            **validated_under(held),
            "method": METHOD,
            "interval_clustered": RESAMPLED,
            "seed": free.seed,
            "replicates": free.replicates,
        },
        in_words=(("free", free.definition.in_words()),),
        notes=(
            "Area under the curve: the chance that a side left with stone had the higher score than one that is free, "
            "ties half; 0.5 is no better than chance. The outcome is to be left with stone. Complete case: n has a "
            "score and a known status, unknown has a score and none, no score could not be given one.",
            f"DeLong's interval takes every side for itself; by patient: {free.replicates:,} resamples of patients, "
            "who may have several sides.",
            "Nothing was fitted again: the scores are validated as published, on sides that were scanned, treated by "
            "this unit.",
            *([ADEQUATE_AREA] if weak else []),
            *_warnings(rows),
        ),
    )


def area_row(held: Gathered, code: str, threshold: Threshold, place: int, group: dict[str, Any]) -> dict[str, Any]:
    """One record: a score, a threshold, and the group at `place`, named `group`."""
    rows = held.judged(code, threshold.code)
    rows = rows[held.grouping_of(rows).codes == place]
    eligible = rows["status"].isin(STATUSES)
    computed = rows["state"] == "computed"
    known = rows[eligible & computed & (rows["status"] != "unknown")]
    free = held.request.stone_free
    failed, value = (known["status"] == "failed").to_numpy(dtype=bool), known["value"].to_numpy(dtype=np.float64)
    patients = known["patient_id"].to_numpy()
    area = auc(failed, value, free.level, patients, seed=free.seed, replicates=free.replicates)
    seen = ~known["failed_inadequate"].to_numpy(dtype=bool)
    sound = auc(failed[seen], value[seen], free.level)
    return {
        "group": group,
        "score": code,
        "name": SCORES[code].label,
        **of_threshold(threshold),
        "eligible": int(eligible.sum()),
        "not_computable": int((eligible & (rows["state"] == "not computable")).sum()),
        "n": area.n,
        "unknown": int((eligible & computed & (rows["status"] == "unknown")).sum()),
        "events": area.events,
        "patients": area.clusters,
        "estimate": area.estimate,
        "low": area.low,
        "high": area.high,
        "failed_inadequate": int(known["failed_inadequate"].sum()),
        "estimate_adequate": sound.estimate,
        "low_adequate": sound.low,
        "high_adequate": sound.high,
        "adequate_in_words": _area_in_words(sound, free.small_number),
        "standard_error": area.standard_error,
        "low_logit": area.low_logit,
        "high_logit": area.high_logit,
        "low_clustered": area.low_clustered,
        "high_clustered": area.high_clustered,
        "reason": area.reason,
        "warning": area.warning,
    }


def _area_in_words(area: Area, small_number: int) -> str:
    if too_few(area.n, small_number):
        return withheld(small_number)
    return NOTHING if area.estimate is None else f"{area.estimate:.3f}"


def _warnings(rows: list[dict[str, Any]]) -> list[str]:
    said = []
    for row in rows:
        words = [word for word in (row["reason"], row["warning"]) if word]
        if words:
            where = ", ".join([*(str(value) for value in row["group"].values()), row["name"], row["free_when"]])
            said.append(f"{where}: {'; '.join(words)}.")
    return said
