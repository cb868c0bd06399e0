"""Charges: one row for each thing used by a course, with what it costs or why that is not known.

Columns: course_id, component (of `components.COMPONENTS`), what (in words), source_id (of the record), on (day),
quantity, share (of the course), price (of one), currency, price_year, state (COSTED, MISSING, NOT_COSTED), reason
(of MISSING or NOT_COSTED) and amount (quantity x price x share; NaN unless costed).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from analysis.outcomes.cost.components import COSTED, MISSING, NOT_COSTED
from analysis.outcomes.cost.rates import with_rates

COLUMNS = {
    "course_id": "int64",
    "component": "string",
    "what": "string",
    "source_id": "int64",
    "on": "datetime64[s]",
    "quantity": "float64",
    "share": "float64",
    "price": "float64",
    "currency": "string",
    "price_year": "Int64",
    "state": "string",
    "reason": "string",
    "amount": "float64",
}
NO_RATE = "no rate"
NO_PRICE = "no price"
NOT_RECORDED = "not recorded"
DATE_OPEN = "date known to the month or year"


def rated(
    used: pd.DataFrame,
    rates: pd.DataFrame,
    *,
    component: str,
    price_year: int | None,
    optional: pd.Series | bool = False,
) -> pd.DataFrame:
    """Charges of things that have a rate.

    used: course_id, what, source_id, on, quantity, share, settled, site_id, item, details. A quantity that is missing
    was not recorded. optional: of each row, or all, whether it is costed only where the unit has a rate for it.
    """
    used = used.reset_index(drop=True)
    made = with_rates(used, rates, price_year).assign(component=component)
    return stated(made, optional=optional, lacking=NO_RATE)


def stated(made: pd.DataFrame, *, optional: pd.Series | bool = False, lacking: str) -> pd.DataFrame:
    """Charges with their state, reason and amount, of rows with price, quantity and settled; see `rated`."""
    may = np.broadcast_to(np.asarray(optional, dtype=bool), (len(made),))
    price = made["price"].to_numpy(dtype=float)
    quantity = made["quantity"].to_numpy(dtype=float, na_value=np.nan)
    settled = made["settled"].to_numpy(dtype=bool)
    unpriced, unrecorded = np.isnan(price), np.isnan(quantity)
    nothing = (quantity == 0) & settled
    faults = [nothing, unpriced & may, ~settled, unrecorded, unpriced]
    state = np.select(faults, [COSTED, NOT_COSTED, MISSING, MISSING, MISSING], COSTED)
    reason = np.select(faults, ["", lacking, DATE_OPEN, NOT_RECORDED, lacking], "")
    # What was used none of costs nothing, whatever one of it costs.
    amount = np.where(nothing, 0.0, quantity * price * made["share"].to_numpy(dtype=float))
    amount = np.where(state == COSTED, amount, np.nan)
    whole = made.assign(state=state, reason=reason, amount=amount)
    return whole[list(COLUMNS)].astype(COLUMNS)


def together(parts: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """All charges in one frame, in the order of course, component, day and record."""
    filled = [part for part in parts if len(part)]
    nothing = pd.DataFrame(columns=list(COLUMNS)).astype(COLUMNS)
    whole = pd.concat(filled, ignore_index=True) if filled else nothing
    return whole.sort_values(["course_id", "component", "on", "source_id"], ignore_index=True, kind="stable")
