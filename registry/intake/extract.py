"""A weekly extract, read by its mapping: every row finds its patient, its operation and its side, or waits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from registry.intake.extract_finding import (
    STAY,
    Why,
    give_side,
    give_stay,
    leave_named,
    needs_side,
    operation_of,
    own_day,
)
from registry.intake.extract_held import HeldCases
from registry.intake.extract_numbers import HeldNumbers
from registry.intake.log_mapping import Mapping
from registry.intake.log_mapping_targets import of_course
from registry.intake.log_patients import Patients, numbers_in, patient_of_row, patients_of, study_in
from registry.intake.log_records import RowValues
from registry.intake.log_records_complete import complete
from registry.intake.log_records_days import check_days
from registry.intake.log_records_place import Placer
from registry.intake.log_records_store import RecordStore
from registry.intake.log_records_visits import Case, number_courses
from registry.intake.log_rows_sheets import sheets_of
from registry.intake.rows import FileRows
from registry.store.cipher import bare_number
from registry.validation.findings import FindingList, Problem, Severity

if TYPE_CHECKING:
    from registry.store.registry import Registry

_OF_A_COURSE = ("treated_side", "course")


@dataclass(frozen=True)
class Waits:
    """A row that found no case, and why."""

    row: RowValues
    why: Why


def place_rows(
    registry: Registry, mapping: Mapping, site: str, rows: Sequence[RowValues], file: FileRows, findings: FindingList
) -> list[Waits]:
    """Place the rows of an extract; the file gets the sheets that they fill.

    Args:
        registry: where patients, operations and held rows are looked up.
        mapping: the mapping.
        site: the site's code.
        rows: the rows as they were read; completed in place.
        file: takes the sheets.
        findings: takes what is wrong with rows.

    Returns:
        The rows that found no case, in their order.
    """
    cases: list[Case] = []
    waiting: list[Waits] = []
    patients = patients_of(registry, site, rows)
    studies = {s for row in rows if (s := _study(patients, row)) is not None}
    with registry.reading() as connection:
        held = HeldCases(registry, connection, site, studies)
        for row in _spoken(rows, findings):
            found = _case(row, patients, held, mapping, findings)
            if isinstance(found, Why):
                waiting.append(Waits(row, found))
            elif found is not None:
                complete(row, mapping, findings)
                check_days(found, findings, date.today())
                cases.append(found)
        number_courses(registry, [case for case in cases if _speaks_of_courses(case.row)])
        store = RecordStore(findings, HeldNumbers(held, mapping.extract.fills, findings))
        placer = Placer(mapping, site, store, findings)
        for case in cases:
            placer.place(case)
    file.sheets = sheets_of(store)
    return waiting


def _spoken(rows: Sequence[RowValues], findings: FindingList) -> list[RowValues]:
    """The rows without those of tests that the mapping reads nowhere: a laboratory sends all it has."""
    spoken: list[RowValues] = []
    passed: dict[int, list[RowValues]] = {}
    for row in rows:
        chosen = [column for column, _ in row.bound.columns if column.where]
        if chosen and not any(row.bound.reads(column, row.sheet.rows[row.at]) for column in chosen):
            passed.setdefault(id(row.sheet), []).append(row)
        else:
            spoken.append(row)
    for some in passed.values():
        why = f"{len(some)} rows, this one first, hold none of the words for which the mapping reads a column."
        problem = Problem("log.extract.passed", Severity.NOTE, f"{why} They were passed over.")
        some[0].report(findings, (), problem)
    return spoken


def _case(
    row: RowValues, patients: Patients, held: HeldCases, mapping: Mapping, findings: FindingList
) -> Case | Why | None:
    """A row with its case; why it waits; None, with a finding, where it can do neither."""
    if _study(patients, row) is None:
        return _nobody(row, findings)
    study = patient_of_row(patients, row, findings)
    if study is None:
        return None
    operation = operation_of(row, study, held, mapping.extract)
    if isinstance(operation, Why):
        return operation
    if operation is None and mapping.extract.finds != "patient":
        _dayless(row, findings)
        return None
    if any(constant.to.text == "renal_unit.unit" for constant in mapping.constants):
        side = None
    else:
        side = give_side(row, operation) if needs_side(row) else None
    why = side or give_stay(row, study, held, operation)
    if why is not None:
        return why
    if operation is None:
        return Case(row, study)
    leave_named(row)
    return Case(row, study, operation.operated_on, operation.day_number)


def _study(patients: Patients, row: RowValues) -> str | None:
    """A patient that the registry holds, by one of the row's numbers."""
    for _, text in numbers_in(row):
        study = patients.held.get(bare_number(text))
        if study is not None:
            return study
    said = study_in(row)
    return said if said in patients.held_studies else None


def _nobody(row: RowValues, findings: FindingList) -> Why | None:
    if next(numbers_in(row), None) is not None or study_in(row) is not None:
        return Why.PATIENT
    if not any(key[0] in ("hospital_number", "patient") for key, _ in row.failed):
        why = "Nothing in this row says whose it is."
        problem = Problem("log.patient.named", Severity.ERROR, why, "a hospital number or a study number")
        row.report(findings, (), problem)
    return None


def _dayless(row: RowValues, findings: FindingList) -> None:
    """A row whose day is blank; one that cannot be read is a finding already."""
    if own_day(row) is not None or row.failed:
        return
    why = "The row has no day, so that it leads to no operation."
    if STAY in row.values:
        why = "The row has neither a day of admission nor one of discharge, so that it leads to no operation."
    row.report(findings, (), Problem("log.extract.dated", Severity.ERROR, why, "the day of the report or event"))


def _speaks_of_courses(row: RowValues) -> bool:
    return any(table in _OF_A_COURSE or of_course(table) for table, _, _ in row.values)
