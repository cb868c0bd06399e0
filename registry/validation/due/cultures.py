"""Positive cultures without a recorded treatment in patients who are about to be operated on.

Nobody calls the patient for it: the operating team has to know, so it is listed for every patient who lives.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from typing import Any

from sqlalchemy import select

from registry.schema.lists_common import MissingReason
from registry.schema.lists_operation import AntibioticClass
from registry.schema.lists_outcome import ListLineState
from registry.schema.lists_stone import CultureResult
from registry.validation.due.item import DueItem, Way, What
from registry.validation.due.picture import Picture
from registry.validation.due.reasons import reason_for

# A person settled that there is nothing to treat, or that the patient will not have it.
DECIDED = (MissingReason.NOT_APPLICABLE, MissingReason.REFUSED)


def cultures_due(picture: Picture) -> list[DueItem]:
    """Positive cultures that nothing was recorded for, of patients with an operation on the day or listed after it.

    A culture is superseded by a later negative one of the same specimen.

    Args:
        picture: what is held, and the day.
    """
    ahead = _operations_ahead(picture)
    if not ahead:
        return []
    culture = picture.table("culture").c
    query = select(
        culture.id,
        culture.patient_id,
        culture.taken_on,
        culture.specimen,
        culture.result,
        culture.treated_with,
        culture.treated_since,
        culture.missing_reasons,
    ).order_by(culture.taken_on, culture.culture_number, culture.id)
    open_ones: dict[tuple[int, str], list[DueItem]] = defaultdict(list)
    for row in picture.connection.execute(query):
        person = picture.people[row.patient_id]
        if row.patient_id not in ahead or person.died or row.taken_on > ahead[row.patient_id]:
            continue
        same = open_ones[row.patient_id, row.specimen]
        if row.result == CultureResult.NEGATIVE:
            same.clear()
        elif row.result == CultureResult.POSITIVE and not _treated(row):
            same.append(
                picture.item(
                    What.CULTURES,
                    person,
                    due_on=ahead[row.patient_id],
                    way=Way.ASK,
                    todo="tell the operating team; record the treatment",
                    about=f"Positive culture, {row.specimen.label.lower()}",
                    since=row.taken_on,
                    table="culture",
                    row=row.id,
                    note=f"operation on {ahead[row.patient_id]}",
                )
            )
    return [item for items in open_ones.values() for item in items]


def _treated(row: Any) -> bool:
    """A treatment is recorded, or why there is none. That none was given is no treatment."""
    if row.treated_with is not None:
        return bool(row.treated_with != AntibioticClass.NONE)
    return row.treated_since is not None or reason_for(row.missing_reasons, "treated_with") in DECIDED


def _operations_ahead(picture: Picture) -> dict[int, dt.date]:
    """The next operation of each patient from the day on: held here, or on a theatre list and not called off."""
    operation, line, number = (picture.table(name).c for name in ("operation", "theatre_list_line", "hospital_number"))
    held = select(operation.patient_id, operation.operated_on).where(operation.operated_on >= picture.on)
    listed = select(number.patient_id, line.listed_on).where(
        number.site_id == line.site_id,
        number.number_index == line.hospital_number_index,
        line.listed_on >= picture.on,
        line.state.in_((ListLineState.OPEN, ListLineState.MATCHED)),
    )
    ahead: dict[int, dt.date] = {}
    for query in (held, listed):
        for patient, on in picture.connection.execute(query):
            ahead[patient] = min(on, ahead.get(patient, on))
    return ahead
