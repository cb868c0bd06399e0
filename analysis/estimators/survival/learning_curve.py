"""How an outcome changes with the operator's case number: a model on the log of it, or a spline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np
import pandas as pd

from analysis.design.matrix import Design, design_of
from analysis.design.terms import Term
from analysis.estimators.regression.fitted import Effect, Fitted, NotEstimable, WaldTest, effects, wald_test
from analysis.estimators.regression.logistic import logistic
from analysis.estimators.regression.random_intercept import random_intercept_logistic
from analysis.estimators.regression.skewed import gamma_log
from analysis.estimators.regression.standardised_mean import standardised_means
from analysis.estimators.regression.standardised_risk import Standardised, standardised_risks

Kind = Literal["time", "failure"]
Shape = Literal["log", "spline"]
Between = Literal["pooled", "within"]
DOUBLINGS = "doublings_of_case_number"
FEW_OPERATORS = 10


@dataclass(frozen=True, kw_only=True)
class LearningCurve:
    """fit: the model. per_doubling: what twice as many cases go with (None for a spline). curve: the mean, or the risk,
    of the cohort at case numbers, none where the model speaks of single operators. bent: whether the spline differs
    from a straight line. n, unknown: rows used and left out. operators; reach: the case number that at least two of
    them came to, where the curve ends.
    """

    fit: Fitted
    per_doubling: Effect | None
    curve: tuple[tuple[int, Standardised], ...]
    bent: WaldTest | None
    n: int
    unknown: int
    operators: int
    reach: int
    formula: str
    method: str
    remarks: tuple[str, ...]


def learning_curve(
    frame: pd.DataFrame,
    *,
    outcome: str,
    case_number: str,
    operator: str,
    kind: Kind,
    shape: Shape = "log",
    between: Between = "pooled",
    adjusters: Sequence[Term] = (),
    at: Sequence[int] = (),
    knots: int = 4,
    level: float = 0.95,
    events_per_parameter: float = 10.0,
    force: bool = False,
) -> LearningCurve:
    """Fit the curve.

    frame: one row an operation. outcome, case_number (1, 2, ... of that operator), operator: its columns. kind:
    `time`, above 0, by a gamma model of the mean (ratio of means); `failure`, 0 or 1, by a logistic model. shape: a
    straight line in log2 of the case number, or a restricted cubic spline of the number. between: `pooled` compares all
    operators, with errors in clusters of operators and limits of t with operators - 1 degrees of freedom; `within`
    compares cases of one operator (levels of their own for a time, a random intercept for failure), as early cases of
    all and late cases of a few differ in who operates too. adjusters: what the cases differ in. at: case numbers of the
    curve, by default 1, 2, 5, 10, ... up to the reach; none beyond it.

    The power law of practice (a straight line of log time on log trials): Newell A, Rosenbloom PS, in Cognitive Skills
    and Their Acquisition, Erlbaum 1981, from memory.
    Raises NotEstimable with fewer than two operators, or where no model can be made; DesignError for the columns.
    """
    for value, known in ((kind, Kind), (shape, Shape), (between, Between)):
        if value not in get_args(known):
            raise ValueError(f"{value!r} is none of {', '.join(get_args(known))}.")
    data = _with_doublings(frame, case_number, operator)
    column = DOUBLINGS if shape == "log" else case_number
    learning = Term(column=column) if shape == "log" else Term(column=column, shape="spline", knots=knots)
    own = [Term(column=operator, shape="levels")] if (between, kind) == ("within", "time") else []
    design = design_of(
        data, [learning, *adjusters, *own], outcome=outcome, needed=[outcome, case_number, operator]
    )  # fmt: skip
    rows = data.iloc[design.rows]
    of = rows[operator].to_numpy()
    operators = len(np.unique(of))
    if operators < 2:
        raise NotEstimable(
            "There is one operator, so that learning cannot be told from what else changed over the years, and no "
            "error can be told. Look at the cumulative sum with its permutation band."
        )
    fit = _fit(design, rows, outcome, of, kind, between, events_per_parameter, force=force)
    reach = _reach(rows[case_number], of)
    conditional = (between, kind) == ("within", "failure")
    return LearningCurve(
        fit=fit,
        per_doubling=effects(fit, level=level)[1] if shape == "log" else None,
        curve=() if conditional else _curve(design, fit, rows, case_number, _numbers(at, reach), kind, level),
        bent=wald_test(fit, design.curved_places(column), "curve in the case number") if shape == "spline" else None,
        n=len(rows),
        unknown=len(frame) - len(rows),
        operators=operators,
        reach=reach,
        formula=design.formula,
        method=f"{fit.kind}; {fit.covariance_method}",
        remarks=_remarks(operators, between, conditional=conditional) + fit.remarks,
    )


def _with_doublings(frame: pd.DataFrame, case_number: str, operator: str) -> pd.DataFrame:
    for name in (case_number, operator):
        if name not in frame:
            raise ValueError(f"There is no column {name}.")
    number = frame[case_number].astype(float)
    wrong = int((number < 1).sum())
    if wrong:
        raise NotEstimable(f"{wrong:,} case numbers are below 1; the first case of an operator is number 1.")
    made = frame.copy()
    made[DOUBLINGS], made[case_number] = np.log2(number), number
    made[operator] = frame[operator].astype("string")
    return made


def _fit(
    design: Design, rows: pd.DataFrame, outcome: str, of: np.ndarray, kind: Kind, between: Between, wanted: float,
    *, force: bool,
) -> Fitted:  # fmt: skip
    y = rows[outcome].to_numpy(dtype=np.float64)
    if kind == "time":
        fit = gamma_log(y, design.x, design.names, cluster=of)
    elif between == "within":
        return random_intercept_logistic(y, design.x, design.names, of)
    else:
        fit = logistic(y, design.x, design.names, cluster=of, events_per_parameter=wanted, force=force)
    return replace(fit, df=float(len(np.unique(of)) - 1))


def _reach(number: pd.Series, of: np.ndarray) -> int:
    furthest = number.groupby(of).max().sort_values()
    return int(furthest.iloc[-2])


def _numbers(at: Sequence[int], reach: int) -> list[int]:
    if at:
        return [number for number in at if 1 <= number <= reach]
    round_ones = [step * 10**ten for ten in range(5) for step in (1, 2, 5)]
    return sorted({*(number for number in round_ones if number <= reach), reach})


def _curve(
    design: Design, fit: Fitted, rows: pd.DataFrame, case_number: str, numbers: Sequence[int], kind: Kind, level: float
) -> tuple[tuple[int, Standardised], ...]:
    """The cohort's mean or risk if every operation had been of that case number."""
    matrices = [design.encode(rows.assign(**{case_number: float(n), DOUBLINGS: np.log2(n)})) for n in numbers]
    labels = [f"case {number:,}" for number in numbers]
    made = (standardised_means if kind == "time" else standardised_risks)(fit, matrices, labels, level=level)
    return tuple(zip(numbers, made, strict=True))


def _remarks(operators: int, between: Between, *, conditional: bool) -> tuple[str, ...]:
    said = ["Case numbers are known from the day an operator entered the registry, or as given for the time before."]
    if between == "pooled":
        said.append("Operators with many cases may differ from those with few in more than practice.")
    if operators < FEW_OPERATORS:
        said.append(f"With {operators} operators the errors are uncertain themselves: read limits as too narrow.")
    if conditional:
        said.append("The effect is within an operator; no curve of the whole cohort follows from it.")
    return tuple(said)
