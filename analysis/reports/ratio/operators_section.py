"""How much of the variance is the operator's."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from analysis.design.errors import DesignError
from analysis.design.matrix import design_of
from analysis.estimators.proportions import normal_quantile
from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.regression.random_intercept import LOGISTIC_VARIANCE, random_intercept_logistic
from analysis.reports.ratio.fitting import Made
from analysis.reports.sections.report import Column, Section

FEWEST = 5
NO_SPREAD = 0.01
COLUMNS = (
    Column("measure", "measure"),
    Column("operators", "operators", "count"),
    Column("n", "n", "count"),
    Column("estimate", "estimate", "ratio"),
    Column("interval", "low high", "ratio_range"),
)


def operators_section(made: Made) -> Section:
    """The spread between operators beside the model's own terms; why there is none where it cannot be told."""
    rows, notes = _worked_out(made)
    return Section(
        name="operators",
        title="How much of the variance is the operator's",
        rows=rows,
        columns=COLUMNS,
        definition={
            "share": "sd^2 / (sd^2 + pi^2/3), Snijders TAB, Bosker RJ, Multilevel Analysis, 2012 (from memory)",
            "median_odds_ratio": "Larsen K, Merlo J, Am J Epidemiol 2005;161:81-88",
            "fewest_operators": FEWEST,
        },
        notes=notes,
    )


def _worked_out(made: Made) -> tuple[list[dict[str, Any]], list[str]]:
    if made.rows.kind != "yes_no":
        return [], ["Not worked out: the spread between operators is told for yes/no outcomes."]
    if any(term.column == "operator" for term in made.design.terms):
        return [], ["Not worked out: operators are held alike in the model, so that none of their spread is left."]
    if made.model.fit == "firth":
        return [], ["Not worked out: the events do not carry a spread between operators beside the model's terms."]
    frame = made.frame
    try:
        design = design_of(
            frame, made.design.terms, outcome="outcome", interactions=made.model.interactions, needed=["operator"]
        )
        who = frame["operator"].astype(str).to_numpy(dtype=object)[design.rows]
        many = len(np.unique(who))
        if many < FEWEST:
            return [], [
                f"Not worked out: there are {many} operators, and from fewer than {FEWEST} a spread cannot be told."
            ]
        with np.errstate(over="ignore"):  # a step that goes too far is taken back by the search
            fit = random_intercept_logistic(made.y[design.rows], design.x, design.names, who)
    except (DesignError, NotEstimable, np.linalg.LinAlgError) as fault:
        return [], [f"Not worked out: {fault}"]
    sd, error = float(fit.extra["sd"]), float(fit.extra["sd_log_standard_error"])
    if sd < NO_SPREAD or not math.isfinite(error) or error > 5:
        return [], [f"Among {many} operators no spread is found beyond chance (standard deviation {sd:.2g} log odds)."]
    half = normal_quantile(level=made.model.level) * error
    limits = sd, sd * math.exp(-half), sd * math.exp(half)
    quarter = 0.6744897501960817

    def row(measure: str, of: Any) -> dict[str, Any]:
        estimate, low, high = (of(each) for each in limits)
        return {
            "measure": measure,
            "operators": many,
            "n": len(design.x),
            "unknown": design.dropped.get("operator", 0),
            "estimate": estimate,
            "low": low,
            "high": high,
        }

    return (
        [
            row("standard deviation between operators, log odds", float),
            row("share of the variance", lambda s: s**2 / (s**2 + LOGISTIC_VARIANCE)),
            row("median odds ratio between two operators", lambda s: math.exp(math.sqrt(2) * s * quarter)),
        ],
        [
            "A median odds ratio of 1 is no difference: it is by how much the odds would change, at the median, from "
            f"the lower to the higher of two operators picked at random. With {many} operators the limits are wide "
            "and rest on a normal spread. No figure ranks an operator."
        ],
    )
