"""Whether groups of the exposure differ in time to the event: Gray's test and the log-rank test."""

from __future__ import annotations

from typing import Any

from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.survival.gray import gray
from analysis.estimators.survival.kaplan_meier import kaplan_meier
from analysis.estimators.survival.log_rank import log_rank
from analysis.estimators.survival.restricted_mean import restricted_mean, restricted_mean_contrasts
from analysis.outcomes.follow_up.rules import EVENT
from analysis.reports.sections.report import Column, Section
from analysis.reports.time_to_event.followed import Followed, causes_of, days
from analysis.reports.time_to_event.options import in_words

FEWEST = 5
INDEPENDENT = (
    "Both take rows as independent; where patients have several courses the models below, whose errors allow for it, "
    "come first."
)


def tests_section(of: Followed) -> Section:
    """Gray's test of incidences and the log-rank test of cause-specific hazards; the reason where there is none."""
    frame = of.at_risk
    time, cause, names = days(frame), causes_of(frame), of.groups.names
    rows: list[dict[str, Any]] = []
    notes = []
    for name, asks, made in (
        ("Gray's test", "cumulative incidence", lambda: gray(time, cause, names, of=EVENT)),
        (
            "log-rank test",
            "cause-specific hazard, what competes censored",
            lambda: log_rank(time, cause == EVENT, names),
        ),
    ):
        row = {"test": name, "asks": asks, "n": len(frame), "unknown": of.unknown, "low": None, "high": None}
        try:
            found = made()
        except NotEstimable as fault:
            notes.append(f"{name}: {fault}")
            rows.append(
                {**row, "estimate": None, "df": None, "p": None, "p_text": "not estimable", "reason": str(fault)}
            )
            continue
        rows.append(
            {
                **row,
                "estimate": found.statistic,
                "df": found.df,
                "p": found.p,
                "p_text": p_text(found.p),
                "reason": None,
            }
        )
    return Section(
        name="time_tests",
        title=f"Do groups by {of.groups.heading} differ?",
        rows=rows,
        columns=(
            Column("test", "test"),
            Column("of", "asks"),
            Column("p", "p_text"),
            Column("n", "n", "count", free=True),
            Column("chi-squared", "estimate", "number", digits=2),
            Column("df", "df", "count", free=True),
        ),
        notes=(*notes, INDEPENDENT),
    )


def mean_section(of: Followed, level: float) -> Section | None:
    """Restricted means of two groups; None when there are not exactly two."""
    if len(of.groups.labels) != 2:
        return None
    frame = of.at_risk
    free = "the event and of what competes with it" if of.competing else "the event"
    ended = causes_of(frame) >= EVENT
    curves = [kaplan_meier(days(frame)[on], ended[on], level=level) for _, on in of.groups]
    reach = min(curve.last for curve in curves)
    horizon = max((one for one in of.options.horizons if one <= reach), default=int(reach))
    rows: list[dict[str, Any]] = []
    notes = [f"Free of {free}, up to {in_words(horizon)}, the longest horizon that both groups reach."]
    try:
        bare = [label for label, on in of.groups if on.sum() < FEWEST or not ended[on].any()]
        if bare:
            raise NotEstimable(
                f"Mean days of {', '.join(bare)} are not told: with nobody who had the event, or fewer than {FEWEST} "
                "courses, their error would come out as next to nothing."
            )
        means = [restricted_mean(curve, horizon) for curve in curves]
        for label, one in zip(of.groups.labels, means, strict=True):
            rows.append(
                {"what": label, "estimate": one.estimate, "low": one.low, "high": one.high, "n": one.n, "p": None}
            )
        gap = restricted_mean_contrasts(means[1], means[0])["difference"]
        rows.append(
            {"what": f"difference: {of.groups.labels[1]} less {of.groups.labels[0]}", "estimate": gap.estimate,
             "low": gap.low, "high": gap.high, "n": len(frame), "p": gap.p}
        )  # fmt: skip
    except NotEstimable as fault:
        notes.append(str(fault))
    return Section(
        name="time_restricted_mean",
        title="Days free of the event, two groups",
        rows=[{**row, "unknown": of.unknown, "p_text": p_text(row["p"]), "days": horizon} for row in rows],
        columns=(
            Column("", "what"),
            Column("p", "p_text"),
            Column("n", "n", "count", free=True),
            Column("days", "estimate", "number"),
            Column("from", "low", "number"),
            Column("to", "high", "number"),
        ),
        definition={"method": "area under the Kaplan-Meier curve, Greenwood plug-in error", "days": horizon},
        notes=(*notes, "Rows are taken as independent."),
    )


def p_text(p: float | None) -> str:
    """A p value as it is printed; a dash for none."""
    if p is None:
        return "-"
    return "< 0.001" if p < 0.001 else f"{p:.3f}"
