"""What was published of a score's values, as it stands beside the observed rates."""

from __future__ import annotations

from typing import Any

from analysis.outcomes.scores.all_scores import SCORES
from analysis.outcomes.scores.score import Band, PublishedRate, Score
from analysis.reports.scores.words import span
from analysis.tables.rounding import percent


def published_of(score: Score, band: Band) -> list[dict[str, Any]]:
    """What was published of exactly this value or band, or of a wider stretch that holds a single value."""
    return [
        {"where": series.where, "from_memory": series.from_memory, "rate": one.rate, "free": one.free, "n": one.n,
         "of": span(one.low, one.high)}
        for series in score.published
        for one in series.rates
        if _speaks_of(one, band)
    ]  # fmt: skip


def _speaks_of(one: PublishedRate, band: Band) -> bool:
    return (one.low, one.high) == (band.low, band.high) or (band.low == band.high and one.low <= band.low <= one.high)


def published_in_words(published: list[dict[str, Any]]) -> str:
    """The published rates of one value or band, in the order of their series."""
    return "; ".join(
        percent(one["rate"])
        + (f" ({one['free']} of {one['n']})" if one["n"] else "")
        + (" from memory" if one["from_memory"] else "")
        for one in published
    )


def series_in_words(codes: tuple[str, ...]) -> list[str]:
    """Where the published rates of these scores come from, and for which scores there are none."""
    named = [
        f"{SCORES[code].name}: "
        + "; ".join(one.where + (", from memory" if one.from_memory else "") for one in SCORES[code].published)
        for code in codes
        if SCORES[code].published
    ]
    without = [SCORES[code].name for code in codes if not SCORES[code].published]
    said = [f"Published rates, in this order. {'. '.join(named)}."] if named else []
    if without:
        said.append(f"No published rate by value could be checked for {' and '.join(without)}, so none is shown.")
    return said
