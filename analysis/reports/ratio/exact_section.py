"""A crude table of categories by exact methods, where no model is needed or none can be made."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import pandas as pd

from analysis.estimators.exact_tables import several_groups, two_by_two
from analysis.estimators.proportions import proportion_interval
from analysis.reports.ratio.exposure_values import distinct, same_value
from analysis.reports.ratio.model_file import PUBLISHED_BANDS, Model
from analysis.reports.ratio.overlap import parts_of
from analysis.reports.ratio.result_sections import BANDS_SAID
from analysis.reports.ratio.rows import Rows
from analysis.reports.sections.report import Column, Section
from analysis.tables.rounding import p_value
from registry.schema.errors import GravelbookError

COLUMNS = (
    Column("", "what"),
    Column("of", "of"),
    Column("n", "n", "count"),
    Column("with it", "events", "count"),
    Column("share", "share", "percent"),
    Column("interval", "share_low share_high", "percent_range"),
    Column("odds ratio", "odds_ratio", "ratio"),
    Column("interval", "odds_low odds_high", "ratio_range"),
    Column("p", "p_shown"),
)


def exact_section(model: Model, rows: Rows, frame: pd.DataFrame) -> Section | None:
    """Shares of each category, exact odds ratios against the reference, exact tests and the trend over categories.

    None for a quantity, an outcome of grades, or an exposure that is no category. frame: rows with outcome and
    exposure known.
    """
    if rows.kind != "yes_no" or model.exposure.shape not in ("levels", "bands"):
        return None
    levels, parts = _categories(model, frame)
    events = {level: int(frame.loc[own, "outcome"].sum()) for level, own in parts.items()}
    totals = {level: int(own.sum()) for level, own in parts.items()}
    made: list[dict[str, Any]] = []
    for level in levels:
        limits = proportion_interval(events=events[level], n=totals[level], level=model.level)
        row = _row("share", level, totals[level], events[level])
        share = events[level] / totals[level]
        made.append({**row, "estimate": share, "low": limits.low, "high": limits.high,
                     "share": share, "share_low": limits.low, "share_high": limits.high})  # fmt: skip
    made += _odds_ratios(model, levels, events, totals)
    made += _tests([events[level] for level in levels], [totals[level] for level in levels])
    notes = [
        "Crude: nothing is held alike, and rows are taken as independent. Conditional odds ratios with exact limits; "
        "trend over the categories in their order, scores 0, 1, 2."
    ]
    if model.exposure.column == PUBLISHED_BANDS:
        notes.append(BANDS_SAID)
    return Section(
        name="exact",
        title=f"{rows.label[0].upper()}{rows.label[1:]} by {model.exposure.column}: exact tests of the crude table",
        rows=made,
        columns=COLUMNS,
        definition={
            "odds_ratio": "conditional maximum likelihood, exact limits (Cornfield J, Proc 3rd Berkeley Symp 1956)",
            "tests": "Fisher 1935; Freeman and Halton, Biometrika 1951;38:141-149; Cochran-Armitage, exact",
        },
        notes=notes,
    )


def check_exact(model: Model, rows: Rows) -> None:
    """Refuse exact methods for what they cannot do. Raises GravelbookError."""
    if model.adjusters or model.interactions:
        raise GravelbookError(
            f'{model.place}: method = "exact" under [fit] tests a crude table; leave adjusters out, or use "firth", '
            "which holds them alike."
        )
    if rows.kind != "yes_no" or model.exposure.shape not in ("levels", "bands"):
        raise GravelbookError(
            f'{model.place}: method = "exact" under [fit] tests a yes/no outcome over categories; write "bands" or '
            '"levels" as the shape under [exposure], or use another method.'
        )


def _categories(model: Model, frame: pd.DataFrame) -> tuple[list[Any], dict[Any, Any]]:
    from analysis.design.transforms import band_labels

    column = model.exposure.column
    if model.exposure.shape == "levels":
        levels = distinct(frame[column])
        return levels, parts_of(frame, column, levels)
    cut = pd.cut(
        frame[column].astype(float),
        [-math.inf, *model.exposure.cuts, math.inf],
        right=False,
        labels=band_labels(model.exposure.cuts),
    )
    levels = distinct(cut)
    return levels, {level: same_value(cut, level) for level in levels}


def _odds_ratios(
    model: Model, levels: Sequence[Any], events: dict[Any, int], totals: dict[Any, int]
) -> list[dict[str, Any]]:
    first = model.exposure.reference if model.exposure.reference in levels else levels[0]
    made = []
    for level in levels:
        if level == first:
            continue
        found = two_by_two(
            events=(events[level], events[first]), totals=(totals[level], totals[first]), level=model.level
        )
        of = found.conditional
        row = _row("odds ratio", f"{level} against {first}", of.n, of.events)
        estimate, low, high = _finite(of.estimate), _finite(of.low), _finite(of.high)
        p = found.fisher.p
        made.append(
            {
                **row,
                "estimate": estimate,
                "low": low,
                "high": high,
                "odds_ratio": estimate,
                "odds_low": low,
                "odds_high": high,
                "p": p,
                "p_shown": _p(p),
                "test": found.fisher.test,
                "method": of.method,
                "reason": of.reason or ("an empty cell: no finite estimate or limit" if high is None else None),
            }
        )
    return made


def _tests(events: Sequence[int], totals: Sequence[int]) -> list[dict[str, Any]]:
    if len(events) < 3:
        return []
    found = several_groups(events=events, totals=totals)
    return [
        {
            **_row("test", one.test, sum(totals), sum(events)),
            "estimate": one.statistic,
            "low": None,
            "high": None,
            "p": one.p,
            "p_shown": _p(one.p),
            "test": one.test,
            "reason": one.reason,
        }
        for one in (found.exact, found.trend, found.trend_exact)
    ]


def _row(what: str, of: Any, n: int, events: int) -> dict[str, Any]:
    return {"what": what, "of": str(of), "n": n, "events": events, "unknown": None}


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None


def _p(value: float | None) -> str | None:
    return None if value is None else p_value(value).removeprefix("p = ").removeprefix("p ")
