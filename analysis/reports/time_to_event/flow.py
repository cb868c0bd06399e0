"""Who is followed, who is not and why, and for how long."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.survival.kaplan_meier import kaplan_meier, time_to
from analysis.outcomes.follow_up.known import BASES
from analysis.outcomes.follow_up.rows import STATES
from analysis.outcomes.follow_up.rules import CAUSE_WORDS, CENSORED, DEATH, EVENT, INTERVENTION, LOSS
from analysis.outcomes.follow_up.timed import AT_RISK, NO_FOLLOW_UP
from analysis.reports.ratio.support_sections import EXPOSURE_WORDS
from analysis.reports.sections.report import Column, Section
from analysis.reports.time_to_event.followed import Followed, causes_of, days
from analysis.reports.time_to_event.groups import EVERYONE
from analysis.reports.time_to_event.options import YEAR
from registry.schema.plurals import counted

_KEYS = {EVENT: "events", DEATH: "deaths", LOSS: "losses", INTERVENTION: "interventions", CENSORED: "censored"}


def flow_section(of: Followed) -> Section:
    """From the courses of the cohort to those followed."""
    frame = of.frame
    left = len(frame)
    rows: list[dict[str, Any]] = [_step("courses of the cohort", None, left)]
    for state, words in STATES.items():
        many = int((frame["state"] == state).sum())
        if state != AT_RISK and many:
            left -= many
            rows.append(_step(_words(of, state, words), many, left))
    exposure = frame.loc[frame["state"] == AT_RISK, "exposure_state"].value_counts()
    for name, many in exposure.items():
        if name != "known" and many:
            left -= int(many)
            rows.append(_step(EXPOSURE_WORDS.get(str(name), f"exposure {name}"), int(many), left))
    outside = len(of.asked.cohort.sides_frame) - len(frame)
    return Section(
        name="time_at_risk",
        title=f"Who is at risk of {of.options.rule.label}",
        rows=rows,
        columns=(Column("", "step"), Column("left out", "left_out", "count"), Column("left", "n", "count", free=True)),
        definition=of.definition(),
        in_words=of.in_words(),
        notes=(
            f"{counted(outside, 'further treated side')} of the cohort stand in no row of their own: later stages of a "
            "course, and sides that begin none.",
        ),
    )


def _words(of: Followed, state: str, words: str) -> str:
    return "no later image" if (state, of.options.what) == (NO_FOLLOW_UP, "recurrence") else words


def _step(step: str, left_out: int | None, left: int) -> dict[str, Any]:
    return {"step": step, "left_out": left_out, "n": left, "unknown": 0, "estimate": None, "low": None, "high": None}


def followed_section(of: Followed) -> Section:
    """Events by kind, censored, and how long courses were followed."""
    frame = of.at_risk
    rows = [_row(of, EVERYONE, frame)]
    if len(of.groups.labels) > 1:
        rows += [_row(of, label, frame[on]) for label, on in of.groups]
    causes = [CAUSE_WORDS[cause] for cause in _met(of)]
    columns = [
        Column("n", "n", "count", free=True),
        Column("patients", "patients", "count", free=True),
        *(Column(words, _KEYS[cause], "count", free=True) for words, cause in zip(causes, _met(of), strict=True)),
        Column("course-years", "years", "number"),
        Column("followed, median days", "estimate", "number", digits=0),
        Column("interval", "low_high"),
    ]
    return Section(
        name="time_followed",
        title="What happened, and how long courses were followed",
        rows=rows,
        columns=columns,
        notes=_notes(of, frame),
    )


def _met(of: Followed) -> list[int]:
    always = [EVENT, CENSORED, DEATH, LOSS]
    return [*always, INTERVENTION] if (of.at_risk["cause"] == INTERVENTION).any() else always


def _row(of: Followed, label: str, frame: pd.DataFrame) -> dict[str, Any]:
    cause = causes_of(frame)
    row: dict[str, Any] = {
        "group": {of.groups.heading: label},
        "n": len(frame),
        "unknown": of.unknown_of(label),
        "patients": int(frame["patient_id"].nunique()),
        **{key: int((cause == number).sum()) for number, key in _KEYS.items()},
        "years": float(days(frame).sum() / YEAR),
        "estimate": None,
        "low": None,
        "high": None,
        "low_high": "",
        "reason": None,
        "by_kind": frame.loc[cause == EVENT, "what"].value_counts().to_dict(),
        "by_component": _components(frame),
    }
    try:
        reverse = time_to(kaplan_meier(days(frame), cause == CENSORED), 0.5)
    except NotEstimable as fault:
        return {**row, "reason": str(fault)}
    row |= {"estimate": reverse.estimate, "low": reverse.low, "high": reverse.high, "reason": reverse.reason}
    row["low_high"] = " to ".join("?" if one is None else f"{one:,.0f}" for one in (reverse.low, reverse.high))
    return row


def _components(frame: pd.DataFrame) -> dict[str, int]:
    named = frame["components"].str.split(", ").explode()
    return {str(name): int(many) for name, many in named[named != ""].value_counts().items()}


def _notes(of: Followed, frame: pd.DataFrame) -> list[str]:
    said = [
        "Follow-up is the median by the reverse Kaplan-Meier curve, in which being followed no longer is the event."
    ]
    event = frame[frame["cause"] == EVENT]
    if len(event):
        kinds = ", ".join(f"{what} {many}" for what, many in event["what"].value_counts().items())
        said.append(f"First events by kind: {kinds}.")
        parts = _components(frame)
        if of.options.what == "fragment_event" and parts:
            told = ", ".join(f"{name} {many}" for name, many in parts.items())
            said.append(f"Components within follow-up, whichever came first: {told}.")
    basis = frame["end_basis"].value_counts()
    told = ", ".join(f"{name} {basis[name]:,}" for name in (*BASES, "death or loss") if name in basis)
    said.append(f"The end of follow-up rests on: {told or 'nothing'}.")
    if basis.get("last known date", 0):
        said.append(
            "Where it rests on the last known date, an event is itself such a date, so that those with events look "
            "better followed than those without."
        )
    later = int(frame["event_later"].sum())
    if later:
        said.append(
            f"{counted(later, 'course')} had an event or competing event after the end of their follow-up; it is not "
            "counted, because of the others nothing is known there. The section on dates shows what it would change."
        )
    vague = int(np.sum(frame["vague"]))
    if vague:
        said.append(f"{counted(vague, 'course')} with a date known to the month or year: its middle counts.")
    return said
