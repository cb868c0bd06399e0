"""Values of a unit's own fields: each cell is read by its local field's declaration, from the file or the registry."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from registry.intake.known_keys import Key
from registry.intake.parsed_sheet import ParsedSheet
from registry.intake.values import Cell, Parsed, parse
from registry.intake.wordings import read_text
from registry.schema.fields import Code, FieldInfo
from registry.schema.local_fields import VALUE, local_info, local_text
from registry.schema.tables import metadata
from registry.validation.field_rules import rule_id
from registry.validation.field_words import kind_words, shown_unit, within_sentence
from registry.validation.findings import FindingList, Problem, Severity
from registry.validation.local_rules import declaration_problems, misplaced

if TYPE_CHECKING:
    from sqlalchemy import Connection

_FIELDS = metadata.tables["local_field"]
_DECLARED = ("kind", "field_label", "field_unit", "low", "high", "choices")


class LocalFields:
    """The declarations of local fields by their natural key. Where the registry has one, it counts."""

    def __init__(self, connection: Connection, today: date) -> None:
        self._today = today
        self._declared: dict[Key, dict[str, Any]] = {}
        site = metadata.tables["site"]
        columns = (site.c.code, _FIELDS.c.belongs_to, _FIELDS.c.field_name, *(_FIELDS.c[name] for name in _DECLARED))
        for row in connection.execute(select(*columns).join_from(_FIELDS, site)):
            self._declared[row[0], str(row[1]), row[2]] = row._asdict()

    def take(self, sheet: ParsedSheet, findings: FindingList) -> None:
        """Learn the local fields that a file declares, and report declarations that contradict themselves."""
        for row, key in enumerate(_keys(sheet)):
            declared = {name: sheet.values[name][row] for name in _DECLARED}
            problems = declaration_problems(declared)
            for heading, problem in problems:
                sheet.report(findings, row, heading, problem)
            readable = all(declared[name] is not None for name in ("kind", "field_label")) and not problems
            if readable and not any(row in sheet.failed.get(name, ()) for name in _DECLARED):
                self._declared.setdefault(key, declared)

    def read(self, sheet: ParsedSheet, findings: FindingList) -> None:
        """Read the values of a sheet of local values; they become the text that is stored.

        A value whose local field is not known, or not declared rightly, is left as it is: that is reported elsewhere.
        """
        values = sheet.values[VALUE]
        for row, key in enumerate(_keys(sheet)):
            cell, declared = values[row], self._declared.get(key)
            problem = None if declared is None else misplaced(sheet.table, key[1], key[2])
            if problem is not None:
                sheet.report(findings, row, "belongs_to", problem)
            if declared is None or problem is not None or cell is None:
                values[row] = None if cell is None else str(cell)
                continue
            info = local_info(declared, sheet.table)
            parsed = _parsed(info, cell, self._today)
            for found in parsed.problems:
                sheet.report(findings, row, VALUE, found)
            if parsed.failed:
                sheet.failed.setdefault(VALUE, set()).add(row)
            values[row] = None if parsed.failed else local_text(info, parsed.value)


def _keys(sheet: ParsedSheet) -> list[Key]:
    return list(zip(sheet.values["site"], sheet.values["belongs_to"], sheet.values["field_name"], strict=True))


def _parsed(info: FieldInfo, cell: Cell, today: date) -> Parsed:
    if isinstance(info.kind, Code) and isinstance(cell, str):
        cell = read_text(cell)  # a code that is also a reason, as "refused", may stand in quotes
    parsed = parse(info, cell, today)
    if parsed.typed is None:
        return parsed
    # The table of values has no place for the wording of a value in another unit, so none is converted.
    why = f"'{parsed.typed}' is in another unit than {within_sentence(info.label)} is kept in."
    problem = Problem(rule_id(info, "unit"), Severity.ERROR, why, f"{kind_words(info)} in {shown_unit(info)}")
    return replace(parsed, value=None, typed=None, problems=(problem,))
