"""A flat log, read by its mapping, as the rows of the intake workbook."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING

from sqlalchemy import select

from registry.intake.log_cells import LogSheet
from registry.intake.log_mapping import ONE, Mapping
from registry.intake.log_mapping_binding import bind
from registry.intake.log_mapping_entry import nearest
from registry.intake.log_mapping_reader import read_mapping
from registry.intake.log_mapping_targets import of_operation
from registry.intake.log_patients import patient_of_row, patients_of, reserve
from registry.intake.log_reader import read_log_file
from registry.intake.log_records import LogValue, RowReader, RowValues
from registry.intake.log_records_complete import complete
from registry.intake.log_records_days import check_days
from registry.intake.log_records_place import Placer
from registry.intake.log_records_store import Record, RecordStore
from registry.intake.log_records_visits import Case, day_of_case, number_courses, number_visits
from registry.intake.log_rows_sheets import sheets_of
from registry.intake.log_undisturbed import undisturbed
from registry.intake.rows import FileRows
from registry.intake.source import Source
from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata
from registry.validation.findings import FindingList, Problem, Severity

if TYPE_CHECKING:
    from registry.store.registry import Registry

_OPERATED = (("operation", "", ONE), "operated_on")
_SIDE = ("renal_unit", "", ONE)


def read_log(registry: Registry, source: Source, findings: FindingList) -> FileRows:
    """Read the files of a log by their mapping.

    Args:
        registry: the registry that the rows are meant for; patients and courses are looked up in it.
        source: the files and the mapping.
        findings: takes what reading finds.

    Raises:
        GravelbookError: a file or the mapping cannot be read, or the two do not fit each other.
    """
    if source.mapping is None:
        raise GravelbookError(f"{source.name} needs a mapping to be read as a log. Name it with --mapping.")
    mapping = read_mapping(source.mapping)
    if mapping.kind == "theatre_list":
        raise GravelbookError(
            f'The mapping {mapping.file} is of the kind "{mapping.kind}", whose lines are no rows of a case. Check it '
            "or load it whole, without other options: gravelbook intake load FILE --mapping MAPPING"
        )
    with undisturbed():
        return _read(registry, source, mapping, findings)


def _read(registry: Registry, source: Source, mapping: Mapping, findings: FindingList) -> FileRows:
    site = site_of(registry, mapping)
    rows = list(rows_of_files(mapping, source, findings))
    if mapping.kind == "extract":
        from registry.intake.extract_file import read_extract

        return read_extract(registry, source, mapping, site, rows, findings)
    for row in rows:
        complete(row, mapping, findings)
    store = RecordStore(findings)
    _own_site(mapping, site, rows, store)
    placer = Placer(mapping, site, store, findings)
    today = date.today()
    for case in cases_of(registry, site, rows, store, findings):
        check_days(case, findings, today)
        placer.place(case)
    return FileRows(source.name, source.content_hash(), sheets_of(store), source=mapping.name)


def rows_of_files(mapping: Mapping, source: Source, findings: FindingList) -> Iterator[RowValues]:
    """The rows of a log's files, each once, with what they say; nothing is known yet of their patients.

    Args:
        mapping: the mapping.
        source: the files.
        findings: takes what is wrong with cells and columns, and a note for each row that stands twice.

    Raises:
        GravelbookError: a file cannot be read, or has not the columns that the mapping names.
    """
    sheets = [sheet for path in source.files for sheet in read_log_file(path, mapping.reading, findings).sheets]
    yield from rows_of_sheets(mapping, sheets, findings)


def rows_of_sheets(mapping: Mapping, sheets: list[LogSheet], findings: FindingList) -> Iterator[RowValues]:
    """As ``rows_of_files``, of sheets that are read already."""
    findings.sheet_order(dict.fromkeys(sheet.title for sheet in sheets if sheet.title))
    seen: dict[tuple[frozenset[str], tuple[str, ...]], RowValues] = {}
    for bound in bind(mapping, sheets, findings):
        reader = RowReader(bound, findings)
        for at, cells in enumerate(bound.sheet.rows):
            texts = tuple(cell.text.strip() for cell in cells)
            if not any(texts):
                continue
            first = seen.get((bound.layout, texts))
            if first is not None:
                _stands_twice(RowValues(bound, at), first, findings)
                continue
            seen[bound.layout, texts] = row = reader.row(at)
            yield row


def site_of(registry: Registry, mapping: Mapping) -> str:
    """The code of the site that a log belongs to.

    Raises:
        GravelbookError: the mapping names a site that there is not, or none where there are several.
    """
    own = [constant.value for constant in mapping.constants if constant.to.text == "site.site"]
    with registry.reading() as connection:
        known = sorted(str(code) for code in connection.execute(select(metadata.tables["site"].c.code)).scalars())
    site = mapping.site or (own[0] if own else "")
    if site and (site in known or own):
        return site
    if site:
        right = f"{nearest(site, known)}one of: {', '.join(known)}" if known else "none yet"
        raise GravelbookError(
            f"The mapping {mapping.file} is for the site '{site}', which the registry does not have ({right}). Write "
            "the right code under site, or make the site first."
        )
    if len(known) == 1:
        return known[0]
    which = f"the registry has {len(known)}: {', '.join(known)}" if known else "the registry has none yet"
    raise GravelbookError(f'The mapping {mapping.file} names no site, and {which}. Add a line: site = "CODE".')


def cases_of(
    registry: Registry, site: str, rows: list[RowValues], store: RecordStore, findings: FindingList
) -> list[Case]:
    """The rows with their patients, operations and courses; a row that cannot be placed is a finding and left out."""
    patients = patients_of(registry, site, rows)
    reserve(patients, rows)
    cases = []
    for row in rows:
        study = patient_of_row(patients, row, findings)
        if study is None or not _dated(row, site, study, store, findings) or not _sided(row, findings):
            continue
        cases.append(Case(row, study, day_of_case(row)))
    cases = number_visits(cases, findings)
    number_courses(registry, cases)
    return cases


def _dated(row: RowValues, site: str, study: str, store: RecordStore, findings: FindingList) -> bool:
    """The row's operation has a day, where it needs one."""
    if _OPERATED in row.failed:
        return False
    value = row.value("operation", "operated_on")
    if value is not None:
        if day_of_case(row) is not None:
            return True
        # The field's own reader says what is wrong with the date.
        purpose = {"purpose": LogValue("stone_removal")}
        named = {"site": LogValue(site), "study_number": LogValue(study), "operated_on": value}
        store.put(Record("patient", row, {h: named[h] for h in ("site", "study_number")}, (site, study)))
        store.put(Record("operation", row, named | purpose))
        return False
    needing = [key for key, values in row.values.items() if of_operation(key[0]) and values]
    if not needing:
        return True
    columns = _columns_of(row, "operation.operated_on")
    why = "The date of the operation is blank, so that nothing says which operation the row is about."
    row.report(findings, columns, Problem("operation.operated_on.required", Severity.ERROR, why, "the date"))
    return False


def _sided(row: RowValues, findings: FindingList) -> bool:
    """The row's operation has a side, or says itself what it was for."""
    if (_SIDE, "unit") in row.failed:
        return False
    operation = row.values.get(_OPERATED[0])
    if operation is None or "purpose" in operation or any(table == "treated_side" for table, _, _ in row.values):
        return True
    columns = _columns_of(row, "renal_unit.unit")
    if not columns and not any(column.side for column, _ in row.bound.columns):
        return True  # a sheet of what happened at operations that another one describes
    why = "Nothing in the row says which kidney was operated on."
    row.report(findings, columns, Problem("log.side.named", Severity.ERROR, why, "a side, or what the visit was for"))
    return False


def _columns_of(row: RowValues, target: str) -> tuple[int, ...]:
    """The columns that could have held a value."""
    return tuple(index for column, index in row.bound.columns if target in {one.text for one in column.targets})


def _stands_twice(row: RowValues, first: RowValues, findings: FindingList) -> None:
    where = f"row {first.number}" + ("" if first.sheet is row.sheet else f" of {first.sheet.file}")
    problem = Problem("log.row.once", Severity.NOTE, f"The row is the same as {where}; it was taken once.")
    row.report(findings, (), problem)


def _own_site(mapping: Mapping, site: str, rows: list[RowValues], store: RecordStore) -> None:
    """A site that the mapping itself describes."""
    said = {c.to.heading: LogValue(c.value) for c in mapping.constants if c.to.table == "site"}
    if "name" in said and rows:
        store.put(Record("site", rows[0], {**said, "site": LogValue(site)}, (site,)))
