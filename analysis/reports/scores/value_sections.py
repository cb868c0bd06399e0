"""How many sides have each score, how its values spread, and what was missing where it has none."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from analysis.estimators.clustered import METHOD as CLUSTERED
from analysis.outcomes.scores.all_scores import SCORES
from analysis.reports.request.grouping import Grouping
from analysis.reports.scores.gathered import Gathered
from analysis.reports.scores.words import RULE, definitions
from analysis.reports.sections.proportion_rows import proportion_rows
from analysis.reports.sections.report import Column, Section

SHARE = (
    Column("n", "n", "count"),
    Column("share", "estimate", "percent"),
    Column("interval", "low high", "percent_range"),
)


def computable_section(held: Gathered) -> Section:
    """Of the sides each score is meant for, how many have it."""
    rows: list[dict[str, Any]] = []
    for code in held.request.scores:
        own = held.of_score(code)
        state = own["state"].to_numpy(dtype=object)
        made = _shares(held, own, state == "computed", state != "outside")
        outside = _counts(held, own, state == "outside")
        for row, out in zip(made, outside, strict=True):
            told = {"score": code, "name": SCORES[code].label, "sides": row["n"] + out, "outside": out, "unknown": 0}
            rows.append(_ordered(row, **told, not_computable=row["n"] - row["events"]))
    return Section(
        name="computable",
        title="Sides that have each score",
        rows=rows,
        columns=(
            Column("score", "name"),
            Column("sides", "sides", "count"),
            Column("outside kidney", "outside", "count"),
            Column("n", "n", "count"),
            Column("computed", "events", "count"),
            Column("not computable", "not_computable", "count"),
            *SHARE[1:],
        ),
        definition=_definition(held),
        notes=(
            RULE,
            "Sides: of the techniques the score was made for, where stone removal was intended "
            f"({held.other_intent:,} of the cohort were treated for something else). Those with a stone outside the "
            "kidney are outside every score here and leave n.",
            *_angles(held),
        ),
    )


def values_section(held: Gathered) -> Section:
    """The distribution of each score among the sides that have it."""
    rows: list[dict[str, Any]] = []
    for code in held.request.scores:
        score, own = SCORES[code], held.of_score(code)
        state = own["state"].to_numpy(dtype=object)
        unknown = _counts(held, own, state == "not computable")
        value = own["value"].to_numpy(dtype=np.float64, na_value=np.nan)
        by_value = [
            (at, _shares(held, own, value == at, state == "computed")) for at in range(score.lowest, score.highest + 1)
        ]
        for group in range(len(held.grouping)):
            for at, made in by_value:
                row = made[group]
                if row["events"]:
                    told = {"score": code, "name": score.label, "value": at, "unknown": unknown[group]}
                    rows.append(_ordered(row, **told))
    return Section(
        name="values",
        title="Values of each score",
        rows=_in_group_order(rows, held.grouping),
        columns=(
            Column("score", "name"),
            Column("value", "value", "count"),
            Column("sides", "events", "count"),
            *SHARE,
            Column("by patient", "low_clustered high_clustered", "percent_range"),
            Column("unknown", "unknown", "count"),
        ),
        definition={**_definition(held), "interval_clustered": CLUSTERED},
        notes=(
            "n: sides whose score is computed; unknown: not computable. Values that nobody has are not listed. By "
            "patient: the interval that allows for several sides of one.",
        ),
    )


def missing_section(held: Gathered, ureteroscopy: str) -> Section:
    """What was missing where a score has no value."""
    rows: list[dict[str, Any]] = []
    for code in held.request.scores:
        own = held.of_score(code)
        own = own[own["state"] == "not computable"]
        for word in sorted({word for words in own["missing"] for word in words}):
            lacks = np.array([word in words for words in own["missing"]], dtype=bool)
            alone = np.array([words == (word,) for words in own["missing"]], dtype=bool)
            made = _shares(held, own, lacks, np.ones(len(own), dtype=bool))
            told = {"score": code, "name": SCORES[code].label, "missing": word, "unknown": 0}
            for row, only in zip(made, _counts(held, own, alone), strict=True):
                if row["events"]:
                    rows.append(_ordered(row, **told, alone=only))
    return Section(
        name="missing",
        title="What was missing where a score is not computable",
        rows=_in_group_order(rows, held.grouping),
        columns=(
            Column("score", "name"),
            Column("missing", "missing"),
            Column("sides", "events", "count"),
            Column("alone", "alone", "count"),
            *SHARE,
        ),
        definition=_definition(held),
        notes=(
            "n: sides whose score is not computable; a side may lack several things. Alone: it lacks this and nothing "
            "else, so that recording it gives the score.",
            *((ureteroscopy,) if ureteroscopy else ()),
        ),
    )


def _angles(held: Gathered) -> list[str]:
    """By which method the angle was measured, among sides whose score is computed: the cuts belong to a method."""
    said = []
    for code in [code for code in held.request.scores if SCORES[code].uses_angle]:
        own = held.of_score(code)
        own = own[own["state"] == "computed"]
        methods = held.measures["angle_method"].iloc[own["place"].to_numpy(dtype=np.int64)]
        counts = methods.value_counts().sort_index()
        listed = [f"{how} {count:,}" for how, count in counts.items()]
        none = int(methods.isna().sum())
        listed += [f"no angle recorded, and none needed {none:,}"] if none else []
        if listed:
            said.append(f"{SCORES[code].label}, how the angle was measured: {', '.join(listed)}.")
    return said


def _definition(held: Gathered) -> dict[str, Any]:
    request = held.request
    return {
        "scores": definitions(request.scores),
        "any_technique": request.any_technique,
        "rule": RULE,
        "interval": request.stone_free.interval,
        "level": request.stone_free.level,
    }


def _shares(held: Gathered, rows: pd.DataFrame, event: Any, counted: Any) -> list[dict[str, Any]]:
    return proportion_rows(
        event=np.asarray(event, dtype=bool),
        counted=np.asarray(counted, dtype=bool),
        cluster=rows["patient_id"].to_numpy(dtype=np.int64),
        grouping=held.grouping_of(rows),
        interval=held.request.stone_free.interval,
        level=held.request.stone_free.level,
    )


def _counts(held: Gathered, rows: pd.DataFrame, marked: Any) -> list[int]:
    codes = held.grouping_of(rows).codes
    return [int((np.asarray(marked, dtype=bool) & (codes == at)).sum()) for at in range(len(held.grouping))]


def _ordered(row: dict[str, Any], **told: Any) -> dict[str, Any]:
    """A row with the group first, then what it is about, then its numbers."""
    return {"group": row["group"], **told, **{name: value for name, value in row.items() if name != "group"}}


def _in_group_order(rows: list[dict[str, Any]], grouping: Grouping) -> list[dict[str, Any]]:
    return list(_by_group(rows, grouping.as_dicts()))


def _by_group(rows: list[dict[str, Any]], groups: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    for group in groups:
        yield from (row for row in rows if row["group"] == group)
