"""Finds the operation of each line of a theatre list: the patient with its hospital number, on its day.

Every run looks at all lines anew, so that an operation that is entered later is found, and a match whose operation was
moved to another day is given up. What a person settled, and what the list says is cancelled, is left as it is.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sqlalchemy import Connection, select

from registry.schema.lists_outcome import ListLineState
from registry.schema.tables import metadata
from registry.validation.unit_settings import UnitSettings

if TYPE_CHECKING:
    from registry.store.registry import Registry

LINE = "theatre_list_line"


@dataclass(frozen=True, slots=True)
class Match:
    """Which operation a line should have; None: none fits. ``before`` is what stands there."""

    line: int
    revision: int
    before: int | None
    operation: int | None

    @property
    def changes(self) -> bool:
        """It differs from what stands there."""
        return self.before != self.operation


def matches(connection: Connection, on: dt.date | None = None) -> list[Match]:
    """The right operation of every line that is open or matched; each operation answers one line.

    Args:
        connection: the transaction.
        on: the day whose settings hold; by default today.
    """
    settings = UnitSettings(connection, on or dt.date.today())
    line, number, operation = (metadata.tables[name].c for name in (LINE, "hospital_number", "operation"))
    lines = connection.execute(
        select(line.id, line.revision, line.site_id, line.listed_on, line.operation_id, line.hospital_number_index)
        .where(line.state.in_((ListLineState.OPEN, ListLineState.MATCHED)))
        .order_by(line.listed_on, line.line_number, line.id)
    ).all()
    candidates = select(
        number.site_id, number.number_index, operation.id, operation.operated_on, operation.day_number
    ).where(number.patient_id == operation.patient_id)
    operations: dict[tuple[int, str], list[tuple[dt.date, int, int]]] = defaultdict(list)
    for row in connection.execute(candidates):
        operations[row.site_id, row.number_index].append((row.operated_on, row.day_number, row.id))
    # Nearest first, then the match that stands, then the order of the list and of the day.
    pairs = []
    for each in lines:
        for operated_on, day_number, found in operations.get((each.site_id, each.hospital_number_index), ()):
            apart = abs((operated_on - each.listed_on).days)
            if apart <= settings.days(each.site_id, "theatre_list_days"):
                pairs.append((apart, found != each.operation_id, each.listed_on, each.id, day_number, found))
    # A line whose patient was erased has no number left to be found by: its match stands.
    given = {each.id: each.operation_id for each in lines if each.hospital_number_index is None and each.operation_id}
    taken = set(given.values())
    for _, _, _, line_id, _, found in sorted(pairs):
        if line_id not in given and found not in taken:
            given[line_id] = found
            taken.add(found)
    return [Match(each.id, each.revision, each.operation_id, given.get(each.id)) for each in lines]


def match_lines(registry: Registry, *, by: str) -> int:
    """Match all lines again, and write what changed.

    Args:
        registry: the open registry.
        by: who runs it.
    Returns:
        How many lines changed.

    Raises:
        GravelbookError: a setting of the unit cannot be read.
    """
    with registry.reading() as connection:
        if not any(match.changes for match in matches(connection)):
            return 0  # nobody has to wait for a writer that has nothing to write
    with registry.writing(by=by, reason="theatre list matched") as door:
        changed = [match for match in matches(door.connection) if match.changes]
        for match in changed:
            state = ListLineState.OPEN if match.operation is None else ListLineState.MATCHED
            values = {"operation_id": match.operation, "state": state, "said_by": None}
            door.update(LINE, match.line, values, revision=match.revision)
        return len(changed)
