"""What other readings of the dates would give: middles or ends of intervals, follow-up settled or taken for granted."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.survival.cumulative_incidence import cumulative_incidence, incidence_at
from analysis.estimators.survival.interval_weibull import interval_weibull, weibull_survival
from analysis.estimators.survival.turnbull import between_looks, turnbull
from analysis.outcomes.follow_up.rules import EVENT, SAME_DAY
from analysis.outcomes.follow_up.timed import AT_RISK
from analysis.reports.sections.report import Column, Section
from analysis.reports.time_to_event.followed import Followed, causes_of, days
from analysis.reports.time_to_event.groups import EVERYONE
from analysis.reports.time_to_event.options import in_words

_COLUMNS = (
    Column("reading", "reading"),
    Column("by", "by"),
    Column("n", "n", "count", free=True),
    Column("events", "events", "count", free=True),
    Column("incidence", "estimate", "percent"),
    Column("interval", "low high", "percent_range"),
    Column("", "reason"),
)
_EARLY, _LATE = "at the earliest day", "at the latest day"


def dates_section(of: Followed, level: float) -> Section:
    """The incidence of everyone under each reading of the dates, and the other way to end follow-up."""
    frame = of.at_risk
    imaged = of.options.what == "recurrence"
    middle = "at the middle between two images" if imaged else "as worked out above"
    rows = _of(of, middle, days(frame), causes_of(frame), level)
    if bool(frame["vague"].any()) or imaged:
        for reading, name in ((_EARLY, "time_earliest"), (_LATE, "time_latest")):
            time = np.maximum(days(frame, name), SAME_DAY)
            rows += _of(of, reading, time, causes_of(frame), level)
    notes = []
    if "censoring" in of.options.rule.uses:
        other = "as_of" if of.options.choices.censoring == "settled" else "settled"
        again = of.again(replace(of.options.choices, censoring=other))
        again = again[(again["state"] == AT_RISK)]
        exposed = of.frame.loc[of.frame["exposure_state"] == "known", "course_id"]
        again = again[again.index.isin(exposed)]
        words = "followed to the as-of date" if other == "as_of" else "followed as settled"
        rows += _of(of, words, days(again), causes_of(again), level)
        notes.append(
            "Followed to the as-of date, courses count as free of events that nobody asked about, so that incidence "
            "comes out too low wherever events elsewhere go unheard."
        )
    return Section(
        name="time_dates",
        title="What other readings of the dates would give",
        rows=rows,
        columns=_COLUMNS,
        notes=notes,
    )


def _of(
    of: Followed, reading: str, time: npt.NDArray[np.float64], cause: npt.NDArray[np.int64], level: float
) -> list[dict[str, Any]]:
    rows = []
    curve = cumulative_incidence(time, cause, level=level) if len(time) else None
    for horizon in of.options.horizons:
        row: dict[str, Any] = {
            "reading": reading, "by": in_words(horizon), "days": horizon, "n": len(time), "unknown": of.unknown,
            "events": int(((cause == EVENT) & (time <= horizon)).sum()), "estimate": None, "low": None, "high": None,
            "reason": None,
        }  # fmt: skip
        if curve is None or horizon > curve.last:
            row["reason"] = "not estimable: nobody is followed so long"
        elif EVENT not in curve.causes:
            row |= {"estimate": 0.0, "reason": "no event"}
        else:
            (found,) = incidence_at(curve, EVENT, [horizon])
            row |= {"estimate": found.estimate, "low": found.low, "high": found.high, "reason": found.reason}
        rows.append(row)
    return rows


def between_images_section(of: Followed, level: float) -> Section | None:
    """Estimates that know only between which images the event lies; None for what images do not tell."""
    if of.options.what != "recurrence":
        return None
    frame, notes = of.at_risk, []
    rows: list[dict[str, Any]] = []
    parts = [(EVERYONE, np.ones(len(frame), dtype=bool))]
    if len(of.groups.labels) > 1:
        parts += list(of.groups)
    for label, on in parts:
        left, right = days(frame[on], "left"), days(frame[on], "right")
        reach = float(max(np.max(left, initial=0.0), np.max(right[np.isfinite(right)], initial=0.0)))
        common = {"group": {of.groups.heading: label}, "n": int(on.sum()), "unknown": of.unknown_of(label)}
        common["events"] = int(np.isfinite(right).sum())
        try:
            curve = turnbull(left, right)
            for found in between_looks(curve, of.options.horizons):
                low, high = (None if one is None else 1 - one for one in (found.high, found.low))
                rows.append(
                    {**common, "reading": "Turnbull: at least, at most", "by": in_words(int(found.time)),
                     "days": found.time, "estimate": low if low == high else None, "low": low, "high": high,
                     "reason": found.reason}
                )  # fmt: skip
        except NotEstimable as fault:
            notes.append(f"Turnbull, {label}: {fault}")
        try:
            patient = frame.loc[on, "patient_id"].to_numpy()
            fit = interval_weibull(left, right, np.ones((int(on.sum()), 1)), ["intercept"], cluster=patient)
            inside = [one for one in of.options.horizons if one <= reach]
            for at in weibull_survival(fit, [1.0], inside, level=level):
                rows.append(
                    {**common, "reading": "Weibull model", "by": in_words(int(at.time)), "days": at.time,
                     "estimate": 1 - at.estimate, "low": 1 - at.high, "high": 1 - at.low, "reason": None}
                )  # fmt: skip
        except NotEstimable as fault:
            notes.append(f"Weibull, {label}: {fault}")
    return Section(
        name="time_between_images",
        title="Recurrence between two images",
        rows=rows,
        columns=_COLUMNS,
        notes=(
            *notes,
            "Turnbull's estimate says how many at least and at most: within an interval of images nothing is known. "
            "Courses with a competing event are followed to their last image here.",
        ),
    )
