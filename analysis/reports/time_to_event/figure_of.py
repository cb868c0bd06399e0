"""The figure of a time to an event: cumulative incidence by group, with how many are at risk."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from analysis.design.terms import Term
from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.survival.cumulative_incidence import cumulative_incidence
from analysis.estimators.survival.gray import gray
from analysis.outcomes.follow_up.rules import EVENT
from analysis.reports.request.source import Asked
from analysis.reports.time_to_event.followed import Followed, causes_of, days, followed
from analysis.reports.time_to_event.group_tests import p_text
from analysis.reports.time_to_event.options import YEAR, read_options
from analysis.tables.small_numbers import too_few
from registry.schema.errors import GravelbookError

if TYPE_CHECKING:
    from analysis.figures.stone_free import Kind

TICKS = 7
LONG = 2 * YEAR
"""Days of follow-up from which the axis is in years."""


def time_figure(
    asked: Asked,
    what: str,
    exposure: Term,
    *,
    level: float = 0.95,
    options: Mapping[str, str] | None = None,
    kind: Kind = "png",
    small_number: int = 5,
) -> bytes:
    """The figure of a cohort's time to an event; as `figure_of`, whose refusals it shares, and those of `followed`."""
    of = followed(asked, read_options(what, options or {}), exposure)
    return figure_of(of, level=level, kind=kind, small_number=small_number)


def figure_of(of: Followed, *, level: float = 0.95, kind: Kind = "png", small_number: int = 5) -> bytes:
    """The figure as a PNG or SVG file. Groups with fewer courses than small_number are left out, and named.

    Raises GravelbookError when nobody is at risk, or there are more groups than a figure shows.
    """
    from analysis.figures.stone_free import as_bytes
    from analysis.figures.survival_curve import MOST_GROUPS, SurvivalWording, draw

    parts = [(label, of.at_risk[on]) for label, on in of.groups]
    shown = [(label, frame) for label, frame in parts if not too_few(len(frame), small_number)]
    if not shown:
        raise GravelbookError(
            f"--figure has nothing to draw: no group by {of.exposure.column} has {small_number} or more courses at "
            f"risk of {of.options.rule.label}."
        )
    if len(shown) > MOST_GROUPS:
        raise GravelbookError(
            f"--figure shows at most {MOST_GROUPS} groups, and {of.exposure.column} has {len(shown)}: cut it into "
            "bands."
        )
    last = max(float(days(frame).max()) for _, frame in shown)
    scale, unit = (YEAR, "years") if last >= LONG else (1.0, "days")
    curves = pd.concat([_curve(label, frame, level, scale) for label, frame in shown], ignore_index=True)
    at_risk = pd.DataFrame(
        [
            {"group": label, "time": tick, "n": int((days(frame) >= tick * scale).sum())}
            for label, frame in shown
            for tick in _ticks(last / scale)
        ]
    )
    title = f"{of.options.rule.label[0].upper()}{of.options.rule.label[1:]}, cumulative incidence"
    left_out = [f"{label} ({len(frame)})" for label, frame in parts if too_few(len(frame), small_number)]
    wording = SurvivalWording(
        title=title,
        notes=_notes(of, level, left_out),
        time=f"{unit} from {_origin(of)}",
        value=f"have had {of.options.rule.label}",
        group=of.groups.heading.replace("_", " "),
        shown=[] if left_out else _shown(of),
    )
    figure = draw(curves, at_risk, wording)
    return as_bytes(figure, kind, title=title, description=" ".join(wording.notes))


def _curve(label: str, frame: pd.DataFrame, level: float, scale: float) -> pd.DataFrame:
    curve = cumulative_incidence(days(frame), causes_of(frame), level=level)
    made = pd.DataFrame({"group": label, "time": curve.time / scale})
    if EVENT not in curve.causes:
        return made.assign(estimate=0.0, low=np.nan, high=np.nan)
    row = curve.causes.index(EVENT)
    return made.assign(estimate=curve.incidence[row], low=curve.low[row], high=curve.high[row])


def _ticks(last: float) -> list[float]:
    """Round steps, TICKS or so of them, from 0 up to the last."""
    rough = last / TICKS
    size = 10.0 ** np.floor(np.log10(rough)) if rough > 0 else 1.0
    step = next(each * size for each in (1, 2, 2.5, 5, 10) if each * size >= rough)
    return [float(each) for each in np.arange(0, last + 1e-9, step)]


def _origin(of: Followed) -> str:
    if of.options.what == "retreatment":
        return "the index operation" if of.options.choices.origin == "index" else "the last planned stage"
    if of.options.what == "fragment_event":
        return "the image that found the fragments"
    return "the image that confirmed stone-free"


def _shown(of: Followed) -> list[str]:
    """Gray's test, which is of all groups and so stands only where all are drawn."""
    frame = of.at_risk
    try:
        return [f"Gray's test p {_equals(gray(days(frame), causes_of(frame), of.groups.names, of=EVENT).p)}"]
    except NotEstimable:
        return []


def _equals(p: float) -> str:
    said = p_text(p)
    return said if said.startswith("<") else f"= {said}"


def _notes(of: Followed, level: float, left_out: list[str]) -> list[str]:
    rule = of.options.rule
    said = [
        f"Aalen-Johansen, competing: {' and '.join(rule.competing)}; bands {100 * level:g} %.",
        f"At risk: {rule.at_risk}. Follow-up ends {rule.ends_in_words(of.options.choices)}.",
    ]
    if of.stone_free is not None:
        said.append(of.stone_free.in_words())
    if of.options.what == "recurrence":
        said.append("An event counts at the middle between the last image without and the first image with it.")
    if of.groups.note:
        said.append(of.groups.note)
    if left_out:
        said.append(f"Not drawn, too few: {', '.join(left_out)}.")
    return [*said, f"As of {of.asked.cohort.as_of.isoformat()}. Audit figures and no advice for treating a patient."]
