"""The records that the rows of a log make, each once: by its natural key, whatever row it comes from."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

from registry.intake.log_mapping_targets import Target, column_named, dated, key_headings, number_heading, sheet_of
from registry.intake.log_records import LogValue, RowValues
from registry.intake.values import Cell, parse
from registry.schema.sheets import SEPARATOR
from registry.store.cipher import bare_number
from registry.validation.field_words import hides
from registry.validation.findings import FindingList, Problem, Severity

RecordKey = tuple[Any, ...]
# Of these there is one for each key: two rows that name it speak of the same.
ONE_OF_A_KIND = frozenset(
    (
        *("site", "operator", "equipment_model", "equipment_item", "patient", "patient_identity", "hospital_number"),
        *("renal_unit", "admission", "operation", "course", "treated_side", "examination", "stone_aim"),
        *("local_patient_value", "local_operation_value", "local_side_value", "culture_organism", "setting"),
        *("analysis_component", "operator_prior_cases", "equipment_price", "cost_rate", "local_field"),
    )
)


@dataclass
class Record:
    """A row of a sheet of the intake workbook in the making.

    Attributes:
        table: its table.
        row: the log's row that it comes from.
        values: its cells by heading.
        key: its natural key, in the order of ``natural_key``; None where it cannot be read.
        rows: by heading, another row of the log that a cell comes from.
        shared: further rows that gave the same model of equipment, each with the cells that did.
    """

    table: str
    row: RowValues
    values: dict[str, LogValue]
    key: RecordKey | None = None
    rows: dict[str, RowValues] = field(default_factory=dict)
    shared: list[tuple[RowValues, dict[str, LogValue]]] = field(default_factory=list)


class Numbers(Protocol):
    """Says which number a record has among those that are counted."""

    def settle(self, record: Record, taken: Mapping[RecordKey, Record]) -> bool:
        """Give a record its number, in place; False where that is left to the rows of the file."""


class RecordStore:
    """Takes records and finds those that say the same."""

    def __init__(self, findings: FindingList, numbers: Numbers | None = None) -> None:
        """Start empty; ``numbers`` knows which held rows the records of an extract are."""
        self._findings, self._numbers = findings, numbers
        self._records: dict[str, dict[RecordKey, Record]] = {}
        self._loose: dict[str, list[Record]] = {}

    def of(self, table: str) -> Iterator[Record]:
        """A table's records, in the order in which they came."""
        yield from self._records.get(table, {}).values()
        yield from self._loose.get(table, ())

    def find(self, table: str, key: RecordKey) -> Record | None:
        """The record of a key."""
        return self._records.get(table, {}).get(key)

    def put(self, record: Record) -> Record:
        """Take a record; what comes back is the one that stands for it, perhaps an earlier one.

        A further record of a kind that is counted, of the same number and saying something else, gets the next number.
        """
        if record.key is None:
            self._loose.setdefault(record.table, []).append(record)
            return record
        known = self._records.setdefault(record.table, {})
        if self._numbers is not None and self._numbers.settle(record, known):
            settled = known.setdefault(record.key, record)
            if settled is not record:
                self._merge(settled, record)
            return settled
        number = number_heading(record.table)
        counted = number is not None and record.table not in ONE_OF_A_KIND and record.values[number].columns == ()
        while (before := known.get(record.key)) is not None and before is not record:
            if not counted or self._same(before, record):
                self._merge(before, record)
                return before
            self._ask_which(before, record)
            record.key = self._next(record, str(number))
        known[record.key] = record
        return record

    def _same(self, before: Record, record: Record) -> bool:
        """Two records of a kind that is counted are one, where nothing that both say differs.

        In sheets of one make a blank beside a value could be another record of the kind, a second stone. It is none
        where the records have a day of their own, as a blood sample has, or where the rows are about the two sides of
        one operation and each says what it says of the operation as a whole.
        """
        parts = key_headings(record.table)
        own, other = (
            {h: v.cell for h, v in one.values.items() if h not in parts and v.cell is not None}
            for one in (record, before)
        )
        shared = own.keys() & other.keys()
        if any(not same_cell(record.table, heading, own[heading], other[heading]) for heading in shared):
            return False
        if own.keys() == other.keys() or before.row.bound.layout != record.row.bound.layout:
            return True
        return _two_sides(before, record) or (dated(record.table) and bool(shared))

    def _ask_which(self, before: Record, record: Record) -> None:
        """Ask about a sample of one day of which the rows of an operation's two sides tell different things."""
        if not dated(record.table) or not _two_sides(before, record):
            return
        columns = dict.fromkeys(
            column
            for heading, value in record.values.items()
            if (own := before.values.get(heading)) is not None
            and not same_cell(record.table, heading, own.cell, value.cell)
            for column in value.columns
        )
        title = sheet_of(record.table).title.lower()
        why = f"Row {before.row.number} tells another {title} of the same day and operation; both are kept."
        problem = Problem("log.row.other", Severity.QUESTION, why, "the same in both rows, or two of them")
        record.row.report(self._findings, tuple(columns), problem)

    def _next(self, record: Record, number: str) -> RecordKey:
        assert record.key is not None
        at = key_headings(record.table).index(number)
        place = record.key[at] + 1
        record.values[number] = LogValue(place)
        return (*record.key[:at], place, *record.key[at + 1 :])

    def _merge(self, before: Record, record: Record) -> None:
        parts = key_headings(record.table)
        if record.table == "equipment_model":
            before.shared.append((record.row, record.values))
        for heading, value in record.values.items():
            own = before.values.get(heading)
            if own is None:
                before.values[heading] = value
                before.rows[heading] = record.row
            elif heading in parts or same_cell(record.table, heading, own.cell, value.cell):
                continue
            elif column_named(record.table, heading).folded:
                listed = dict.fromkeys([*str(own.cell).split(SEPARATOR), *str(value.cell).split(SEPARATOR)])
                before.values[heading] = LogValue(SEPARATOR.join(listed), own.columns)
            elif value.columns or own.columns:
                self._differs(before, record, heading, value)

    def _differs(self, before: Record, record: Record, heading: str, value: LogValue) -> None:
        first = before.rows.get(heading, before.row)
        where = f"row {first.number}" + (f" of {first.sheet.file}" if first.sheet is not record.row.sheet else "")
        info = Target(record.table, heading).info
        title = sheet_of(record.table).title.lower()
        severity = Severity.QUESTION if record.table == "patient_identity" else Severity.ERROR
        why = f"{info.label} of the same {title} stands otherwise in {where}."
        right = "the same in both rows, or blank in one of them"
        problem = Problem("log.row.agree", severity, why, right)
        record.row.report(self._findings, value.columns, problem, hidden=hides(info))


def _two_sides(one: Record, other: Record) -> bool:
    """The records come from rows that name different kidneys."""
    return bool(one.row.sides and other.row.sides) and not {*one.row.sides} & {*other.row.sides}


def same_cell(table: str, heading: str, one: Cell, other: Cell) -> bool:
    """Two cells mean the same value of a field."""
    if one == other and type(one) is type(other):
        return True
    info = Target(table, heading).info
    first, second = canonical(table, heading, one), canonical(table, heading, other)
    if (table, heading) == ("hospital_number", "number") and first is not None and second is not None:
        return bare_number(first) == bare_number(second)
    if hides(info) and isinstance(first, str) and isinstance(second, str):
        return first.casefold() == second.casefold()
    return first is not None and first == second


_read: dict[tuple[str, str], dict[tuple[type, Cell], Any]] = {}
_MOST = 50_000
_UNREAD = object()


def canonical(table: str, heading: str, cell: Cell) -> Any:
    """A cell as the registry keeps it; None where it is blank or cannot be read. Equal cells are read once."""
    known = _read.get((table, heading))
    if known is None:  # a heading that names a row of another table is read as it stands there
        info = Target(table, heading).info
        known = _read[table, heading] = _read.setdefault((info.table, info.name), {})
    key = (cell.__class__, cell)
    value = known.get(key, _UNREAD)
    if value is not _UNREAD:
        return value
    if len(known) >= _MOST:
        known.clear()
    parsed = parse(Target(table, heading).info, cell)
    value = known[key] = None if parsed.failed else parsed.value
    return value


def group_numbers(groups: list[str]) -> Callable[[str], int]:
    """The number of a group: its place among the mapping's groups of a table, whatever stands in a row."""
    places = {group: number for number, group in enumerate(groups, start=1)}
    return lambda group: places.get(group, len(places) + 1)
