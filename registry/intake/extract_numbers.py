"""Which held row a record of an extract is: an extract counts nothing, and brings last week's rows again.

Rows of one day (cultures, sets of observations, readings) are told apart by a number that no report carries. A record
takes the number of the held row that says the same, or that it completes; one that says otherwise is another, and
somebody is asked to look.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from functools import cache
from typing import TYPE_CHECKING, Any

from registry.intake.extract_held import HeldCases
from registry.intake.extract_states import moves_on
from registry.intake.log_mapping_targets import column_named, key_headings, number_heading, sheet_of
from registry.intake.log_records import LogValue
from registry.intake.log_records_store import ONE_OF_A_KIND, Record, RecordKey, canonical, same_cell
from registry.intake.wordings import reason_in
from registry.schema.sheets import as_typed, sheets
from registry.schema.tables import patient_path
from registry.validation.findings import FindingList, Problem, Severity

if TYPE_CHECKING:
    from registry.intake.values import Cell

# Told apart by their place in the row, not by the registry.
_BY_COLUMN = frozenset({"fragment", "stone", "equipment_use"})
_LINK = ("operated_on", "day_number")


class HeldNumbers:
    """Numbers the records of an extract."""

    def __init__(self, held: HeldCases, fills: bool, findings: FindingList) -> None:
        self._held, self._fills, self._findings = held, fills, findings
        self._by_base: dict[str, dict[RecordKey, dict[int, dict[str, Any]]]] = {}

    def settle(self, record: Record, taken: Mapping[RecordKey, Record]) -> bool:
        """Give a record the number of the row that it is.

        Args:
            record: the record; its key and number are changed in place.
            taken: the records of its table so far.

        Returns:
            False where its number is not for the registry to say.
        """
        settled = self._number(record, taken)
        self._complete(record)
        return settled

    def _complete(self, record: Record) -> None:
        """A held row keeps what it cannot be without, where the extract does not say it again."""
        if record.key is None or patient_path(record.table) is None or record.table not in _clinical():
            return
        blank = [c for c in sheet_of(record.table).columns if c.info.required and not c.links and not c.folded]
        blank = [c for c in blank if not c.in_key and c.info.default is None and c.heading not in record.values]
        row = self._held.rows(record.table).get(record.key) if blank else None
        for column in blank if row is not None else ():
            assert row is not None
            held = self._held.value(record.table, row, column.path[0])
            record.values[column.heading] = LogValue(as_typed(column.info, held))

    def _number(self, record: Record, taken: Mapping[RecordKey, Record]) -> bool:
        number = number_heading(record.table)
        if number is None or record.key is None or record.table in ONE_OF_A_KIND | _BY_COLUMN:
            return False
        if record.values[number].columns:
            return False
        at = key_headings(record.table).index(number)
        base = (*record.key[:at], *record.key[at + 1 :])
        held = self._rows(record.table, at).get(base, {})
        own = {key[at]: other for key, other in taken.items() if (*key[:at], *key[at + 1 :]) == base}
        places = sorted({*held, *own})
        best = max(
            ((rank, -n) for n in places if (rank := self._rank(record, held.get(n), own.get(n))) is not None),
            default=None,
        )
        if best is None:
            chosen = max(places, default=0) + 1
            if held:
                self._ask(record, chosen)
        else:
            chosen = -best[1]
            if chosen in held:
                self._keep_link(record, held[chosen])
        record.key = (*record.key[:at], chosen, *record.key[at + 1 :])
        record.values[number] = LogValue(chosen)
        return True

    def _rows(self, table: str, at: int) -> dict[RecordKey, dict[int, dict[str, Any]]]:
        found = self._by_base.get(table)
        if found is None:
            found = self._by_base[table] = {}
            for key, row in self._held.rows(table).items():
                found.setdefault((*key[:at], *key[at + 1 :]), {})[key[at]] = row
        return found

    def _rank(self, record: Record, row: dict[str, Any] | None, other: Record | None) -> tuple[int, bool] | None:
        """How well a record agrees with a place that is taken; None where it cannot be that one."""
        equal, linked = 0, False
        if other is not None:
            shared = [h for h in self._own(record) if other.values.get(h) is not None]
            if any(not same_cell(record.table, h, record.values[h].cell, other.values[h].cell) for h in shared):
                return None
            equal = len(shared)
        if row is not None:
            agreed = self._agreed(record, row)
            if agreed is None:
                return None
            link = row.get("operation_id")
            said = self._operation(record)
            linked = link is not None and link == said
            if not agreed and not linked and None not in (link, said):
                return None  # nothing but the operation tells, and that is another
            equal = max(equal, agreed)
        return equal, linked

    def _agreed(self, record: Record, row: dict[str, Any]) -> int | None:
        """How many of the record's cells the held row has; None where one contradicts it, or may not be filled."""
        equal = 0
        for heading in self._own(record):
            column, value = column_named(record.table, heading), record.values[heading]
            given = _given(record.table, heading, value.cell)
            held = self._held.value(record.table, row, column.path[0])
            match _compare(given, held, moves_on(record.table, column.path[0], held), self._fills):
                case _Agrees.NO:
                    return None
                case _Agrees.YES if value.columns:
                    equal += 1
        return equal

    def _own(self, record: Record) -> list[str]:
        """The headings of a record's own fields that say something."""
        found = []
        for heading, value in record.values.items():
            column = column_named(record.table, heading)
            if value.cell is not None and not column.in_key and not column.links and not column.folded:
                found.append(heading)
        return found

    def _operation(self, record: Record) -> int | None:
        """The key of the operation that the record names by a link of its own."""
        on, day_number = (record.values.get(h) for h in _LINK)
        if on is None or day_number is None or "operated_on" in key_headings(record.table):
            return None
        study = str(record.values["study_number"].cell)
        there = self._held.operations.get(study, [])
        named = (canonical(record.table, "operated_on", on.cell), day_number.cell)
        return next((op.row for op in there if (op.operated_on, op.day_number) == named), None)

    def _keep_link(self, record: Record, row: dict[str, Any]) -> None:
        """What stands goes before what a rule of days finds: a nearer operation may have been entered since."""
        operation = self._held.by_row.get(row.get("operation_id") or 0)
        if operation is not None and "operated_on" not in key_headings(record.table):
            record.values["operated_on"] = LogValue(operation.operated_on)
            record.values["day_number"] = LogValue(operation.day_number)

    def _ask(self, record: Record, number: int) -> None:
        title = sheet_of(record.table).title.lower()
        why = f"The registry has another {title} of the same day or kidney, which says otherwise: this became number "
        right = "two of them; or one, to be corrected by a person"
        columns = tuple(dict.fromkeys(c for value in record.values.values() for c in value.columns))
        problem = Problem("log.extract.another", Severity.QUESTION, f"{why}{number}.", right)
        record.row.report(self._findings, columns, problem, hidden=True)


@cache
def _clinical() -> frozenset[str]:
    return frozenset(sheet.table for sheet in sheets())


class _Agrees(Enum):
    YES = "the same"
    BLANK = "may be filled"
    NO = "says otherwise"


def _given(table: str, heading: str, cell: Cell) -> Any:
    value = canonical(table, heading, cell)
    return reason_in(cell) if value is None and isinstance(cell, str) else value


def _compare(given: Any, held: Any, goes_on: bool, fills: bool) -> _Agrees:
    if given is None or given == held:
        return _Agrees.BLANK if given is None else _Agrees.YES
    if (held is None or goes_on) and fills:
        return _Agrees.BLANK
    return _Agrees.NO
