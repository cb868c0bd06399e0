"""Rows of a file whose natural key the registry holds already: the same, or different."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, select

from registry.intake.known_keys import FEW
from registry.intake.parsed_sheet import ParsedSheet
from registry.schema.fields import FieldInfo
from registry.schema.sentences import shown
from registry.schema.sheets import SEPARATOR, SheetColumn, as_typed
from registry.schema.tables import metadata
from registry.store.field_history import pairs_in
from registry.validation.field_words import hides
from registry.validation.findings import FindingList, Problem, Severity

if TYPE_CHECKING:
    from registry.store.registry import Registry

# Worked out by the store when left blank, so that a blank cell agrees with whatever stands there.
WORKED_OUT = frozenset({("operation", "age_years")})
_CHUNK = 500
_MADE_ANEW = (
    "A registry that holds nothing else yet is best made anew, with the right name and zone: "
    "gravelbook store create --site CODE --site-name NAME --time-zone ZONE"
)


@dataclass(frozen=True, slots=True)
class Difference:
    """A filled cell that is not what the registry has.

    Attributes:
        row: the row's index in its sheet.
        row_id: the row in the registry.
        column: the cell's column.
        field: the column of the table that the cell speaks for; of a folded list, that of its codes.
        value: what the cell says, as it is stored; a folded list as a tuple of codes.
        held: what the registry has, in words; None where it has nothing.
        given: what the cell says, in words.
        precision: of a date.
        reason: why the value is missing, as the cell says.
        typed: the cell's wording, where it is in another unit.
    """

    row: int
    row_id: int
    column: SheetColumn
    field: str
    value: Any
    held: str | None
    given: str
    precision: str | None = None
    reason: str | None = None
    typed: str | None = None


Differs = Callable[[Difference], None]


class Comparison:
    """One sheet's rows that are there, beside what the registry has of them."""

    def __init__(
        self, registry: Registry, connection: Connection, sheet: ParsedSheet, there: Mapping[int, int]
    ) -> None:
        """Read the rows.

        Args:
            registry: for values that are kept encrypted.
            connection: a reading transaction on it.
            sheet: the typed columns.
            there: ids of the registry's rows by row index of the sheet.
        """
        self.sheet, self.there = sheet, there
        self.stored = dict(stored_rows(connection, metadata.tables[sheet.table], list(there.values())))
        self.connection = connection
        self.cipher = registry.cipher(connection)

    def compare(self, links: Mapping[str, list[int | None]], findings: FindingList, differs: Differs) -> None:
        """Go through the cells. A blank cell says nothing: where the registry holds a value, a note says it stays.

        Args:
            links: by link, the id that each row of the sheet names.
            findings: takes the notes.
            differs: told of each filled cell that differs.
        """
        for column in self.sheet.rows.sheet.columns:
            if column.heading not in self.sheet.rows.cells or column.in_key:
                continue
            if column.folded:
                self._folded(column, findings, differs)
            elif column.links:
                self._links(column, links, findings, differs)
            else:
                self._field(column, findings, differs)

    def _field(self, column: SheetColumn, findings: FindingList, differs: Differs) -> None:
        sheet, name, info = self.sheet, column.path[0], column.info
        precisions, failed = sheet.precision.get(column.heading), sheet.failed.get(column.heading, ())
        reasons, has_precision = sheet.reasons.get(column.heading, {}), info_has_precision(sheet.table, name)
        for row, row_id in self.there.items():
            if row in failed:
                continue
            stored = self.stored[row_id]
            held, held_precision = stored[name], stored.get(f"{name}_precision")
            if info.encrypted and held is not None:
                held = self.cipher.decrypt(held, sheet.table, name)
            given, reason = sheet.values[column.heading][row], reasons.get(row)
            if given is None and reason is None:
                if held is not None and (sheet.table, name) not in WORKED_OUT:
                    _stays(sheet, row, column, _worded(info, held, held_precision), findings)
                continue
            precision = precisions[row] if precisions else None
            held_reason = reasons_in(stored["missing_reasons"]).get(name)
            same = given == held and reason == held_reason
            if same and given is not None and has_precision:
                same = _precision(precision) == _precision(held_precision)
            if not same:
                now = held_reason if held is None else _worded(info, held, held_precision)
                says = str(reason) if given is None else _worded(info, given, precision)
                typed = sheet.typed.get(column.heading, {}).get(row)
                differs(Difference(row, row_id, column, name, given, now, says, precision, reason, typed))

    def _links(
        self,
        column: SheetColumn,
        links: Mapping[str, list[int | None]],
        findings: FindingList,
        differs: Differs,
    ) -> None:
        # The last heading that belongs to a link stands for it, so that it is compared once.
        sheet = self.sheet
        for link in column.links:
            own = [c.heading for c in sheet.rows.sheet.columns if link in c.links and c.heading in sheet.rows.cells]
            if not own or own[-1] != column.heading:
                continue
            for row, row_id in self.there.items():
                held, given = self.stored[row_id][link], links[link][row]
                if given is None and held is not None:
                    _stays(sheet, row, column, "its link", findings)
                elif given is not None and given != held:
                    now = "another row" if held else None
                    differs(Difference(row, row_id, column, link, given, now, "the row that it names"))

    def _folded(self, column: SheetColumn, findings: FindingList, differs: Differs) -> None:
        sheet, failed = self.sheet, self.sheet.failed.get(column.heading, ())
        held = held_codes(self.connection, sheet.table, column, set(self.there.values()))
        for row, row_id in self.there.items():
            if row in failed:
                continue
            given, codes = set(sheet.values[column.heading][row]), set(held.get(row_id, ()))
            now = SEPARATOR.join(sorted(codes)) or None
            if not given and now:
                _stays(sheet, row, column, now, findings)
            elif given and given != codes:
                says = SEPARATOR.join(sorted(given))
                differs(Difference(row, row_id, column, column.path[0], tuple(sorted(given)), now, says))


def held_codes(
    connection: Connection, table: str, column: SheetColumn, rows: set[int]
) -> dict[int, dict[str, tuple[int, int | None]]]:
    """The codes of a folded list that rows hold: by row and code, the key of the code's own row and its batch."""
    assert column.folded is not None
    child = metadata.tables[column.folded]
    link = child.c[f"{table}_id"]
    held: dict[int, dict[str, tuple[int, int | None]]] = {}
    query = select(child.c.id, link, child.c[column.path[0]], child.c.batch_id)
    if len(rows) <= _CHUNK:
        query = query.where(link.in_(rows))
    for row_id, parent, code, batch in connection.execute(query):
        held.setdefault(parent, {})[str(code)] = (row_id, batch)
    return held


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


def _worded(info: FieldInfo, held: Any, precision: Any) -> str:
    if hides(info):
        return "another value"
    return str(as_typed(info, held, precision)) if precision else shown(info, held)


def info_has_precision(table: str, name: str) -> bool:
    """The field is a date with a companion that says how exactly it is known."""
    return f"{name}_precision" in metadata.tables[table].columns


def _precision(value: Any) -> str:
    return str(value) if value is not None else "day"


reasons_in = pairs_in


def pairs_of(wordings: Mapping[str, str]) -> str | None:
    """Wordings by field as the store keeps them: sorted pairs, None when there are none."""
    return "".join(f"{name}={wordings[name]};" for name in sorted(wordings)) or None


def _stays(sheet: ParsedSheet, row: int, column: SheetColumn, held: str, findings: FindingList) -> None:
    why = f"The cell is blank and the row is in the registry already: what stands there stays ({held})."
    sheet.report(findings, row, column.heading, Problem("row.stays", Severity.NOTE, why))


def refuse(sheet: ParsedSheet, found: Difference, findings: FindingList) -> None:
    """Report a difference where the file may bring new rows only."""
    if found.held is None:
        why = "The row is in the registry already and is blank here; a file brings new rows and fills in no old one."
        right = "a blank cell"
    else:
        why = f"The row is in the registry already and has {found.held} here; a file brings new rows and changes none."
        right = "the registry's value" if found.column.info.required else "the registry's value, or a blank cell"
    if sheet.table == "site":
        right += f". {_MADE_ANEW}"
    else:
        right += ". A later version of a file changes what the earlier one said when it is loaded with --amend"
    sheet.report(findings, found.row, found.column.heading, Problem("row.differs", Severity.ERROR, why, right))
