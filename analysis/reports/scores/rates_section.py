"""The stone-free rate at each value and in each band of a score, with what was published beside it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from analysis.estimators.clustered import METHOD as CLUSTERED
from analysis.outcomes.scores.all_scores import SCORES
from analysis.outcomes.scores.score import Band, Score
from analysis.outcomes.thresholds import Threshold
from analysis.reports.scores.gathered import STATUSES, Gathered
from analysis.reports.scores.published import published_in_words, published_of, series_in_words
from analysis.reports.scores.validation import free_when, of_threshold, validated_under
from analysis.reports.scores.words import span
from analysis.reports.sections.proportion_rows import proportion_rows
from analysis.reports.sections.report import Column, Section
from analysis.tables.rounding import NOTHING, percent, percent_range
from analysis.tables.small_numbers import too_few, withheld


def rates_section(held: Gathered) -> Section:
    """The stone-free rate at each value of each score, and in its bands, with what was published beside it."""
    rows = [
        row
        for threshold in held.request.stone_free.definition.thresholds
        for code in held.request.scores
        for row in rates_of(held, code, threshold)
    ]
    order = held.grouping.as_dicts()
    rows.sort(key=lambda row: order.index(row["group"]))
    return Section(
        name="rates",
        title="Stone-free rate by score",
        rows=rows,
        columns=(
            Column("score", "name"),
            Column("value", "value"),
            *free_when(held.request.stone_free),
            Column("n", "n", "count"),
            Column("unknown", "unknown", "count"),
            *_adequate_columns(rows),
            Column("free", "events", "count"),
            Column("rate", "estimate", "percent"),
            Column("interval", "low high", "percent_range"),
            Column("by patient", "low_clustered high_clustered", "percent_range"),
            Column("published", "published_in_words"),
        ),
        definition={
            **validated_under(held),
            "interval": held.request.stone_free.interval,
            "interval_clustered": CLUSTERED,
        },
        in_words=(("free", held.request.stone_free.definition.in_words()),),
        notes=(
            *_leaning(rows),
            "Complete case; unknown has the score and no known status. Published rates stand beside for comparison: "
            "other patients, another imaging, another day. Nothing is recalibrated to them.",
            *series_in_words(held.request.scores),
        ),
    )


def _adequate_columns(rows: list[dict[str, Any]]) -> tuple[Column, ...]:
    """The rate among sides whose study could clear them stands first when some failures are known without one."""
    if not any(row["failed_inadequate"] for row in rows):
        return ()
    return (Column("of n adequate", "n_adequate", "count"), Column("their rate", "adequate_in_words"))


def _rate_in_words(row: dict[str, Any], small_number: int) -> str:
    if not row["n"]:
        return NOTHING
    if too_few(row["n"], small_number):
        return withheld(small_number)
    return f"{percent(row['estimate'])} ({percent_range(row['low'], row['high'])})"


def _leaning(rows: list[dict[str, Any]]) -> list[str]:
    if not any(row["failed_inadequate"] for row in rows):
        return []
    return [
        "Adequate: without the failures known only from a study that cannot clear a side. Such a study can show "
        "failure and never success, so that the rate of the complete case leans low."
    ]


def rates_of(held: Gathered, code: str, threshold: Threshold) -> list[dict[str, Any]]:
    """Records of each value and band of a score that somebody has, a group each."""
    score, rows = SCORES[code], held.judged(code, threshold.code)
    rows = rows[(rows["state"] == "computed") & rows["status"].isin(STATUSES)]
    value = rows["value"].to_numpy(dtype=np.float64)
    single = [Band(str(at), at, at) for at in range(score.lowest, score.highest + 1)]
    made = []
    for band in (*single, *score.bands):
        own = (value >= band.low) & (value <= band.high)
        if not own.any():
            continue
        kind = "band" if band in score.bands else "value"
        made += _band_rows(held, rows, own, {"score": code, "name": score.label, "kind": kind}, band, threshold, score)
    return made


def _band_rows(
    held: Gathered,
    rows: pd.DataFrame,
    own: Any,
    told: dict[str, Any],
    band: Band,
    threshold: Threshold,
    score: Score,
) -> list[dict[str, Any]]:
    status = rows["status"].to_numpy(dtype=object)
    grouping = held.grouping_of(rows)
    found = proportion_rows(
        event=status == "free",
        counted=own & (status != "unknown"),
        cluster=rows["patient_id"].to_numpy(dtype=np.int64),
        grouping=grouping,
        interval=held.request.stone_free.interval,
        level=held.request.stone_free.level,
    )
    named = band.name if told["kind"] == "value" else f"{band.name}, {span(band.low, band.high)}"
    made = []
    weak = own & (status == "failed") & rows["failed_inadequate"].to_numpy(dtype=bool)
    sound = proportion_rows(
        event=status == "free",
        counted=own & (status != "unknown") & ~weak,
        cluster=rows["patient_id"].to_numpy(dtype=np.int64),
        grouping=grouping,
        interval=held.request.stone_free.interval,
        level=held.request.stone_free.level,
    )
    for place, row in enumerate(found):
        adequate = {
            "n_adequate": sound[place]["n"],
            "rate_adequate": sound[place]["estimate"],
            "low_adequate": sound[place]["low"],
            "high_adequate": sound[place]["high"],
            "failed_inadequate": row["n"] - sound[place]["n"],
            "adequate_in_words": _rate_in_words(sound[place], held.request.stone_free.small_number),
        }
        unknown = int((own & (status == "unknown") & (grouping.codes == place)).sum())
        if row["n"] or unknown:
            numbers = {name: value for name, value in row.items() if name != "group"}
            published = published_of(score, band)
            made.append(
                {"group": row["group"], **told, "value": named, "low_value": band.low, "high_value": band.high}
                | of_threshold(threshold)
                | {
                    **numbers,
                    **adequate,
                    "unknown": unknown,
                    "published": published,
                    "published_in_words": published_in_words(published),
                }
            )
    return made
