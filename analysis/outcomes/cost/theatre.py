"""Operations: to which course each belongs, and its theatre minutes."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pandas as pd

from analysis.outcomes.cost.charges import rated
from analysis.outcomes.cost.placement import placed
from analysis.outcomes.cost.rates import ANY

Minutes = Literal["room", "operating"]


def operations_placed(sides: pd.DataFrame, begun: pd.DataFrame, horizon: int) -> pd.DataFrame:
    """Each side of an operation with the course it belongs to and its part of the operation.

    sides: of the frame `sides` of costs. Columns: side_id, course_id, share (one over the sides treated), settled,
    days, and those of `sides`; sides outside every horizon have no row.
    """
    events = pd.DataFrame(
        {
            "event_id": sides["side_id"],
            "patient_id": sides["patient_id"],
            "renal_unit_id": sides["renal_unit_id"],
            "on_low": sides["operated_on"],
            "on_high": sides["operated_on"],
            "number": sides["day_number"].astype(float),
        }
    )
    made = placed(events, begun, horizon).rename(columns={"event_id": "side_id"})
    made = made.merge(sides.drop(columns=["course_id"]), on="side_id", validate="one_to_one")
    return made.assign(share=1.0 / made["parties"].to_numpy(dtype=float))


def theatre(
    operations: pd.DataFrame, rates: pd.DataFrame, *, minutes: Minutes, price_year: int | None = None
) -> pd.DataFrame:
    """Charges of theatre minutes: minutes in the room where recorded, else operating minutes; or the latter alone.

    operations: from `operations_placed`.
    """
    room, operating = (operations[name].astype("Float64") for name in ("room_min", "operating_min"))
    taken = operating if minutes == "operating" else room.fillna(operating)
    by_room = room.notna() & (minutes == "room")
    used = operations.assign(
        what=np.where(by_room, "minutes in the room", "operating minutes"),
        source_id=operations["operation_id"],
        on=operations["operated_on"],
        quantity=taken.to_numpy(dtype=float, na_value=np.nan),
        item="theatre_minute",
        details=ANY,
    )
    return rated(used, rates, component="theatre", price_year=price_year)
