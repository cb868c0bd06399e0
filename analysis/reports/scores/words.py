"""How scores are spoken of: names, definitions, sources, and what of them is from memory."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from analysis.outcomes.scores.all_scores import SCORES
from analysis.outcomes.scores.score import PublishedRates, Score

TECHNIQUES = {
    "percutaneous": "percutaneous operations (standard, miniaturised or combined)",
    "flexible": "flexible ureteroscopy, with no other technique but the semirigid scope",
}
RULE = (
    "A score is computed only when what is recorded leaves one value possible: a missing input never gives a lower "
    "score. One that could not change the value is of no matter."
)


def meant_for(score: Score) -> str:
    return TECHNIQUES["flexible" if "flexible" in score.meant_for else "percutaneous"]


def definition_lines(codes: Iterable[str]) -> list[tuple[str, str]]:
    """Each score in words: label, and version, source, what is from memory, and conventions."""
    lines = []
    for code in codes:
        score = SCORES[code]
        lines.append(
            (
                score.code,
                f"{score.label}, {score.version}, {score.lowest} to {score.highest}, for {meant_for(score)}. "
                f"{score.source}. {score.memory} {score.conventions}",
            )
        )
    return lines


def definitions(codes: Iterable[str]) -> list[dict[str, Any]]:
    """The same ready for JSON."""
    return [
        {
            "score": score.code,
            "name": score.name,
            "version": score.version,
            "source": score.source,
            "from_memory": score.memory,
            "meant_for": sorted(score.meant_for),
            "range": [score.lowest, score.highest],
            "conventions": score.conventions,
            "bands": [{"name": band.name, "low": band.low, "high": band.high} for band in score.bands],
            "published": [_series(series) for series in score.published],
        }
        for score in (SCORES[code] for code in codes)
    ]


def _series(series: PublishedRates) -> dict[str, Any]:
    rates = [{"low": one.low, "high": one.high, "rate": one.rate, "free": one.free, "n": one.n} for one in series.rates]
    return {"where": series.where, "from_memory": series.from_memory, "rates": rates}


def span(low: int, high: int) -> str:
    """A score or a stretch of scores, `3` or `3 to 4`."""
    return str(low) if low == high else f"{low} to {high}"
