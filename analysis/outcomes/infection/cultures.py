"""Cultures after an operation, by the count from which they are positive."""

from __future__ import annotations

import pandas as pd

from analysis.outcomes.infection.answers import Answer, answer

URINE = ("urine", "pelvic_urine")
NONE_TAKEN = "culture after the operation"


def culture_answer(operations: pd.DataFrame, cultures: pd.DataFrame, log10: float, days: int) -> Answer:
    """Whether a culture of urine taken within the window reached the count.

    operations: operation_id as index. cultures: operation_id, phase, days_after, specimen, result, highest_log10,
    uncounted (an organism without a count, or none named). A mixed or contaminated culture decides nothing.
    """
    own = _after(cultures, days)
    return _folded(operations, own[own["specimen"].isin(URINE)], log10)


def any_growth(operations: pd.DataFrame, cultures: pd.DataFrame, log10: float, days: int) -> Answer:
    """The same of any specimen; blood counts with any growth. No culture taken is no growth, for infection at all."""
    made = _folded(operations, _after(cultures, days), log10)
    return answer(made.state.mask(made.missing == NONE_TAKEN, False), made.missing)


def _after(cultures: pd.DataFrame, days: int) -> pd.DataFrame:
    return cultures[(cultures["phase"] == "after").fillna(False) & cultures["days_after"].between(0, days)]


def _folded(operations: pd.DataFrame, own: pd.DataFrame, log10: float) -> Answer:
    positive = (own["result"] == "positive").fillna(False)
    negative = (own["result"] == "negative").fillna(False)
    enough = (own["highest_log10"] >= log10) | (own["specimen"] == "blood").fillna(False)
    proven = positive & enough
    under = negative | (positive & ~enough & ~own["uncounted"].fillna(True))
    uncounted = positive & ~enough & own["uncounted"].fillna(True)

    def among(rows: pd.Series) -> pd.Series:
        return pd.Series(operations.index.isin(own.loc[rows.astype(bool), "operation_id"]), index=operations.index)

    state = pd.Series(pd.NA, index=operations.index, dtype="boolean")
    state = state.mask(among(under) & ~among(uncounted), False).mask(among(proven), True)
    missing = pd.Series(NONE_TAKEN, index=operations.index, dtype="string")
    return answer(state, missing.mask(among(uncounted), "count of the culture"))
