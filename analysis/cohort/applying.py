"""Applying rules to a cohort frame: which rows stay, and the flow."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pandas as pd

from analysis.cohort.columns import NOT_RECORDED
from analysis.cohort.flow import Flow, FlowCount, Mask
from analysis.cohort.rules import Rules, Step


def apply_rules(
    frame: pd.DataFrame,
    rules: Rules | None = None,
    *,
    research: bool = False,
    not_asked_out: frozenset[str] = frozenset(),
    as_of: dt.date | None = None,
) -> tuple[Mask, Flow]:
    """Which rows of a cohort frame stay, and how the others fell out.

    Args:
        frame: a cohort frame, one row per treated side.
        rules: steps of inclusion and exclusion, applied in their order.
        research: leave out patients who refused research use.
        not_asked_out: codes of sites that leave out those who were not asked as well.
        as_of: leave out operations after this day.
    """
    count = FlowCount(frame)
    if as_of is not None:
        count.step(f"operated on after {as_of}", fails=(frame["operated_on"] > pd.Timestamp(as_of)).to_numpy())
    if research:
        refused = (frame["research_use"] == "no").to_numpy()
        count.step("patient refused research use", fails=refused)
        if not_asked_out:
            not_asked = (frame["research_use"].isna() | (frame["research_use"] == "not_asked")).to_numpy()
            of_site = frame["site"].isin(list(not_asked_out)).to_numpy()
            count.step("patient not asked about research use", fails=not_asked & of_site)
    for step in rules.steps if rules else ():
        fails, missing = judged(frame, step)
        count.step(
            step.reason,
            fails=fails,
            missing=missing,
            missing_out=step.missing_out,
            column=step.column.name,
            condition=step.condition,
        )
    return count.inside, count.flow()


def judged(frame: pd.DataFrame, step: Step) -> tuple[Mask, Mask]:
    """(rows that a step leaves out by their value, rows whose value is missing)."""
    values = frame[step.column.name]
    missing = (values.isna() | (values == NOT_RECORDED if step.column.holds == "code" else False)).to_numpy(dtype=bool)
    meets = np.ones(len(frame), dtype=bool)
    for operator, value in step.conditions:
        meets &= _compared(values, operator, value).fillna(False).to_numpy(dtype=bool)
    fails = ~meets if step.verb == "include" else meets
    return fails & ~missing, missing


def _compared(values: pd.Series, operator: str, value: Any) -> Any:
    if isinstance(value, dt.date):
        value = pd.Timestamp(value)
    match operator:
        case "at_least" | "from":
            return values >= value
        case "at_most" | "until":
            return values <= value
        case "above":
            return values > value
        case "below":
            return values < value
        case "equals":
            return values == value
        case "containing":
            return _containing(values, value)
    listed = [pd.Timestamp(each) if isinstance(each, dt.date) else each for each in value]
    return values.isin(listed) if operator == "among" else ~values.isin(listed)


def _containing(values: pd.Series, codes: tuple[str, ...]) -> pd.Series:
    wanted = [level for level in values.cat.categories if set(level.split("+")) & set(codes)]
    return values.isin(wanted)
