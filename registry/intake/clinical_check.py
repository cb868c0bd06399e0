"""Clinical rules on a file before it is loaded: its new rows together with what is held of the same patients."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING, Any

from sqlalchemy import ColumnElement, Connection, Select, select

from registry.intake.known_keys import FEW
from registry.intake.links import target_of
from registry.intake.parsed_sheet import ParsedSheet
from registry.schema.tables import heading, links_of, metadata, ordered_tables, patient_path
from registry.validation.clinical.all_rules import CLINICAL_RULES
from registry.validation.findings import FindingList

if TYPE_CHECKING:
    import pyarrow as pa

    from registry.intake.amend import Amendment
    from registry.store.registry import Registry
    from registry.validation.clinical.rule import ClinicalRule
    from registry.validation.rule_running import BrokenRow

NewRows = Mapping[str, list[dict[str, Any]]]
_CHUNK = 500


class RowPlaces:
    """Where the new rows of a file stand in it; of their cells only those that a rule may cite are kept."""

    def __init__(self) -> None:
        self._sheets: dict[str, tuple[ParsedSheet, list[int]]] = {}

    def keep(self, sheet: ParsedSheet, rows: list[int]) -> None:
        """Remember a sheet's new rows, in the order of their stand-ins."""
        cited = cited_headings().get(sheet.table)
        if cited and rows:
            cells = {name: column for name, column in sheet.rows.cells.items() if name in cited}
            self._sheets[sheet.table] = ParsedSheet(replace(sheet.rows, cells=cells)), rows

    def of(self, table: str, stand_in: int) -> tuple[ParsedSheet, int]:
        """The sheet and the row index of a new row."""
        sheet, rows = self._sheets[table]
        return sheet, rows[-stand_in - 1]

    def __contains__(self, table: str) -> bool:
        return table in self._sheets


def check_clinically(
    registry: Registry,
    connection: Connection,
    new: NewRows,
    places: RowPlaces,
    patients: Set[int],
    findings: FindingList,
    amendments: Sequence[Amendment] = (),
) -> None:
    """Report the rows of a file that would break a clinical rule, each at the cell that the rule cites.

    Args:
        registry: the registry that the rows are meant for.
        connection: a reading transaction on it.
        new: new rows by table, with stand-ins below 0 for what has no key yet.
        places: where they stand in the file.
        patients: the keys of the held patients that the file speaks of.
        findings: takes what is found.
        amendments: what the file would change of rows that are there; judged as if it stood there already.
    """
    changed = _Changed(amendments)
    rules = [rule for rule in CLINICAL_RULES if rule.table in places or changed.touches(rule)]
    if not rules:
        return
    from registry.validation.rule_running import rule_engine, run_rules

    read = frozenset().union(*(rule.tables for rule in rules))
    held = _Held(registry, connection, patients | set(_sharing(connection, new)), read)

    def rows_of(table: str, columns: list[str]) -> pa.Table:
        return changed.applied(table, held.with_new(table, new.get(table, ())))

    with rule_engine(rows_of, read) as engine:
        for judged in run_rules(engine, rules):
            for broken in judged.broken:
                if broken.row > 0:
                    changed.report(judged.rule, broken, findings)
                else:
                    sheet, index = places.of(judged.rule.table, broken.row)
                    cited = cited_heading(judged.rule.table, judged.rule.fields[0])
                    sheet.report(findings, index, cited, broken.problem(judged.rule))


def cited_heading(table: str, field: str) -> str:
    """The heading under which a field stands in a sheet; of a link, the first of its target's own columns."""
    links = links_of(table)
    if field not in links:
        return heading(table, field)
    own = [part for part in links[field] if part.info.table == target_of(table, field)]
    return (own or links[field])[0].heading


@cache
def cited_headings() -> dict[str, frozenset[str]]:
    """By table, every heading that a clinical rule cites."""
    cited: dict[str, set[str]] = {}
    for rule in CLINICAL_RULES:
        cited.setdefault(rule.table, set()).add(cited_heading(rule.table, rule.fields[0]))
    return {table: frozenset(headings) for table, headings in cited.items()}


class _Changed:
    """The cells of held rows that a file would change."""

    def __init__(self, amendments: Sequence[Amendment]) -> None:
        self._by_row: dict[str, dict[int, list[Amendment]]] = {}
        for amendment in amendments:
            if amendment.codes is None:
                self._by_row.setdefault(amendment.table, {}).setdefault(amendment.row, []).append(amendment)

    def touches(self, rule: ClinicalRule) -> bool:
        """Some row that the rule may find has a changed cell that the rule reads."""
        rows = self._by_row.get(rule.table, {}).values()
        return any(each.field in rule.words for amendments in rows for each in amendments)

    def applied(self, table: str, rows: pa.Table) -> pa.Table:
        """The rows as they would be."""
        if table not in self._by_row:
            return rows
        import pyarrow as pa
        import pyarrow.compute as pc

        changed = self._by_row[table]
        here = pc.is_in(rows["id"], value_set=pa.array(list(changed), pa.int64()))
        patched = rows.filter(here).to_pylist()
        for row in patched:
            for each in changed[row["id"]]:
                for name, value in ((each.field, each.value), (f"{each.field}_precision", each.precision)):
                    if name in row:
                        row[name] = value
        return pa.concat_tables([rows.filter(pc.invert(here)), pa.Table.from_pylist(patched, schema=rows.schema)])

    def report(self, rule: ClinicalRule, broken: BrokenRow, findings: FindingList) -> None:
        """Report a held row that a change would break, at the cell that changes it."""
        about = [a for a in self._by_row.get(rule.table, {}).get(broken.row, ()) if a.field in rule.words]
        if about:
            cell = next((a for a in about if a.field == rule.fields[0]), about[0])
            place, heading_here = cell.place, cited_heading(cell.table, cell.field)
            where = {"file": place.file, "sheet": place.sheet, "column": place.column, "heading": heading_here}
            findings.add(broken.problem(rule), row=place.row, value=cell.given, **where)


class _Held:
    """The rows that rules read of the registry: those of the patients concerned, and the whole catalogue."""

    def __init__(self, registry: Registry, connection: Connection, patients: Set[int], tables: Set[str]) -> None:
        from registry.validation.rule_running import rule_columns

        self._connection = connection
        self._columns = rule_columns()
        self._keys: dict[str, list[int]] = {"patient": sorted(patients)}
        self._rows: dict[str, list[dict[str, Any]]] = {}
        self._tables: dict[str, pa.Table] = {}
        if len(patients) > FEW:
            self._read_whole(registry, tables)
        else:
            self._read(tables)

    def with_new(self, table: str, new: Iterable[dict[str, Any]]) -> pa.Table:
        """The held rows of a table and, below them, its new ones."""
        import pyarrow as pa

        from registry.validation.rule_running import rule_schema

        schema = rule_schema(table)
        fresh = _as_arrow(list(new), schema)
        held = self._tables.get(table)
        if held is None:
            held = pa.Table.from_pylist(self._rows.get(table, []), schema=schema)
        return pa.concat_tables([held, fresh])

    def _read_whole(self, registry: Registry, tables: Set[str]) -> None:
        from registry.store.reading import open_reader

        with open_reader(registry, tables) as reader:
            self._tables = {table: reader.arrow(table, self._columns[table], analysed_only=False) for table in tables}

    def _read(self, tables: Set[str]) -> None:
        wanted = set(tables)
        for table in reversed(ordered_tables()):  # what leads to a patient leads there through its parents
            path = patient_path(table.name)
            if table.name in wanted and path:
                wanted.add(target_of(table.name, path[0]))
        for table in ordered_tables():
            if table.name not in wanted:
                continue
            names = self._columns.get(table.name, ("id",))
            query = select(*(table.c[name] for name in names))
            rows = [dict(row._mapping) for row in self._narrowed(table.name, query)]
            self._rows[table.name] = rows
            self._keys[table.name] = [row["id"] for row in rows]

    def _narrowed(self, table: str, query: Select[Any]) -> Iterator[Any]:
        path = patient_path(table)
        if path is None:
            yield from self._connection.execute(query)
            return
        columns = metadata.tables[table].c
        link: ColumnElement[Any] = columns.id if table == "patient" else columns[path[0]]
        keys = self._keys["patient"] if table == "patient" else self._keys[target_of(table, path[0])]
        for start in range(0, len(keys), _CHUNK):
            yield from self._connection.execute(query.where(link.in_(keys[start : start + _CHUNK])))


def _as_arrow(rows: list[dict[str, Any]], schema: pa.Schema) -> pa.Table:
    """New rows with their stand-ins; most columns of most files are blank, and cost nothing."""
    import pyarrow as pa

    given = frozenset().union(*rows)
    stand_ins = pa.array(range(-1, -len(rows) - 1, -1), pa.int64())
    columns = [
        pa.array([row.get(field.name) for row in rows], field.type)
        if field.name in given
        else pa.nulls(len(rows), field.type)
        for field in schema
    ]
    return pa.table(dict(zip(schema.names, columns, strict=True)), schema=schema).set_column(
        schema.get_field_index("id"), "id", stand_ins
    )


def _sharing(connection: Connection, new: NewRows) -> Iterator[int]:
    """The patients on whom the very single-use pieces of the new rows were used before."""
    use, side, operation, model = (
        metadata.tables[name].c for name in ("equipment_use", "treated_side", "operation", "equipment_model")
    )
    rows = new.get("equipment_use", ())
    for column in ("equipment_item_id", "serial_as_scanned"):
        values = sorted({row[column] for row in rows if column in row and not _is_new(row[column])})
        for start in range(0, len(values), _CHUNK):
            query = (
                select(operation.patient_id)
                .join_from(metadata.tables["equipment_use"], metadata.tables["treated_side"])
                .join(metadata.tables["operation"], side.operation_id == operation.id)
                .join(metadata.tables["equipment_model"], use.equipment_model_id == model.id)
                .where(model.single_use == "yes", use[column].in_(values[start : start + _CHUNK]))
            )
            yield from connection.execute(query).scalars()


def _is_new(value: Any) -> bool:
    return isinstance(value, int) and value < 0
