"""Rows of yes, no or not computable: the rate among the answered, and what it would be if all others were no or yes."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.estimators.proportions import ProportionMethod
from analysis.reports.request.grouping import Grouping
from analysis.reports.sections.proportion_rows import proportion_rows

BoolArray = npt.NDArray[np.bool_]


def answer_rows(
    *,
    state: pd.Series,
    missing: pd.Series,
    due: BoolArray,
    eligible: BoolArray,
    cluster: npt.NDArray[np.int64],
    grouping: Grouping,
    interval: ProportionMethod,
    level: float,
) -> list[dict[str, Any]]:
    """One record a group.

    state: boolean, missing where not computable. missing: the inputs that lack. due: units whose window has passed;
    the others stand in `not_due` alone. eligible: those among whom the rate is; what is known of others enters
    `known_otherwise` and the bounds. Keys besides those of `proportion_rows`: unknown (due and not answered),
    known_otherwise (yes and no of the due that are not eligible) and known_otherwise_count (both), not_computable (the
    lists of missing inputs, each with its number, that make up unknown), not_due, lower and upper (the rate of all due
    if none, or all, of the unknown had the event). n, unknown, known_otherwise_count and not_due make up the group.
    """
    answered = due & state.notna().to_numpy(bool)
    known = answered & eligible
    event = state.fillna(False).to_numpy(bool)
    rows = proportion_rows(
        event=event, counted=known, cluster=cluster, grouping=grouping, interval=interval, level=level
    )
    lacking = missing.to_numpy(object)
    for place, row in enumerate(rows):
        own = grouping.codes == place
        unknown = own & due & ~answered
        otherwise = own & answered & ~eligible
        many = int((own & due).sum())
        row.update(
            unknown=int(unknown.sum()),
            known_otherwise_count=int(otherwise.sum()),
            known_otherwise={"yes": int((event & otherwise).sum()), "no": int((~event & otherwise).sum())},
            not_computable=dict(Counter(str(each) for each in lacking[unknown]).most_common()),
            not_due=int((own & ~due).sum()),
            lower=int((event & answered & own).sum()) / many if many else None,
            upper=int(((event & answered & own) | unknown).sum()) / many if many else None,
        )
    return rows
