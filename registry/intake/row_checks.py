"""Checks of whole rows: what has to be there, what two fields say together, and no row twice."""

from __future__ import annotations

from typing import Any

from registry.intake.known_keys import Key
from registry.intake.parsed_sheet import ParsedSheet
from registry.schema.tables import natural_key
from registry.validation.field_rules import required_rule
from registry.validation.findings import FindingList, Problem, Severity
from registry.validation.pair_rules import pair_rules_of


def check_required(sheet: ParsedSheet, findings: FindingList) -> None:
    """Fill declared defaults and report what a row cannot exist without. Links are the business of ``links``."""
    for column in sheet.rows.sheet.columns:
        if column.links or column.folded:
            continue
        values, failed = sheet.values[column.heading], sheet.failed.get(column.heading, ())
        if column.info.default is not None:
            reasons = sheet.reasons.get(column.heading, ())
            for row, value in enumerate(values):
                if value is None and row not in failed and row not in reasons:
                    values[row] = column.info.default
            continue
        rule = required_rule(column.info)
        if rule is None or column.heading not in sheet.rows.cells or None not in values:
            continue
        for row, value in enumerate(values):
            if row not in failed and not rule.test(value):
                sheet.report(findings, row, column.heading, rule.problem(value), value="")


def check_pairs(sheet: ParsedSheet, findings: FindingList) -> None:
    """Report the rows whose two fields contradict each other."""
    for rule in pair_rules_of(sheet.table):
        first, second = (sheet.values[name] for name in rule.fields)
        for row, (one, other) in enumerate(zip(first, second, strict=True)):
            if one is not None and other is not None and not rule.test(one, other):
                sheet.report(findings, row, rule.fields[1], rule.problem(one, other))


def unique_rows(sheet: ParsedSheet, keys: list[Any], findings: FindingList) -> dict[Key, int]:
    """The first row of every natural key; a second row of the same key is an error. Rows without a key are left out."""
    first: dict[Key, int] = {}
    parts = [part for part in natural_key(sheet.table) if part.heading in sheet.values]
    for row, key in enumerate(keys):
        if key is None:
            continue
        before = first.setdefault(key, row)
        if before != row:
            title = sheet.rows.sheet.title
            named = ", ".join(f"{part.heading} {sheet.values[part.heading][row]}" for part in parts)
            why = f"Row {sheet.rows.numbers[before]} is the same {title.lower()} already: {named}."
            numbered = next((p.heading for p in reversed(parts) if p.info.default is not None), None)
            right = f"one row for each; a further one has the next {numbered}" if numbered else "one row for each"
            heading = parts[-1].heading if parts else "number"
            sheet.report(findings, row, heading, Problem(f"{sheet.table}.once", Severity.ERROR, why, right))
    return first
