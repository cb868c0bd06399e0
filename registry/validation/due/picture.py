"""The moment for which a list of what is due is made: one reading transaction, one day, the unit's settings."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from sqlalchemy import Connection, Table

from registry.schema.tables import metadata
from registry.validation.due.item import DueItem, Way, What
from registry.validation.due.people import Person, people_in
from registry.validation.due.scans import Scans, scans_in
from registry.validation.due.sides import Sides, sides_in
from registry.validation.unit_settings import UnitSettings


@dataclass(frozen=True)
class Picture:
    """What is held, asked about one day. ``within``: how many days ahead to look."""

    connection: Connection
    on: dt.date
    within: int = 0

    @property
    def until(self) -> dt.date:
        """The last day that is looked at."""
        return self.on + dt.timedelta(days=self.within)

    @cached_property
    def people(self) -> dict[int, Person]:
        """Every patient."""
        return people_in(self.connection)

    @cached_property
    def settings(self) -> UnitSettings:
        """The unit's settings on that day."""
        return UnitSettings(self.connection, self.on)

    @cached_property
    def sides(self) -> Sides:
        """Treated sides and what ended the wait for their follow-up."""
        return sides_in(self.connection)

    @cached_property
    def scans(self) -> Scans:
        """Examinations that were done, are pending, or were not done for a reason."""
        return scans_in(self.connection)

    def table(self, name: str) -> Table:
        """A table."""
        return metadata.tables[name]

    def days(self, person: Person, name: str) -> int:
        """A setting of the patient's unit."""
        return self.settings.days(person.site_id, name)

    def item(self, what: What, person: Person, *, due_on: dt.date, way: Way, **more: Any) -> DueItem:
        """An item of this day."""
        return DueItem(
            what=what,
            site=person.site,
            study_number=person.study_number,
            due_on=due_on,
            overdue_days=(self.on - due_on).days,
            way=way,
            **more,
        )
