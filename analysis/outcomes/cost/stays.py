"""Stays in hospital: to which course each belongs, its nights and its days in intensive care."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.outcomes.cost.charges import rated
from analysis.outcomes.cost.components import ELSEWHERE
from analysis.outcomes.cost.placement import placed
from analysis.outcomes.cost.rates import ANY

LAST_OF_DAY = 99.0
"""Number of the day of what comes after every operation of that day."""


def stays(
    admissions: pd.DataFrame,
    readmissions: pd.DataFrame,
    sides: pd.DataFrame,
    operations: pd.DataFrame,
    begun: pd.DataFrame,
    horizon: int,
) -> pd.DataFrame:
    """Each stay with the courses it belongs to, its part, and its nights within the horizon.

    admissions, readmissions, sides: frames of the subject costs. operations: from `operations_placed`. begun: from
    `courses_begun`.

    A stay belongs to the operations that name it or, where none is named, that were done in it, in equal parts to the
    renal units operated on. One without an operation belongs to the renal unit of the complication it treated, else
    to the patient's latest course. Nights run from admission to discharge, 0 when both are on one day; those after
    the horizon are not counted, and those before the index in its own stay are. A side operated on in no stay has a
    row of its own without nights. Columns: course_id, source_id, site_id, on, share, settled, elsewhere, nights (NaN
    without a discharge), intensive (days, blank as 0), said (whether intensive care was recorded).
    """
    stay_of = _stay_of_each_side(admissions, sides)
    again = _without_operation(admissions[~admissions["admission_id"].isin(stay_of)], readmissions, begun, horizon)
    both = pd.concat([_with_operation(stay_of, sides, operations), again], ignore_index=True)
    made = both.merge(admissions, on="admission_id", validate="many_to_one")
    made = made.merge(begun[["course_id", "begun_on"]], on="course_id", validate="many_to_one")
    last = made["begun_on"] + pd.Timedelta(days=horizon + 1)
    cut = (made["discharged_on"] > last).to_numpy(dtype=bool)
    nights = (made["discharged_on"].mask(cut, last) - made["admitted_on"]).dt.days.astype(float).clip(lower=0)
    intensive = made["intensive_care_days"].fillna(0.0)
    stay = pd.DataFrame(
        {
            "course_id": made["course_id"],
            "source_id": made["admission_id"],
            "site_id": made["site_id"],
            "on": made["admitted_on"],
            "share": made["share"],
            "settled": made["settled"].astype(bool),
            "elsewhere": (made["place"] == ELSEWHERE).fillna(False).astype(bool),
            "nights": nights,
            "intensive": np.where(cut, np.fmin(intensive, nights), intensive),
            "said": made["intensive_care_days"].notna(),
        }
    )
    lone = operations[~operations["side_id"].isin(stay_of.index)]
    columns = {"course_id": lone["course_id"], "source_id": lone["operation_id"], "site_id": lone["site_id"]}
    columns |= {"on": lone["operated_on"], "share": lone["share"]}
    unknown = pd.DataFrame(columns).assign(settled=True, elsewhere=False, nights=np.nan, intensive=0.0, said=False)
    return pd.concat([part for part in (stay, unknown) if len(part)] or [stay], ignore_index=True)


def stay_charges(stayed: pd.DataFrame, rates: pd.DataFrame, price_year: int | None = None) -> list[pd.DataFrame]:
    """Charges of bed days and of days in intensive care; the latter are taken off the nights.

    stayed: from `stays`. A stay elsewhere is costed only where a rate with the detail `elsewhere` is there.
    """
    made = []
    wards = (stayed["nights"] - stayed["intensive"]).clip(lower=0)
    for component, item, quantity, what in (
        ("beds", "bed_day", wards, "nights"),
        ("intensive_care", "intensive_care_day", stayed["intensive"], "days in intensive care"),
    ):
        details = np.where(stayed["elsewhere"], ELSEWHERE, ANY)
        words = np.where(stayed["elsewhere"], f"{what} elsewhere", what)
        used = stayed.assign(what=words, quantity=quantity, item=item, details=details)
        made.append(rated(used, rates, component=component, price_year=price_year, optional=used["elsewhere"]))
    return made


def _stay_of_each_side(admissions: pd.DataFrame, sides: pd.DataFrame) -> pd.Series:
    """admission_id by side_id: as the operation names it, else the patient's stay in which its day lies."""
    named = sides[sides["admission_id"].notna()].set_index("side_id")["admission_id"].astype("int64")
    rest = sides[sides["admission_id"].isna()][["side_id", "patient_id", "operated_on"]]
    near = rest.merge(admissions, on="patient_id").sort_values(["admitted_on", "admission_id"])
    inside = (near["admitted_on"] <= near["operated_on"]) & (near["operated_on"] <= near["discharged_on"])
    found = near[inside.to_numpy(dtype=bool)].drop_duplicates("side_id", keep="last")
    return pd.concat([named, found.set_index("side_id")["admission_id"].astype("int64")])


def _with_operation(stay_of: pd.Series, sides: pd.DataFrame, operations: pd.DataFrame) -> pd.DataFrame:
    """admission_id, course_id, share, settled: in equal parts to the renal units operated on, in a course or not."""
    unit_of = sides.set_index("side_id")["renal_unit_id"]
    pairs = pd.DataFrame({"admission_id": stay_of, "renal_unit_id": unit_of.reindex(stay_of.index)})
    units = pairs.drop_duplicates().groupby("admission_id").size()
    made = operations[operations["side_id"].isin(stay_of.index)].drop(columns="admission_id").sort_values("side_id")
    made = made.assign(admission_id=made["side_id"].map(stay_of).astype("int64"))
    # A renal unit takes a stay once, however often it was operated on in it.
    made = made.drop_duplicates(["admission_id", "renal_unit_id"])
    made = made.assign(share=1.0 / made["admission_id"].map(units).astype(float))
    return made[["admission_id", "course_id", "share", "settled"]]


def _without_operation(
    admissions: pd.DataFrame, readmissions: pd.DataFrame, begun: pd.DataFrame, horizon: int
) -> pd.DataFrame:
    units = readmissions.groupby("admission_id")["renal_unit_id"].first()
    events = pd.DataFrame(
        {
            "event_id": admissions["admission_id"],
            "patient_id": admissions["patient_id"],
            "renal_unit_id": admissions["admission_id"].map(units).astype("Int64"),
            "on_low": admissions["admitted_on"],
            "on_high": admissions["admitted_on"],
            # Somebody who comes back on the day of the operation comes after it.
            "number": LAST_OF_DAY,
        }
    )
    made = placed(events, begun, horizon).rename(columns={"event_id": "admission_id"})
    return made[["admission_id", "course_id", "share", "settled"]]
