"""Who the patients are, for a list of what is due: by study number, who died, who must not be contacted."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, select

from registry.schema.lists_common import YesNo
from registry.schema.tables import metadata
from registry.validation.due.item import Way

NOT_TO_BE_CONTACTED = "do not contact: settle it from the record"


@dataclass(frozen=True, slots=True)
class Person:
    """A patient as a list may name one."""

    site_id: int
    site: str
    study_number: str
    died: bool
    left_in_peace: bool

    @property
    def way(self) -> Way:
        """How something of this patient, whom one would otherwise call, can be settled."""
        return Way.RECORD if self.left_in_peace else Way.CALL

    def todo(self, call: str) -> str:
        """What to do: the call, or what takes its place."""
        return NOT_TO_BE_CONTACTED if self.left_in_peace else call


def people_in(connection: Connection) -> dict[int, Person]:
    """Every patient by key.

    A death counts from the day it is recorded, whichever day is asked about: nobody is called who is known to be dead.
    """
    patient, site = metadata.tables["patient"].c, metadata.tables["site"].c
    query = select(
        patient.id,
        patient.site_id,
        site.code,
        patient.study_number,
        patient.died_on,
        patient.death_source,
        patient.death_place,
        patient.not_to_be_contacted,
    ).where(patient.site_id == site.id)
    return {
        int(row.id): Person(
            site_id=int(row.site_id),
            site=row.code,
            study_number=row.study_number,
            # A death whose day is not recorded is a death all the same.
            died=any(told is not None for told in (row.died_on, row.death_source, row.death_place)),
            left_in_peace=row.not_to_be_contacted == YesNo.YES,
        )
        for row in connection.execute(query)
    }
