"""Up to which day each patient's stone events are known, and by what; and what is read: frames with days as numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.outcomes.tidy import Tidy

BY_SETTLED, BY_CONTACT, BY_SEEN, BY_NOTHING = "stone events known to", "latest contact", "last known date", "nothing"
BY_AS_OF, BY_IMAGE = "as-of date", "last image"
BASES = (BY_SETTLED, BY_CONTACT, BY_SEEN, BY_NOTHING, BY_AS_OF, BY_IMAGE)
"""What the end of follow-up may rest on, the better first."""


@dataclass(frozen=True)
class Later:
    """What followed, nothing dated after as-of; days (since 1970-01-01) in low and high.

    entries: entry_id, patient_id, renal_unit_id (Int64), what, of_planned_stage, low, high. complications: the same
    with complication_id and dated. known: one row a patient_id (index) with `day` and `basis` (of BASES).
    """

    entries: pd.DataFrame
    complications: pd.DataFrame
    known: pd.DataFrame


def later_of(frames: Mapping[str, pd.DataFrame], tidy: Tidy) -> Later:
    """Bring the frames of the subject `follow_up` to the shape of `tidy`.

    frames: later, contacts, seen, complications (as `cohort.sql.follow_up` declares them).
    """
    return Later(
        entries=_dated(frames["later"], tidy.as_of).assign(
            of_planned_stage=lambda made: made["of_planned_stage"].fillna(False).astype(bool)
        ),
        complications=_dated(frames["complications"], tidy.as_of).assign(
            dated=lambda made: made["dated"].fillna(False).astype(bool)
        ),
        known=known_to(frames["contacts"], frames["seen"], tidy.as_of),
    )


def known_to(contacts: pd.DataFrame, seen: pd.DataFrame, as_of: int) -> pd.DataFrame:
    """The day up to which stone events are known, one row a patient (index), with its basis.

    Contacts held after as-of are not read, and a day that a contact names is cut at as-of. Sources are a ladder: one
    contact that names a day is better than any that does not.
    """
    held = contacts.assign(day=_days(contacts["contacted_on"]), named=_days(contacts["stone_events_known_to"]))
    held = held[held["day"] <= as_of]
    met = seen.assign(day=_days(seen["seen_on"]))
    met = met[met["day"] <= as_of]
    best = pd.DataFrame(index=pd.Index(np.unique(pd.concat([held["patient_id"], met["patient_id"]])), dtype="int64"))
    best.index.name = "patient_id"
    best["named"] = held.groupby("patient_id")["named"].max().clip(upper=as_of)
    best["contact"] = held.groupby("patient_id")["day"].max()
    best["met"] = met.groupby("patient_id")["day"].max()
    named, contact = best["named"].notna(), best["contact"].notna()
    best["day"] = best["named"].where(named, best["contact"].where(contact, best["met"])).astype("float64")
    best["basis"] = np.select([named, contact], [BY_SETTLED, BY_CONTACT], default=BY_SEEN)
    return best[["day", "basis"]]


def _days(values: pd.Series) -> pd.Series[float]:
    """Day numbers as floats, missing where there is no date."""
    whole = values.astype("datetime64[s]").dt.floor("D")
    return ((whole - pd.Timestamp("1970-01-01")) / pd.Timedelta(days=1)).astype("float64")


def _dated(frame: pd.DataFrame, as_of: int) -> pd.DataFrame:
    made = frame.drop(columns=["on_low", "on_high"])
    made["low"], made["high"] = _days(frame["on_low"]), _days(frame["on_high"])
    made["renal_unit_id"] = made["renal_unit_id"].astype("Int64")
    return made[made["low"] <= as_of].reset_index(drop=True)
