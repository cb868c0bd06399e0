"""The figure of the fit, as the bytes of a file."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pandas as pd

from analysis.outcomes.fit.bands import BANDS
from analysis.outcomes.fit.outflow import outflow, relative
from analysis.outcomes.fit.pair import Pair
from analysis.outcomes.fit.size import Size
from analysis.reports.fit.asking import FitAnswer
from analysis.reports.fit.request import FitRequest
from analysis.reports.fit.words import IDEALISED
from registry.schema.errors import GravelbookError

if TYPE_CHECKING:
    from analysis.figures.fit import FitData
    from analysis.figures.stone_free import Kind

POSITIONS = (("centred", 0.0), ("on the wall", 1.0))
LIMITS = (1.0, 20 / 17, 4 / 3, float("inf"))
"""The bands' limits on the sheath-to-scope ratio, tightest first: 1/0.85 and 1/0.75."""
STEPS = 160
LEAST, MOST = 1.02, 2.6
"""Sheath-to-scope ratios that are drawn: beyond them a pair would squeeze all others together."""


def check_figure(answer: FitAnswer) -> None:
    """Raises GravelbookError when there is nothing to draw, or more than a figure holds."""
    from analysis.figures.fit import MOST_SCOPES

    request = answer.request
    scopes = {pair.scope for pair in request.pairs}
    if not scopes and not answer.own_pairs:
        raise GravelbookError("--figure: there is no pair to draw. Name a scope and a sheath that it fits.")
    if request.reference is None:
        raise GravelbookError(
            "--figure: every pressure is relative to the reference, and the one given cannot be. Name another with "
            "--reference SCOPE/SHEATH, such as 7.5/10."
        )
    if len(scopes) > MOST_SCOPES:
        raise GravelbookError(
            f"--figure: there are {len(scopes)} scopes, and a figure shows up to {MOST_SCOPES}. Ask fewer at a time."
        )


def figure_of(answer: FitAnswer, kind: Kind) -> bytes:
    """The figure of an answer that `check_figure` let pass: the same bytes for the same answer."""
    from analysis.figures.fit import FitWording, draw
    from analysis.figures.stone_free import as_bytes

    request = answer.request
    assert request.reference is not None  # check_figure refuses it
    data = figure_data(answer)
    title = "Scope in sheath: pressure for the same flow"
    wording = FitWording(title=title, notes=notes_of(answer), reference=request.reference.in_words())
    return as_bytes(draw(data, wording), kind, title=title, description=" ".join(in_words(data)))


def figure_data(answer: FitAnswer) -> FitData:
    """Curves, asked pairs and the unit's own pairs, every pressure relative to the centred reference."""
    from analysis.figures.fit import FitData

    request, own = answer.request, answer.own_pairs or {}
    asked_scopes = sorted({pair.scope for pair in request.pairs})
    other_scopes = sorted({pair.scope for pair in own} - set(asked_scopes))
    ratios = [float(pair.sheath_to_scope) for pair in (*request.pairs, *own)]
    span = max(LEAST, min(1.1, min(ratios) - 0.03)), min(MOST, max(1.8, max(ratios) + 0.08))
    inside = [pair for pair in request.pairs if _drawn(pair)]
    asked = pd.DataFrame(
        [{**_point(pair, request), "label": _label(pair, own.get(pair))} for pair in inside],
        columns=["pair", "scope", "ratio", "pressure", "label"],
    )
    own_rows = [
        {**_point(pair, request), "sides": n, "label": _label(pair, n)} for pair, n in own.items() if _drawn(pair)
    ]
    return FitData(
        curves=_curves(asked_scopes, other_scopes, span, request),
        asked=asked,
        own=pd.DataFrame(own_rows, columns=["pair", "scope", "ratio", "pressure", "sides", "label"]),
        bands=[(name, LIMITS[at], LIMITS[at + 1]) for at, name in enumerate(reversed(BANDS))],
        span=span,
    )


def in_words(data: FitData) -> list[str]:
    """The points in words, for people who cannot see the figure."""
    said = [
        f"{row['pair']}: ratio {row['ratio']:.3f}, " + _pressure_words(row["pressure"]) for row in _records(data.asked)
    ]
    return said + [
        f"Own pair {row['pair']}, {row['sides']} sides: ratio {row['ratio']:.3f}, " + _pressure_words(row["pressure"])
        for row in _records(data.own)
    ]


def _curves(
    asked: Iterable[Size], others: Iterable[Size], span: tuple[float, float], request: FitRequest
) -> pd.DataFrame:
    low, high = span
    ratios = [low + (high - low) * step / STEPS for step in range(STEPS + 1)]
    rows = [
        {
            "scope": f"{scope.in_fr()} Fr",
            "asked": was_asked,
            "position": position,
            "ratio": ratio,
            "pressure": _pressure(Pair(scope, Size(scope.mm * Fraction(ratio))), eccentricity, request),
        }
        for was_asked, scopes in ((True, asked), (False, others))
        for scope in scopes
        for position, eccentricity in (POSITIONS if was_asked else POSITIONS[:1])
        for ratio in ratios
    ]
    return pd.DataFrame(rows, columns=["scope", "asked", "position", "ratio", "pressure"])


def _pressure(pair: Pair, eccentricity: float, request: FitRequest) -> float:
    assert request.reference is not None  # check_figure refuses it
    reference = outflow(request.reference, 0.0, request.conditions)
    found = relative(outflow(pair, eccentricity, request.conditions), reference, request.conditions).pressure
    return float("nan") if found is None else found


def _point(pair: Pair, request: FitRequest) -> dict[str, Any]:
    return {
        "pair": pair.in_words(),
        "scope": f"{pair.scope.in_fr()} Fr",
        "ratio": float(pair.sheath_to_scope),
        "pressure": _pressure(pair, 0.0, request),
    }


def _drawn(pair: Pair) -> bool:
    return LEAST < pair.sheath_to_scope < MOST


def _label(pair: Pair, sides: int | None) -> str:
    return pair.in_words() if sides is None else f"{pair.in_words()}, n {sides:,}"


def _records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    return [{str(key): value for key, value in row.items()} for row in frame.to_dict("records")]


def _pressure_words(pressure: float) -> str:
    return "no pressure is given." if pressure != pressure else f"pressure {pressure:.3g} times the reference's."


def notes_of(answer: FitAnswer) -> list[str]:
    """The sentences under the figure."""
    given = answer.request.conditions
    fluid = f"{100 * given.length:g} cm sheath, {1000 * given.viscosity:g} mPa s, marks and reference: scope centred."
    source = answer.report.source
    where = (
        []
        if source is None
        else [f"Own pairs as of {source.as_of}, snapshot {str(source.snapshot['content_hash'])[:12]}."]
    )
    outside = [pair.in_words() for pair in (*answer.request.pairs, *(answer.own_pairs or {})) if not _drawn(pair)]
    if outside:
        where.append(f"Beyond the axis, not drawn: {', '.join(dict.fromkeys(outside))}.")
    return [
        IDEALISED,
        " ".join(
            [fluid, "Bands are closed below, on the scope-to-sheath ratio, and not linear in its reciprocal.", *where]
        ),
    ]
