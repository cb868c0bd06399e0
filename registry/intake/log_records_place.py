"""From what a row says to records: each gets the headings that name it from its patient, its operation and its side."""

from __future__ import annotations

from datetime import date, datetime, time
from functools import cache
from typing import Any

from registry.intake.log_mapping import ONE, MappedColumn, Mapping
from registry.intake.log_mapping_targets import (
    Target,
    column_named,
    counted_by_day,
    key_headings,
    layouts,
    number_heading,
    of_course,
    of_side,
    parents_of,
    sheet_of,
)
from registry.intake.log_records import Key, LogValue, RowValues
from registry.intake.log_records_complete import parent_of
from registry.intake.log_records_models import model_code
from registry.intake.log_records_store import Record, RecordStore, canonical, group_numbers
from registry.intake.log_records_visits import Case
from registry.schema.fields import Moment, Reference, info_of
from registry.schema.tables import links_of, metadata, natural_key
from registry.store.cipher import bare_number
from registry.validation.findings import FindingList, Problem, Severity

# Links that may be left open: what stands in a case's own row was taken or placed at its operation.
# What the row as a whole says is put in as the registry keeps it: whole numbers and days.
_AS_KEPT = (int, date)
_UNIT = Target("renal_unit", "unit")
_AT_OPERATION = ("culture", "observation_set", "stone_analysis", "drain")


class Placer:
    """Places the values of rows whose patient, operation and courses are known."""

    def __init__(self, mapping: Mapping, site: str, store: RecordStore, findings: FindingList) -> None:
        self._site, self._store, self._findings = site, store, findings
        self._order = {table: n for n, table in enumerate(layouts())}
        self._known: dict[str, dict[str, LogValue]] = {}
        self._numbers = {table: group_numbers(groups) for table, groups in _groups(mapping).items()}

    def place(self, case: Case) -> None:
        """Put everything that a row says into the store."""
        row = case.row
        row.values.setdefault(("patient", "", ONE), {})
        for side in dict.fromkeys(side for table, side, _ in row.values if side and of_side(table)):
            row.values.setdefault(("renal_unit", side, ONE), {})
        for side in case.courses:
            row.values.setdefault(("course", side, ONE), {})
        _moments(case)
        placed: dict[Key, Record | None] = {}
        self._known.clear()
        for key in sorted(row.values, key=lambda key: self._order[key[0]]):
            placed[key] = self._place(case, key, placed)

    def _place(self, case: Case, key: Key, placed: dict[Key, Record | None]) -> Record | None:
        table, side, group = key
        row = case.row
        values = dict(row.values[key])
        if table == "equipment_model" and "model_code" not in values and (code := model_code(values)) is not None:
            values["model_code"] = LogValue(code, tuple(c for v in values.values() for c in v.columns))
        if table == "operation_operator" and (person := values.get("operator")) is not None:
            self._put(row, "operator", {"operator": person})
        parents = {p: placed.get(found) for p in parents_of(table) if (found := parent_of(row, key, p)) is not None}
        if any(parent is None or parent.key is None for parent in parents.values()):
            return None
        if self._fails(row, key):
            return None
        if of_course(table) and side not in case.courses:
            self._homeless(row, key)
            return None
        self._context(case, key, values)
        for parent, record in parents.items():
            assert record is not None and record.key is not None
            _take_key(table, parent, record, values)
        number = number_heading(table)
        if number is not None and number not in values:
            ordinal = self._numbers.get(table, group_numbers([]))
            values[number] = LogValue(1 if counted_by_day(table) else ordinal(group))
        return self._put(row, table, values)

    def _put(self, row: RowValues, table: str, values: dict[str, LogValue]) -> Record:
        values.setdefault("site", LogValue(self._site))
        return self._store.put(Record(table, row, values, _key_of(table, values)))

    def _fails(self, row: RowValues, key: Key) -> bool:
        """Something without which the record cannot be kept could not be read, as a finding says already."""
        if not row.failed:
            return False
        failed = {heading for one, heading in row.failed if one in (key, (key[0], "", key[2]))}
        return any(column_named(key[0], h).info.required or column_named(key[0], h).in_key for h in failed)

    def _homeless(self, row: RowValues, key: Key) -> None:
        columns = tuple(c for v in row.values[key].values() for c in v.columns)
        if not columns:
            return
        title = sheet_of(key[0]).title.lower()
        why = (
            f"A {title} belongs to a course, and this row begins none: its operation was not for the removal of stones."
        )
        right = "the purpose stone_removal, or the values at the operation that removes the stone; they are not loaded"
        row.report(self._findings, columns, Problem("log.course.none", Severity.QUESTION, why, right))

    def _context(self, case: Case, key: Key, values: dict[str, LogValue]) -> None:
        """Fill in what the row as a whole says: whose, when, which side, which course."""
        table, side, _ = key
        known = self._known.get(side)
        if known is None:
            known = self._known[side] = _known(case, self._site, side)
        number = number_heading(table)
        for heading in key_headings(table):
            if heading in known and (heading != number or table in ("course", "operation")):
                values[heading] = known[heading]
        if table == "hospital_number":
            values["study_number"] = known["study_number"]
        elif table == "treated_side" and side in case.courses:
            values.setdefault("course_number", known["course_number"])
            if side in case.stages:
                values.setdefault("stage_number", LogValue(case.stages[side]))
        self._open_links(case, key, values, known)

    def _open_links(self, case: Case, key: Key, values: dict[str, LogValue], known: dict[str, LogValue]) -> None:
        table, side, _ = key
        if table == "drain" and "placed_on" not in values and case.operated_on is not None:
            values["placed_on"] = known["operated_on"]
        elif table == "drain":
            return
        if table in _AT_OPERATION and case.operated_on is not None and "operated_on" not in values:
            values |= {"operated_on": known["operated_on"], "day_number": known["day_number"]}
        if table in ("complication", "later_entry") and side and "unit" not in values:
            values |= {"unit": known["unit"], "unit_number": known["unit_number"]}
        if table == "operation" and (stay := case.row.value("admission", "admitted_on")) is not None:
            values.setdefault("admitted_on", stay)
        if table.startswith("local_"):
            belongs = {"patient": "patient", "operation": "operation", "side": "treated_side"}
            word = table.removeprefix("local_").removesuffix("_value")
            if word in belongs:
                values.setdefault("belongs_to", LogValue(belongs[word]))


def _known(case: Case, site: str, side: str) -> dict[str, LogValue]:
    """What a row says as a whole, by the heading under which it stands in every sheet."""
    operated = case.row.value("operation", "operated_on")
    known: dict[str, LogValue] = {"site": LogValue(site), "study_number": LogValue(case.study, _naming(case))}
    if case.operated_on is not None:
        known["operated_on"] = LogValue(case.operated_on, operated.columns if operated else ())
        known["day_number"] = LogValue(case.day_number)
    if side:
        known |= {"unit": LogValue(side, _siding(case, side)), "unit_number": LogValue(case.unit_number(side))}
    if side in case.courses:
        known["course_number"] = LogValue(case.courses[side])
    return known


def _siding(case: Case, side: str) -> tuple[int, ...]:
    """The columns that say which kidney the row is about; none where a column speaks of one kidney for itself."""
    if side not in case.row.sides:
        return ()
    return tuple(at for column, at in case.row.bound.columns if _UNIT in column.targets and not column.side)


def _naming(case: Case) -> tuple[int, ...]:
    """The columns that say whose row it is."""
    return tuple(
        c
        for (table, _, _), values in case.row.values.items()
        for heading, value in values.items()
        if (table, heading) in (("hospital_number", "number"), ("patient", "study_number"))
        for c in value.columns
    )


def _take_key(table: str, parent: str, record: Record, values: dict[str, LogValue]) -> None:
    """Name a record's parent by the parent's own key."""
    assert record.key is not None
    for headings in _named_by(table, parent):
        for (heading, own), stored in zip(headings, record.key, strict=True):
            value = record.values.get(own)
            values[heading] = value if value is not None else LogValue(stored)


@cache
def _named_by(table: str, parent: str) -> tuple[tuple[tuple[str, str], ...], ...]:
    """For each link that needs a parent: the headings of its key here, each with its heading in the parent's sheet."""
    found = []
    for name, parts in links_of(table).items():
        info = info_of(metadata.tables[table].columns[name])
        assert isinstance(info.kind, Reference)
        if info.kind.table == parent and info.required:
            own = natural_key(parent)
            found.append(tuple((part.heading, of.heading) for part, of in zip(parts, own, strict=True)))
    return tuple(found)


def _key_of(table: str, values: dict[str, LogValue]) -> tuple[Any, ...] | None:
    """A record's natural key; None where a part of it is blank or cannot be read."""
    if table == "hospital_number":
        number = values.get("number")
        text = None if number is None else canonical(table, "number", number.cell)
        return None if text is None else (values["site"].cell, bare_number(text))
    key = []
    for heading, default in _key_parts(table):
        value = values.get(heading)
        stored = None
        if value is not None:
            stored = value.cell if value.cell.__class__ in _AS_KEPT else canonical(table, heading, value.cell)
        if stored is None:
            stored = default
        if stored is None:
            return None
        key.append(stored)
    return tuple(key)


@cache
def _key_parts(table: str) -> tuple[tuple[str, Any], ...]:
    """The headings of a table's natural key, each with what stands for a blank."""
    return tuple((part.heading, part.info.default) for part in natural_key(table))


def _groups(mapping: Mapping) -> dict[str, list[str]]:
    """The groups of each table in the order of the mapping; entries that a cell lists come by their own number."""
    named: dict[str, list[str]] = {}
    listed: dict[str, list[str]] = {}
    for column in mapping.columns:
        turns = {p.target.table: p.turn for pattern in column.splits for p in pattern.pieces}
        for table in _counted(column):
            if column.separator or turns.get(table, 1) > 1:
                own = column.group if column.group != ONE else ""
                listed.setdefault(table, []).extend(f"{own} {n}".strip() for n in range(1, 100))
            named.setdefault(table, []).append(column.group)
    for constant in mapping.constants:
        if constant.group is not None:
            named.setdefault(constant.to.table, []).append(constant.group)
    return {
        table: list(dict.fromkeys([*(g for g in groups if g not in listed.get(table, [])), *listed.get(table, [])]))
        for table, groups in named.items()
    }


def _counted(column: MappedColumn) -> list[str]:
    """The tables whose records a column counts; a use of equipment also where only its model is named."""
    tables = [target.table for target in column.targets]
    tables += ["reading", "fragment"] if column.status else []
    tables += ["equipment_use"] if {"equipment_model", "equipment_item"} & {*tables} else []
    return list(dict.fromkeys(tables))


def _moments(case: Case) -> None:
    """A time of day without a date is one of the day of the operation."""
    for (table, _, _), values in case.row.values.items():
        for heading, value in values.items():
            if isinstance(value.cell, time) and isinstance(Target(table, heading).info.kind, Moment):
                day: date | None = case.operated_on
                if day is not None:
                    value.cell = datetime.combine(day, value.cell)
