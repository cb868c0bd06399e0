"""Handlings of the unscanned that need a model: their words, and what of them is refused at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from analysis.outcomes.definition import Definition
from analysis.outcomes.size_classes import CLASS_THRESHOLDS
from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.stone_free.rates import UNSCANNED

MODELLED = {
    "weighted": "weighted: n is those with a study adequate at the threshold, each weighing the inverse of its chance "
    "of such a study, so that they stand for all that are eligible, and those that count as failed without any study "
    "(treated again, abandoned, kidney lost), each weighing 1 even when it was studied, and on an inadequate study; "
    "n of 'adequate' leaves out those of the latter who failed on an inadequate study",
    "imputed": "imputed: n is all that are eligible, the size of the largest fragment drawn many times where it is not "
    "known, among the sizes that what was seen leaves possible",
}
HANDLINGS = {**UNSCANNED, **MODELLED}
"""Everything that may be done about the unknown, in words."""


def check_modelled(named: Sequence[str], definition: Definition, *, strata: bool) -> None:
    """Refuse what a model cannot answer.

    Raises MalformedOptionError for unit stone, for imputed at another threshold than 0, 2 and 4 mm, and for strata.
    """
    asked = [mode for mode in named if mode in MODELLED]
    if not asked:
        return
    plain = ", ".join(UNSCANNED)
    if definition.unit == "stone":
        raise MalformedOptionError(
            f"--unscanned {asked[0]} cannot be asked of --unit stone: a fragment that nobody linked leaves every stone "
            "of the side open while a clear scan settles them all, so that whether a stone is known depends on what "
            f"was found. Ask for --unit side, or for {plain}."
        )
    if strata:
        raise MalformedOptionError(
            f"--strata cannot be joined to --unscanned {asked[0]}: the model has burden, technique and operator in it "
            f"already, and no effect within strata is worked out from it. Leave --strata out, or ask for {plain}."
        )
    if "imputed" in named:
        for one in definition.thresholds:
            if one not in CLASS_THRESHOLDS:
                raise MalformedOptionError(
                    f"--unscanned imputed cannot answer --threshold {one.code}: it imputes the size class (none, "
                    "over 0 to 2, over 2 to 4, over 4 mm), which says nothing of a limit inside a class. Ask for "
                    f"--threshold 0, 2 or 4, or for {plain} or weighted."
                )


def with_records(rows: pd.DataFrame, records: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """Rows of rates with these values put in, one record a row; None is missing; counts and words stay as they are."""
    made = rows.copy()
    for name in records[0] if records else ():
        values = [record[name] for record in records]
        kind = "int64" if name in ("n", "patients") else object if name in ("stone_free", "reason") else "float64"
        made[name] = pd.Series(values, index=rows.index, dtype=kind)
    return made
