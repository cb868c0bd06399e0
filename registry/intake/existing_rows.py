"""Rows of a file whose natural key the registry holds already: the same, or different."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, select

from registry.intake.known_keys import FEW
from registry.intake.parsed_sheet import ParsedSheet
from registry.schema.fields import FieldInfo
from registry.schema.sentences import shown
from registry.schema.sheets import SheetColumn, as_typed
from registry.schema.tables import metadata
from registry.validation.field_words import hides
from registry.validation.findings import FindingList, Problem, Severity

if TYPE_CHECKING:
    from registry.store.cipher import Cipher
    from registry.store.registry import Registry

# Worked out by the store when left blank, so that a blank cell agrees with whatever stands there.
WORKED_OUT = frozenset({("operation", "age_years")})
_CHUNK = 500
_MADE_ANEW = (
    "A registry that holds nothing else yet is best made anew, with the right name and zone: "
    "gravelbook store create --site CODE --site-name NAME --time-zone ZONE"
)


def compare(
    registry: Registry,
    connection: Connection,
    sheet: ParsedSheet,
    there: Mapping[int, int],
    links: Mapping[str, list[int | None]],
    findings: FindingList,
) -> None:
    """Compare the rows of a sheet that are in the registry with what stands there.

    A filled cell that differs is an error: a file brings new rows and changes none. A blank cell says nothing; where
    the registry holds a value, a note says that it stays.

    Args:
        registry: the registry, for values that are kept encrypted.
        connection: a reading transaction on it.
        sheet: the typed columns.
        there: ids of the registry's rows by row index of the sheet.
        links: by link, the id that each row of the sheet names.
        findings: takes what differs.
    """
    table = metadata.tables[sheet.table]
    stored = dict(stored_rows(connection, table, list(there.values())))
    cipher = registry.cipher(connection)
    for column in sheet.rows.sheet.columns:
        if column.heading not in sheet.rows.cells or column.in_key:
            continue
        if column.folded:
            _compare_folded(connection, sheet, column, there, findings)
        elif column.links:
            _compare_links(sheet, column, there, links, stored, findings)
        else:
            _compare_field(cipher, sheet, column, there, stored, findings)


def stored_rows(connection: Connection, table: Table, ids: list[int]) -> Iterator[tuple[int, dict[str, Any]]]:
    """Rows of a table as they are stored, by id; encrypted values stay so."""
    if len(ids) > FEW:
        wanted = set(ids)
        for row in connection.execute(select(table)):
            if row.id in wanted:
                yield row.id, row._asdict()
        return
    for start in range(0, len(ids), _CHUNK):
        for row in connection.execute(select(table).where(table.c.id.in_(ids[start : start + _CHUNK]))):
            yield row.id, row._asdict()


def _compare_field(
    cipher: Cipher,
    sheet: ParsedSheet,
    column: SheetColumn,
    there: Mapping[int, int],
    stored: Mapping[int, dict[str, Any]],
    findings: FindingList,
) -> None:
    name, info = column.path[0], column.info
    precision = sheet.precision.get(column.heading)
    for row, row_id in there.items():
        held = stored[row_id][name]
        if info.encrypted and held is not None:
            held = cipher.decrypt(held, sheet.table, name)
        held_reason = reasons_in(stored[row_id]["missing_reasons"]).get(name)
        held_precision = stored[row_id].get(f"{name}_precision")
        given, reason = sheet.values[column.heading][row], sheet.reasons.get(column.heading, {}).get(row)
        if row in sheet.failed.get(column.heading, ()):
            continue
        if given is None and reason is None:
            if held is not None and (sheet.table, name) not in WORKED_OUT:
                _stays(sheet, row, column, _worded(info, held, held_precision), findings)
            continue
        same = given == held and reason == held_reason
        if same and given is not None and info_has_precision(sheet.table, name):
            same = _precision(precision[row] if precision else None) == _precision(held_precision)
        if not same:
            now = held_reason if held is None else _worded(info, held, held_precision)
            _differs(sheet, row, column, now, findings)


def _worded(info: FieldInfo, held: Any, precision: Any) -> str:
    if hides(info):
        return "another value"
    return str(as_typed(info, held, precision)) if precision else shown(info, held)


def info_has_precision(table: str, name: str) -> bool:
    """The field is a date with a companion that says how exactly it is known."""
    return f"{name}_precision" in metadata.tables[table].columns


def _precision(value: Any) -> str:
    return str(value) if value is not None else "day"


def _compare_links(
    sheet: ParsedSheet,
    column: SheetColumn,
    there: Mapping[int, int],
    links: Mapping[str, list[int | None]],
    stored: Mapping[int, dict[str, Any]],
    findings: FindingList,
) -> None:
    # The last heading that belongs to a link stands for it, so that it is compared once.
    for link in column.links:
        own = [c.heading for c in sheet.rows.sheet.columns if link in c.links and c.heading in sheet.rows.cells]
        if not own or own[-1] != column.heading:
            continue
        for row, row_id in there.items():
            held, given = stored[row_id][link], links[link][row]
            if given is None and held is not None:
                _stays(sheet, row, column, "its link", findings)
            elif given is not None and given != held:
                _differs(sheet, row, column, "another row" if held else None, findings)


def _compare_folded(
    connection: Connection, sheet: ParsedSheet, column: SheetColumn, there: Mapping[int, int], findings: FindingList
) -> None:
    assert column.folded is not None
    child = metadata.tables[column.folded]
    link = next(c for c in child.columns if c.name == f"{sheet.table}_id")
    held: dict[int, set[str]] = {}
    wanted = set(there.values())
    query = select(link, child.c[column.path[0]])
    if len(wanted) <= _CHUNK:
        query = query.where(link.in_(wanted))
    for parent, code in connection.execute(query):
        held.setdefault(parent, set()).add(str(code))
    for row, row_id in there.items():
        given, codes = set(sheet.values[column.heading][row]), held.get(row_id, set())
        if row in sheet.failed.get(column.heading, ()):
            continue
        if not given and codes:
            _stays(sheet, row, column, "; ".join(sorted(codes)), findings)
        elif given and given != codes:
            _differs(sheet, row, column, "; ".join(sorted(codes)) or None, findings)


def reasons_in(pairs: str | None) -> dict[str, str]:
    """The pairs of ``field=wording;field=wording;`` as the store keeps them, by field."""
    return dict(pair.split("=", 1) for pair in (pairs or "").split(";") if pair)


def pairs_of(wordings: Mapping[str, str]) -> str | None:
    """Wordings by field as the store keeps them: sorted pairs, None when there are none."""
    return "".join(f"{name}={wordings[name]};" for name in sorted(wordings)) or None


def _stays(sheet: ParsedSheet, row: int, column: SheetColumn, held: str, findings: FindingList) -> None:
    why = f"The cell is blank and the row is in the registry already: what stands there stays ({held})."
    sheet.report(findings, row, column.heading, Problem("row.stays", Severity.NOTE, why))


def _differs(sheet: ParsedSheet, row: int, column: SheetColumn, held: str | None, findings: FindingList) -> None:
    """Report a filled cell that is not what the registry has; ``held`` is None where the registry has nothing."""
    if held is None:
        why = "The row is in the registry already and is blank here; a file brings new rows and fills in no old one."
        right = "a blank cell"
    else:
        why = f"The row is in the registry already and has {held} here; a file brings new rows and changes none."
        right = "the registry's value" if column.info.required else "the registry's value, or a blank cell"
    if sheet.table == "site":
        right += f". {_MADE_ANEW}"
    sheet.report(findings, row, column.heading, Problem("row.differs", Severity.ERROR, why, right))
