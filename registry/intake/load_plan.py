"""What a file would bring: the new rows, what is there already, and everything that is wrong. Nothing is written."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from registry.intake.amend import Amender, Amending, Amendment
from registry.intake.amend_write import added_codes
from registry.intake.clinical_check import RowPlaces, check_clinically
from registry.intake.existing_rows import Comparison, pairs_of, refuse
from registry.intake.gone_rows import report_gone
from registry.intake.hospital_numbers import known_numbers, number_keys
from registry.intake.known_keys import KnownKeys
from registry.intake.links import RowIndex, resolve
from registry.intake.local_values import LocalFields
from registry.intake.merged_records import refuse_merged
from registry.intake.moments import localise
from registry.intake.parsed_sheet import Known, ParsedSheet, parse_sheet
from registry.intake.progress import Progress
from registry.intake.row_checks import check_pairs, check_required, unique_rows
from registry.intake.rows import WORKBOOK, FileRows
from registry.intake.same_person import ask_same_person
from registry.intake.site_names import fill_sites
from registry.intake.source import Source, source_of
from registry.intake.workbook_reader import all_sheets
from registry.schema.local_fields import subject_of
from registry.schema.sheets import SheetColumn
from registry.schema.tables import links_of, natural_key
from registry.validation.findings import FindingList

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from registry.store.registry import Registry


@dataclass
class LoadPlan:
    """A file, read and checked against a registry.

    Attributes:
        file: the file that was read.
        findings: everything that is wrong, open or worth knowing.
        new: new rows by table, by column name; a link to another new row is a stand-in below 0 (see ``RowIndex``).
        there: how many rows of the file the registry holds already, by table.
        head: length and hash of the change history that the plan was made on.
        amendments: what it would change of rows that are there.
        amending: how far it may change them; None when it brings new rows only.
        patients: the held patients that the file speaks of.
    """

    file: FileRows
    findings: FindingList
    new: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    there: dict[str, int] = field(default_factory=dict)
    head: tuple[int, str] = (0, "")
    amendments: list[Amendment] = field(default_factory=list)
    amending: Amending | None = None
    patients: set[int] = field(default_factory=set)

    @property
    def new_rows(self) -> int:
        """How many rows the file would bring."""
        return sum(map(len, self.new.values()))

    @property
    def brings(self) -> bool:
        """There is something to write."""
        return bool(self.new_rows or self.amendments or self.file.waiting or self.file.placed)


def make_plan(
    registry: Registry,
    path: Path | Source,
    *,
    today: date | None = None,
    progress: Progress | None = None,
    amending: Amending | None = None,
) -> LoadPlan:
    """Read a workbook, or a log by its mapping, and check it against a registry.

    Args:
        registry: the registry that the rows are meant for.
        path: the workbook, or the files with their mapping.
        today: the last day that may be recorded as past; today by default.
        progress: told of each sheet that was read and each that was checked.
        amending: how far the file may change rows that are there; None: it brings new rows only.

    Raises:
        GravelbookError: the file as a whole cannot be read.
    """
    source = source_of(path)
    findings = FindingList(source.name)
    file = source.read(registry, findings)
    return plan_file(registry, file, findings, today=today, progress=progress, amending=amending)


def plan_file(
    registry: Registry,
    file: FileRows,
    findings: FindingList,
    *,
    today: date | None = None,
    progress: Progress | None = None,
    amending: Amending | None = None,
) -> LoadPlan:
    """Check the rows of a file that is being read, whatever its form, against a registry; as ``make_plan``.

    Args:
        registry: the registry that the rows are meant for.
        file: the addressed rows.
        findings: what reading the file has found so far; takes the rest.
        today: the last day that may be recorded as past; today by default.
        progress: told of each sheet that was read and each that was checked.
        amending: how far the file may change rows that are there; None: it brings new rows only.
    """
    if amending is None and file.fills:
        amending = Amending(differing=False)
    plan = LoadPlan(file, findings, head=file.head or registry.head(), amending=amending)
    day = today or date.today()
    parsed: list[ParsedSheet] = []
    keys: Known = {}
    for rows in file.sheets:
        parsed.append(parse_sheet(rows, findings, day, keys))
        if progress:
            progress("Reading", file.read, file.size)
    with registry.reading() as connection:
        studies = {s for sheet in parsed for s in sheet.values.get("study_number", ()) if s is not None}
        known = KnownKeys(connection, studies)
        fill_sites(parsed, known, findings)
        refuse_merged(parsed, connection, findings)
        localise(parsed, connection, findings)
        index, local, places = RowIndex(known), LocalFields(connection, day), RowPlaces()
        amender = None if amending is None else Amender(registry, connection, file.source, amending, findings)
        order = {layout.table: number for number, layout in enumerate(all_sheets())}
        parsed.sort(key=lambda sheet: order[sheet.table], reverse=True)
        checked, total = 0, sum(map(len, parsed))
        while parsed:  # parents first; a sheet is let go when its rows are planned
            sheet = parsed.pop()
            if sheet.table == "local_field":
                local.take(sheet, findings)
            elif subject_of(sheet.table) is not None:
                local.read(sheet, findings)
            _plan_sheet(registry, connection, sheet, index, plan, amender, places)
            checked += len(sheet)
            if progress:
                progress("Checking", checked, total)
        if amender is not None:
            _take_amendments(connection, amender, plan)
        plan.patients = known.patients(studies)
        check_clinically(registry, connection, plan.new, places, plan.patients, findings, plan.amendments)
    return plan


def _take_amendments(connection: Connection, amender: Amender, plan: LoadPlan) -> None:
    plan.amendments = amender.amendments
    for table, rows in added_codes(plan.amendments).items():
        plan.new.setdefault(table, []).extend(rows)
    # An extract holds a week's rows and a workbook whatever was typed: neither is a version of the one before.
    if amender.amending.differing and not plan.file.fills and plan.file.source != WORKBOOK:
        report_gone(connection, plan.file.source, amender.present, plan.findings)


def _plan_sheet(
    registry: Registry,
    connection: Connection,
    sheet: ParsedSheet,
    index: RowIndex,
    plan: LoadPlan,
    amender: Amender | None,
    places: RowPlaces,
) -> None:
    findings, table = plan.findings, sheet.table
    links = resolve(sheet, index, findings)
    check_required(sheet, findings)
    check_pairs(sheet, findings)
    if table == "hospital_number":
        keys = number_keys(sheet)
        known = known_numbers(registry, sheet, links, findings)
    else:
        columns = [sheet.values[part.heading] for part in natural_key(table)]
        keys = [key if None not in key else None for key in zip(*columns, strict=True)]
        known = index.of(table)
    index.unread[table] = [sheet.rows.numbers[row] for row, key in enumerate(keys) if key is None]
    first = unique_rows(sheet, keys, findings)
    there = {row: known[key] for key, row in first.items() if known.get(key, 0) > 0}
    if there and table != "hospital_number":
        comparison = Comparison(registry, connection, sheet, there)
        if amender is None:
            comparison.compare(links, findings, lambda found: refuse(sheet, found, findings))
        else:
            amender.take(comparison, links)
    fresh = sorted((key, row) for key, row in first.items() if row not in there)
    if table != "hospital_number":
        ids = index.of(table)
        ids.update({key: -number for number, (key, _) in enumerate(fresh, start=1)})
    if table == "patient_identity":
        ask_same_person(registry, connection, sheet, [row for _, row in fresh], links["patient_id"], findings)
    plan.there[table] = len(there)
    plan.new[table] = _records(sheet, [row for _, row in fresh], links)
    places.keep(sheet, [row for _, row in fresh])
    for column in sheet.rows.sheet.columns:
        if column.folded:
            codes = sheet.values[column.heading]
            plan.new[column.folded] = [
                {f"{table}_id": -number, column.path[0]: code}
                for number, (_, row) in enumerate(fresh, start=1)
                for code in codes[row]
            ]


def _records(sheet: ParsedSheet, rows: list[int], links: dict[str, list[int | None]]) -> list[dict[str, Any]]:
    """New rows by column name, in the order given; what is missing is left out."""
    columns: dict[str, list[Any]] = {}
    for column in sheet.rows.sheet.columns:
        if not column.links and not column.folded:
            columns[column.path[0]] = sheet.values[column.heading]
            if column.heading in sheet.precision:
                columns[f"{column.path[0]}_precision"] = sheet.precision[column.heading]
    columns |= links
    chosen = {name: [values[row] for row in rows] for name, values in columns.items()}
    chosen["missing_reasons"] = _pairs(sheet, rows, sheet.reasons)
    chosen["as_typed"] = _pairs(sheet, rows, sheet.typed)
    # A million rows of thirty names each would fill the memory; most values of most rows are missing.
    names = [name for name, values in chosen.items() if values.count(None) < len(values)]
    return [
        {name: value for name, value in zip(names, values, strict=True) if value is not None}
        for values in zip(*(chosen[name] for name in names), strict=True)
    ]


def _pairs(sheet: ParsedSheet, rows: list[int], by_heading: dict[str, dict[int, str]]) -> list[str | None]:
    gathered: dict[int, dict[str, str]] = {}
    for column in sheet.rows.sheet.columns:
        names = fields_named(sheet.table, column)
        for row, wording in by_heading.get(column.heading, {}).items():
            gathered.setdefault(row, {}).update(dict.fromkeys(names, wording))
    return [pairs_of(gathered[row]) if row in gathered else None for row in rows]


def fields_named(table: str, column: SheetColumn) -> list[str]:
    """The table's own columns that a heading speaks for: its field, or the links that it is the first to name."""
    if not column.links:
        return [column.path[0]]
    links = links_of(table)
    return [n for n in column.links if any(p.heading == column.heading and not p.shared for p in links[n])]
