"""The figure of scores, as the bytes of a file, and the numbers behind it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pandas as pd

from analysis.outcomes.scores.all_scores import SCORES
from analysis.outcomes.thresholds import Threshold
from analysis.reports.request.grouping import everyone
from analysis.reports.scores.discrimination_section import area_row
from analysis.reports.scores.gathered import Gathered
from analysis.reports.scores.rates_section import rates_of
from analysis.tables.rounding import percent
from analysis.tables.small_numbers import too_few, withheld
from registry.schema.errors import GravelbookError

if TYPE_CHECKING:
    from analysis.figures.stone_free import Kind


def figure_of(held: Gathered, kind: Kind) -> bytes:
    """The figure: everyone, at the first threshold asked for.

    Raises GravelbookError when no side has any of the scores and a known status.
    """
    from analysis.figures.scores import Wording, draw
    from analysis.figures.stone_free import as_bytes

    threshold = held.request.stone_free.definition.thresholds[0]
    observed, published = figure_data(held, threshold)
    if observed.empty:
        raise GravelbookError(
            "--figure: no side has one of these scores and a known stone-free status, so there is nothing to draw. "
            "See with --show missing what the scores lack, or name other scores with --score."
        )
    title = f"Stone-free rate by complexity score, {threshold.in_words()}"
    weak = int(observed.groupby("panel")["failed_inadequate"].sum().max())
    made = draw(observed, published, Wording(title=title, notes=[*_notes(held, weak), *not_drawn(held, observed)]))
    return as_bytes(made, kind, title=title, description=" ".join(in_words(observed)))


def beside_the_question(held: Gathered) -> str:
    """What was asked and the figure does not show, to be said with its name; empty when it shows all of it."""
    by, thresholds = held.request.by, held.request.stone_free.definition.thresholds
    said = ""
    if by:
        said += f" It shows everyone: --by {','.join(split.column for split in by)} splits the tables alone."
    if len(thresholds) > 1:
        said += f" It shows the first threshold alone: {thresholds[0].in_words()}."
    return said


def figure_data(held: Gathered, threshold: Threshold) -> tuple[pd.DataFrame, pd.DataFrame]:
    """What the figure shows, of everyone whatever was split: `observed` and `published` of `figures.scores.draw`."""
    whole = held.with_grouping(everyone(len(held.sides)))
    small = held.request.stone_free.small_number
    observed: list[dict[str, Any]] = []
    published: list[dict[str, Any]] = []
    for code in held.request.scores:
        score = SCORES[code]
        rows = [row for row in rates_of(whole, code, threshold) if row["kind"] == "value" and row["n"]]
        area = _area(area_row(whole, code, threshold, 0, {}), small)
        for row in rows:
            few = too_few(row["n"], small)
            observed.append(
                {
                    "panel": score.label,
                    "area": area,
                    "lowest": score.lowest,
                    "highest": score.highest,
                    "value": row["low_value"],
                    "n": row["n"],
                    "free": row["events"],
                    "failed_inadequate": row["failed_inadequate"],
                    **{to: math.nan if few else row[of] for to, of in LIMITS.items()},
                    "instead": f"{row['events']} of {row['n']}, {withheld(small)}" if few else "",
                }
            )
        for series in score.published if rows else ():
            told = {"panel": score.label, "from_memory": series.from_memory}
            published += [{**told, "low": one.low, "high": one.high, "rate": one.rate} for one in series.rates]
    return pd.DataFrame(observed), pd.DataFrame(published, columns=["panel", "low", "high", "rate", "from_memory"])


LIMITS = {"rate": "estimate", "low": "low", "high": "high"}


def in_words(observed: pd.DataFrame) -> list[str]:
    """The figure's content as sentences, for people who cannot see it."""
    return [
        f"{row['panel']} {row['value']}: {row['free']} of {row['n']} free"
        + (", no rate shown." if row["instead"] else f", {percent(row['rate'])}.")
        for row in observed.to_dict("records")
    ]


def _area(row: dict[str, Any], small_number: int) -> str:
    said = f"n {row['n']:,}, {row['events']:,} not free"
    if row["estimate"] is None or too_few(row["n"], small_number):
        return said
    limits = f" ({row['low']:.2f} to {row['high']:.2f})" if row["low"] is not None else ""
    return f"{said}, area {row['estimate']:.2f}{limits}"


def not_drawn(held: Gathered, observed: pd.DataFrame) -> list[str]:
    """The scores that were asked for and have no panel, in a sentence."""
    drawn = set(observed["panel"])
    absent = [SCORES[code].label for code in held.request.scores if SCORES[code].label not in drawn]
    return [f"Not drawn, for no side has both it and a known status: {', '.join(absent)}."] if absent else []


def _notes(held: Gathered, weak: int) -> list[str]:
    from analysis.reports.stone_free.text_of_rates import INTERVALS

    request, source = held.request.stone_free, held.source
    leans = f" Up to {weak} failures are known only from studies that cannot clear a side: points lean low."
    return [
        request.definition.in_words() + (leans if weak else ""),
        f"Everyone, complete case. Lines: {100 * request.level:g} % {INTERVALS[request.interval]} interval, not "
        "widened for several from one patient. Area: under the receiver operating characteristic curve, DeLong. "
        f"As of {source.as_of}, snapshot {str(source.snapshot['content_hash'])[:12]}.",
        "Audit figures, no advice for treating a patient; small numbers and case mix mislead. A figure never ranks a "
        "surgeon by itself. Published rates: other patients, another imaging; scores and rates from memory are to be "
        "compared with their papers.",
    ]
