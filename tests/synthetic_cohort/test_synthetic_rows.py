"""Every row fits the declarations: columns, code lists, limits, keys and links."""

from __future__ import annotations

import re
from collections import Counter
from datetime import date, datetime

import pytest

from registry.schema.fields import Code, Day, FieldInfo, Moment, Note, Number, Secret, Stage, Text, Whole
from registry.schema.lists_common import MissingReason
from registry.schema.sheets import SEPARATOR, SheetColumn, identity_sheets, sheets
from registry.schema.tables import links_of, metadata, natural_key
from synthetic_cohort.other_units import _WAYS

ALL_SHEETS = (*sheets(), *identity_sheets())
TYPED_OTHERWISE = {(table, heading) for table, heading, _ in _WAYS}
MONTH_OR_YEAR = re.compile(r"\d{4}(-\d{2})?")


def ids(sheet):
    return sheet.table


@pytest.mark.parametrize("sheet", sheets(), ids=ids)
def test_every_clinical_sheet_has_rows(demo, sheet):
    assert demo[sheet.table]


@pytest.mark.parametrize("sheet", ALL_SHEETS, ids=ids)
def test_every_value_fits_its_field(demo, sheet):
    faults = []
    for row in demo[sheet.table]:
        faults += [f"no column {name}" for name in row if name not in sheet.headings]
        for column in sheet.columns:
            fault = fault_of(sheet.table, column, row.get(column.heading))
            if fault:
                faults.append(f"{column.heading} = {row.get(column.heading)!r}: {fault}")
    assert faults == []


@pytest.mark.parametrize("sheet", ALL_SHEETS, ids=ids)
def test_what_a_row_cannot_exist_without_is_there(demo, sheet):
    wanted = [c.heading for c in sheet.columns if c.in_key or (len(c.path) == 1 and c.info.needed is Stage.ENTRY)]
    wanted = [heading for heading in wanted if not sheet.column(heading).folded]
    for row in demo[sheet.table]:
        assert [heading for heading in wanted if row.get(heading) is None] == []


@pytest.mark.parametrize("sheet", sheets(), ids=ids)
def test_natural_keys_are_unique(demo, sheet):
    parts = [part.heading for part in natural_key(sheet.table)]
    counted = Counter(tuple(row.get(name) for name in parts) for row in demo[sheet.table])
    assert [key for key, times in counted.items() if times > 1] == []


@pytest.mark.parametrize("sheet", ALL_SHEETS, ids=ids)
def test_links_lead_to_rows(demo, sheet):
    lost = []
    for link, parts in links_of(sheet.table).items():
        column = metadata.tables[sheet.table].columns[link]
        target = column.info["field"].kind.table
        known = {tuple(row.get(part.heading) for part in natural_key(target)) for row in demo[target]}
        own = [part.heading for part in parts if not part.shared]
        for row in demo[sheet.table]:
            named = tuple(row.get(part.heading) for part in parts)
            meant = not column.nullable or any(row.get(heading) is not None for heading in own)
            if meant and named not in known:
                lost.append((link, named))
    assert lost == []


# Whole stones seen on a scan, percutaneous calibres, the child, the operation that never began.
UNUSUAL = {
    ("fragment", "diameter_low_mm"),
    ("fragment", "diameter_high_mm"),
    ("operation", "weight_kg"),
    ("operation", "operating_min"),
}


def test_numbers_are_plausible_but_for_what_is_meant_to_be_unusual(demo):
    outside = Counter()
    for sheet in sheets():
        for column in sheet.columns:
            plausible = getattr(column.info.kind, "plausible", None)
            if not plausible:
                continue
            for row in demo[sheet.table]:
                value = row.get(column.heading)
                if isinstance(value, int | float):
                    stored = value * getattr(column.info.kind, "scale", 1)
                    outside[sheet.table, column.heading] += not plausible[0] <= stored <= plausible[1]
    assert {place for place, times in outside.items() if times} == UNUSUAL
    assert outside["operation", "weight_kg"] == outside["operation", "operating_min"] == 1
    assert outside["fragment", "diameter_low_mm"] < 0.03 * len(demo["fragment"])


def test_some_values_are_missing_for_a_reason_and_some_typed_in_another_unit(demo):
    reasons, otherwise = set(), 0
    for sheet in sheets():
        for row in demo[sheet.table]:
            for column in sheet.columns:
                value = row.get(column.heading)
                if is_reason(column, value):
                    reasons.add(value)
                otherwise += isinstance(value, str) and isinstance(column.info.kind, Whole | Number) and " " in value
    assert {"not_done", "not_recorded", "not_applicable"} <= reasons
    assert otherwise > 20


def test_hospital_numbers_are_invented_and_never_study_numbers(demo):
    numbers = [row["number"] for row in demo["hospital_number"]]
    assert len(set(numbers)) == len(numbers)
    assert all(re.fullmatch(r"LB-\d{6}", number) for number in numbers)
    assert not set(numbers) & {row["study_number"] for row in demo["patient"]}


def is_reason(column: SheetColumn, value: object) -> bool:
    if not isinstance(value, str) or value not in MissingReason.codes():
        return False
    kind = column.info.kind
    return not (isinstance(kind, Code) and value in kind.list.codes())


def fault_of(table: str, column: SheetColumn, value: object) -> str | None:
    info = column.info
    if value is None:
        return None
    if is_reason(column, value):
        return "a reason in a key" if column.in_key or info.required else None
    match info.kind:
        case Code(list=codes):
            given = str(value).split(SEPARATOR) if column.folded else [value]
            return None if all(v in codes.codes() for v in given) else "not on the list"
        case Whole() | Number():
            if isinstance(value, str):
                known = (table, column.heading) in TYPED_OTHERWISE and re.fullmatch(r"-?[\d.]+ \D+.*", value)
                return None if known else "text"
            return number_fault(info, value)
        case Day(low=low, high=high, imprecise=imprecise):
            if isinstance(value, str):
                return None if imprecise and MONTH_OR_YEAR.fullmatch(value) else "not a date"
            return None if type(value) is date and low <= value <= high else "not a date within limits"
        case Moment():
            return None if datetime.fromisoformat(str(value)).tzinfo else "a time without its zone"
        case Text(longest=longest) | Note(longest=longest) | Secret(longest=longest):
            return None if isinstance(value, str) and 1 <= len(value) <= longest else "no text, or too long"
        case kind:
            return f"nobody types a {kind}"


def number_fault(info: FieldInfo, value: object) -> str | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return "not a number"
    stored = value * getattr(info.kind, "scale", 1)
    if isinstance(info.kind, Whole) and abs(stored - round(stored)) > 1e-9:
        return "not whole in the stored unit"
    low, high = info.limits
    return None if (low is None or stored >= low) and (high is None or stored <= high) else "outside the limits"
