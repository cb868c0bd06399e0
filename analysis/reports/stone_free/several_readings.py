"""How many units were picked a study of which one examination was read more than once.

A pair of ultrasound and plain film has the readings of both, so its number of readings does not tell: two may be one
of each.
"""

from __future__ import annotations

import pandas as pd

EXAMINATIONS = ("examination_id", "second_examination_id")


def units_read_again(first: pd.DataFrame, examinations: pd.DataFrame) -> int:
    """Units with a picked examination of their renal unit that has two readings or more.

    first: one row a unit, with renal_unit_id, examination_id and second_examination_id (missing without one).
    examinations: one row a reading, with examination_id, renal_unit_id and reading_id (missing where nobody read it).
    """
    read = examinations[examinations["reading_id"].notna()]
    readings = read.groupby(["examination_id", "renal_unit_id"]).size()
    again = readings[readings > 1].index
    found = pd.Series(False, index=first.index)
    for name in EXAMINATIONS:
        picked = first[name].astype("Int64").fillna(-1).astype("int64")
        found |= pd.MultiIndex.from_arrays([picked, first["renal_unit_id"]]).isin(again)
    return int(found.sum())
