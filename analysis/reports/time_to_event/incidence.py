"""How many have had the event by each horizon, in each group of the exposure."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.estimators.proportions import normal_quantile
from analysis.estimators.survival.cumulative_incidence import (
    Incidence,
    clustered_incidence_error,
    cumulative_incidence,
    incidence_at,
)
from analysis.estimators.survival.kaplan_meier import kaplan_meier, survival_at
from analysis.outcomes.follow_up.rules import EVENT
from analysis.reports.sections.report import Column, Section
from analysis.reports.time_to_event.followed import Followed, causes_of, days
from analysis.reports.time_to_event.groups import EVERYONE
from analysis.reports.time_to_event.options import in_words

OVERSTATES = (
    "The Kaplan-Meier figure stands beside for comparison with published curves alone: it censors competing events as "
    "if these courses could still have had the event, and so over-states the share that does."
)
NO_COMPETING = "Nobody had a competing event, so that Kaplan-Meier and Aalen-Johansen are the same."


def incidence_section(of: Followed, level: float) -> Section:
    """Cumulative incidence by group and horizon, or why there is none."""
    parts = [(EVERYONE, of.at_risk)]
    if len(of.groups.labels) > 1:
        parts += [(label, of.at_risk[on]) for label, on in of.groups]
    rows = [row for label, frame in parts for row in _rows(of, label, frame, level)]
    columns = [
        Column("by", "by"),
        Column("n", "n", "count", free=True),
        Column("still at risk", "at_risk", "count", free=True),
        Column("events by then", "events", "count", free=True),
        Column("incidence", "estimate", "percent"),
        Column("interval", "low high", "percent_range"),
        Column("clustered", "clustered_low clustered_high", "percent_range"),
    ]
    if of.competing:
        columns += [Column("competing", "competing", "percent"), Column("1 - Kaplan-Meier", "kaplan_meier", "percent")]
    return Section(
        name="time_incidence",
        title=f"How many have had {of.options.rule.label}, by when",
        rows=rows,
        columns=[*columns, Column("", "reason")],
        definition={"method": method(of), "level": level},
        in_words=(("method", method(of)),),
        notes=(
            *([of.groups.note] if of.groups.note else []),
            OVERSTATES if of.competing else NO_COMPETING,
            "Nothing is told beyond the last day on which somebody is followed.",
        ),
    )


def method(of: Followed) -> str:
    """The estimator of the incidences, in words."""
    if of.competing:
        return (
            "Aalen-Johansen, log(-log) limits from the infinitesimal jackknife; clustered: the same summed within "
            "patients"
        )
    return "1 - Kaplan-Meier, log(-log) limits from Greenwood's formula; clustered: errors summed within patients"


def _rows(of: Followed, label: str, frame: pd.DataFrame, level: float) -> list[dict[str, Any]]:
    if not len(frame):
        return []
    time, cause = days(frame), causes_of(frame)
    curve = cumulative_incidence(time, cause, level=level)
    plain = kaplan_meier(time, cause == EVENT, level=level)
    made = []
    for horizon, km in zip(of.options.horizons, survival_at(plain, of.options.horizons), strict=True):
        row: dict[str, Any] = {
            "group": {of.groups.heading: label},
            "by": in_words(horizon),
            "days": horizon,
            "n": len(frame),
            "unknown": of.unknown_of(label),
            "at_risk": km.at_risk,
            "events": int(((cause == EVENT) & (time <= horizon)).sum()),
            "kaplan_meier": None if km.survival is None else 1 - km.survival,
            **_told(of, curve, km, horizon),
        }
        row["competing"] = _competing(curve, horizon)
        row |= _clustered(frame, row["estimate"], horizon, level)
        made.append(row)
    return made


def _told(of: Followed, curve: Incidence, km: Any, horizon: int) -> dict[str, Any]:
    if horizon > curve.last:
        said = f"not estimable: nobody is followed beyond day {curve.last:,.0f}"
        return {"estimate": None, "low": None, "high": None, "reason": said}
    if EVENT not in curve.causes:
        return {"estimate": 0.0, "low": None, "high": None, "reason": "no event yet, so that there are no limits"}
    if not of.competing:
        low, high = (None if one is None else 1 - one for one in (km.high, km.low))
        return {"estimate": 1 - km.survival, "low": low, "high": high, "reason": km.reason}
    (found,) = incidence_at(curve, EVENT, [horizon])
    return {"estimate": found.estimate, "low": found.low, "high": found.high, "reason": found.reason}


def _competing(curve: Incidence, horizon: int) -> float | None:
    if horizon > curve.last:
        return None
    found = [incidence_at(curve, cause, [horizon])[0].estimate for cause in curve.causes if cause != EVENT]
    return float(sum(one for one in found if one is not None))


def _clustered(frame: pd.DataFrame, estimate: float | None, horizon: int, level: float) -> dict[str, float | None]:
    """Limits that allow for several courses of one patient; the plain ones' equal where nobody has two."""
    nothing: dict[str, float | None] = {"clustered_low": None, "clustered_high": None}
    if estimate is None or not 0 < estimate < 1 or frame["patient_id"].nunique() < 2:
        return nothing
    patient: npt.NDArray[np.int64] = frame["patient_id"].to_numpy(dtype=np.int64)
    error = clustered_incidence_error(days(frame), causes_of(frame), patient, of=EVENT, at=horizon)
    if not error > 0:
        return nothing
    spread = normal_quantile(level=level) * error / (estimate * math.log(estimate))
    return {"clustered_low": estimate ** math.exp(-spread), "clustered_high": estimate ** math.exp(spread)}
