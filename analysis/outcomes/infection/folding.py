"""From days to the operation: yes on any day; no when every day that was observed says no."""

from __future__ import annotations

import pandas as pd

from analysis.outcomes.infection.answers import JOINED, Answer, answer


def folded(
    operation_id: pd.Index, days: pd.DataFrame, state: pd.Series, *, seen: pd.Series, missing: pd.Series, nothing: str
) -> Answer:
    """One answer an operation.

    operation_id: the operations asked about. days: rows with operation_id. state: of each day, boolean. seen: whether
    anything that the definition needs was measured that day; other days say nothing. missing: of each day, the inputs
    that it lacks. nothing: what is missing for an operation without any such day.
    """
    own = pd.DataFrame(
        {"operation_id": days["operation_id"], "yes": state.fillna(False), "open": state.isna(), "missing": missing}
    )[seen.fillna(False).astype(bool)]
    by = own.groupby("operation_id")
    yes, unsettled = by["yes"].any(), by["open"].any()
    made = pd.Series(False, index=yes.index, dtype="boolean").mask(unsettled, pd.NA).mask(yes, True)
    lacking = own[own["open"]].groupby("operation_id")["missing"].agg(_all_named)
    told = lacking.reindex(operation_id).astype("string")
    none = ~pd.Series(operation_id.isin(yes.index), index=operation_id)
    return answer(made.reindex(operation_id).astype("boolean"), told.mask(none, nothing))


def _all_named(lists: pd.Series) -> str:
    named = [name for one in lists for name in str(one).split(JOINED) if name]
    return JOINED.join(dict.fromkeys(named))
