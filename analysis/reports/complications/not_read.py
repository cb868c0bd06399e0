"""What stands in the registry of counted units and is not read because it is dated after the as-of date.

Such a row cannot be taken for what was known at the as-of date, so it stays out; that it was there has to be said, or
a grading entered after the last contact would seem to have been overlooked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

if TYPE_CHECKING:
    from analysis.reports.complications.gathered import Gathered
    from analysis.reports.complications.units import Units

WORDS = {
    "complications": ("complication", "complications"),
    "therapies": ("therapy", "therapies"),
    "gradings": ("grading", "gradings"),
    "contacts": ("contact", "contacts"),
    "admissions": ("admission", "admissions"),
    "attendances": ("unplanned attendance", "unplanned attendances"),
    "deaths": ("death", "deaths"),
}
"""What is counted, by the name of its frame: one and several of it in words."""


def not_read_after_as_of(gathered: Gathered, units: Units) -> dict[str, int]:
    """By kind (WORDS), how many rows of the counted units are dated after the as-of date.

    Complications are those of the unit: of an operation its own and those that came after it as well, of a patient
    those of the first counted operation and of later ones; therapies and gradings are counted wherever their
    complication stands, if it is read or not. The others are those of the units' patients.
    """
    of_units = _complications_of(gathered, units)
    patients = set(units.frame["patient_id"])
    found = {}
    for name in WORDS:
        later = gathered.later[name]
        if "complication_id" in later:
            found[name] = int(later["complication_id"].isin(of_units).sum())
        else:
            found[name] = int(later["patient_id"].isin(patients).sum())
    return found


def _complications_of(gathered: Gathered, units: Units) -> set[int]:
    """Complications of the units, those dated after the as-of date among them."""
    operations = gathered.frames["operations"][["operation_id", "operated_on"]]
    read = gathered.frames["complications"]
    every = pd.concat([read, gathered.later["complications"]], ignore_index=True)[
        ["complication_id", "operation_id", "patient_id"]
    ]
    if units.name == "patient":
        starts = units.frame.set_index("patient_id")["operated_on"].rename("from_on")
        placed = every.merge(operations, on="operation_id").join(starts, on="patient_id", how="inner")
        return set(placed.loc[placed["operated_on"] >= placed["from_on"], "complication_id"])
    own = set(units.frame["operation_id"])
    also = gathered.frames["also_after"]
    return set(every.loc[every["operation_id"].isin(own), "complication_id"]) | set(
        also.loc[also["operation_id"].isin(own), "complication_id"]
    )


def not_read_notes(found: dict[str, int], as_of: pd.Timestamp) -> list[str]:
    """One sentence when something was not read; none when nothing was."""
    told = [f"{many:,} {WORDS[name][many != 1]}" for name, many in found.items() if many]
    if not told:
        return []
    return [
        f"Not read, because dated after {as_of:%Y-%m-%d}, the as-of date: {', '.join(told)}. To read them, give a "
        "later --as-of."
    ]
