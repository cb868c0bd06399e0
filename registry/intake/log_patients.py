"""Whose row it is: the study number of every row's patient, by hospital number, by study number, or by name.

A number that the registry holds leads to its patient. A patient who is new gets the next free study number of the
site, in the order of the rows, so that the same files give the same numbers. Names and birth dates alone never settle
who somebody is without a question.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sqlalchemy import select

from registry.intake.log_mapping import folded
from registry.intake.log_mapping_targets import Target
from registry.intake.log_records import LogValue, RowValues
from registry.intake.values import parse
from registry.schema.tables import metadata
from registry.store.cipher import ERASED, bare_number, keyed_index
from registry.validation.findings import FindingList, Problem, Severity

if TYPE_CHECKING:
    from registry.store.registry import Registry

_CHUNK = 500
_DIGITS = 5
Person = tuple[str, str, str]
"""Family name, given names and birth date, folded."""


@dataclass(frozen=True)
class Numbered:
    """A hospital number of the rows so far: bare, whose it is, and the names that stand beside it, folded."""

    bare: str
    study: str
    names: tuple[str, ...]


@dataclass
class Patients:
    """The patients of one site that a log speaks of.

    Attributes:
        site: the site's code.
        held: study numbers of the registry by bare hospital number.
        persons: study numbers by name and birth date, of the registry and of the rows so far; None while nobody asked.
        taken: all study numbers that are taken.
        last: the last number of the site's own row of numbers.
        alike: hospital numbers by their digits without leading zeros.
    """

    registry: Registry
    site: str
    held: dict[str, str] = field(default_factory=dict)
    given: dict[str, str] = field(default_factory=dict)
    persons: dict[Person, str] | None = None
    named: dict[str, Person] = field(default_factory=dict)
    taken: set[str] = field(default_factory=set)
    held_studies: set[str] = field(default_factory=set)
    last: int = 0
    alike: dict[str, Numbered] = field(default_factory=dict)


def patients_of(registry: Registry, site: str, rows: Iterable[RowValues]) -> Patients:
    """What the registry knows of the patients whose numbers stand in some rows; nothing is decrypted."""
    found = Patients(registry, site)
    bare = {bare_number(text) for row in rows for _, text in numbers_in(row)}
    patient, sites = metadata.tables["patient"].c, metadata.tables["site"].c
    number = metadata.tables["hospital_number"].c
    with registry.reading() as connection:
        query = select(patient.study_number).where(patient.site_id == sites.id, sites.code == site)
        found.held_studies = {str(study) for (study,) in connection.execute(query)}
        by_index = {keyed_index(registry.keys, one): one for one in sorted(bare)}
        asked = list(by_index)
        for start in range(0, len(asked), _CHUNK):
            numbers = select(number.number_index, patient.study_number).where(
                number.patient_id == patient.id,
                number.site_id == sites.id,
                sites.code == site,
                number.number_index.in_(asked[start : start + _CHUNK]),
            )
            found.held.update({by_index[index]: str(study) for index, study in connection.execute(numbers)})
    found.taken = set(found.held_studies)
    own = re.compile(rf"{re.escape(site)}-(\d+)")
    found.last = max((int(match[1]) for one in found.taken if (match := own.fullmatch(one))), default=0)
    return found


def numbers_in(row: RowValues) -> Iterator[tuple[LogValue, str]]:
    """The hospital numbers of a row, each with its value."""
    info = Target("hospital_number", "number").info
    for (table, _, _), values in row.values.items():
        value = values.get("number") if table == "hospital_number" else None
        if value is not None:
            text = parse(info, value.cell).value
            if text is not None and bare_number(text):
                yield value, text


def reserve(patients: Patients, rows: Iterable[RowValues]) -> None:
    """Set the study numbers that stand in the log itself aside, so that nobody else is given one of them."""
    for row in rows:
        study = study_in(row)
        if study is not None:
            patients.taken.add(study)


def patient_of_row(patients: Patients, row: RowValues, findings: FindingList) -> str | None:
    """The study number of a row's patient; None, with a finding, where nothing says who it is."""
    numbers = list(numbers_in(row))
    bare = [bare_number(text) for _, text in numbers]
    columns = tuple(c for value, _ in numbers for c in value.columns)
    known = {study for one in bare if (study := patients.held.get(one) or patients.given.get(one))}
    said, person = study_in(row), _person(row)
    if len(known) > 1:
        why = "The hospital numbers of this row belong to two patients."
        right = "the numbers of one patient; or the two patients merged first"
        row.report(findings, columns, Problem("log.patient.one", Severity.ERROR, why, right), hidden=True)
        return None
    study = known.pop() if known else said
    if study is not None and said not in (None, study):
        value = row.value("patient", "study_number")
        why = f"The hospital number of this row belongs to study number {study}."
        problem = Problem("log.patient.one", Severity.ERROR, why, f"{study}, or the right hospital number")
        row.report(findings, value.columns if value else (), problem)
        return None
    if study is None:
        study = _by_person(patients, row, person, bool(bare), findings)
    if study is not None:
        if person is None:
            _ask_about_digits(patients, row, numbers, study, findings)
        patients.given.update(dict.fromkeys(bare, study))
        if person is not None:
            patients.named.setdefault(study, person)
            if patients.persons is not None:
                patients.persons.setdefault(person, study)
    return study


def _by_person(
    patients: Patients, row: RowValues, person: Person | None, numbered: bool, findings: FindingList
) -> str | None:
    """A patient whom no number leads to: the one of that name and birth date, or a new one."""
    if person is None and not numbered:
        if any(key[0] in ("hospital_number", "patient") for key, _ in row.failed):
            return None
        why = "Nothing in this row says whose it is."
        right = "a hospital number or a study number, or a name with a birth date"
        row.report(findings, (), Problem("log.patient.named", Severity.ERROR, why, right))
        return None
    same = _persons(patients).get(person) if person is not None else None
    columns = _person_columns(row)
    if same is not None and not numbered:
        why = f"No number says whose row this is; name and birth date are those of {same}, to whom it is given."
        right = "the hospital number, if it is somebody else"
        row.report(findings, columns, Problem("log.patient.same_name", Severity.QUESTION, why, right), hidden=True)
        return same
    new = _next(patients)
    if same is not None:
        why = f"Name and birth date are those of {same}, under another hospital number; this one became {new}."
        right = "two patients; or one, to be merged"
        row.report(findings, columns, Problem("log.patient.same_name", Severity.QUESTION, why, right), hidden=True)
    elif not numbered:
        why = f"No number says whose row this is; a new patient, {new}, is known by name and birth date alone."
        problem = Problem("log.patient.same_name", Severity.QUESTION, why, "the hospital number")
        row.report(findings, columns, problem, hidden=True)
    return new


def _ask_about_digits(
    patients: Patients, row: RowValues, numbers: list[tuple[LogValue, str]], study: str, findings: FindingList
) -> None:
    """Ask about a number that has lost its leading zeros or letters, where no birth date tells who somebody is."""
    identity = (row.value("patient_identity", heading) for heading in ("family_name", "given_names"))
    names = tuple(folded(str(value.cell)) for value in identity if value is not None)
    for value, text in numbers:
        bare = bare_number(text)
        digits = "".join(c for c in bare if c.isdigit()).lstrip("0")
        other = patients.alike.setdefault(digits, Numbered(bare, study, names)) if digits else None
        if other is None or other.study == study:
            continue
        letters = {"".join(c for c in one if not c.isdigit()) for one in (bare, other.bare)}
        if len(letters - {""}) <= 1 and (names == other.names or not names or not other.names):
            why = f"But for letters or leading zeros, the hospital number is that of {other.study}; {study} is another."
            right = "the number in full; or two patients"
            row.report(
                findings, value.columns, Problem("log.patient.digits", Severity.QUESTION, why, right), hidden=True
            )


def _next(patients: Patients) -> str:
    while True:
        patients.last += 1
        study = f"{patients.site}-{patients.last:0{_DIGITS}}"
        if study not in patients.taken:
            patients.taken.add(study)
            return study


def study_in(row: RowValues) -> str | None:
    """The study number that a row gives; None where it gives none that can be read."""
    value = row.value("patient", "study_number")
    study = None if value is None else parse(Target("patient", "study_number").info, value.cell).value
    return None if study is None else str(study)


def _person(row: RowValues) -> Person | None:
    """Names and birth date of a row; None unless both are there."""
    texts = {}
    for heading in ("family_name", "given_names", "birth_date"):
        value = row.value("patient_identity", heading)
        parsed = None if value is None else parse(Target("patient_identity", heading).info, value.cell).value
        texts[heading] = "" if parsed is None else folded(parsed)
    if not texts["family_name"] or not texts["birth_date"]:
        return None
    return texts["family_name"], texts["given_names"], texts["birth_date"]


def _person_columns(row: RowValues) -> tuple[int, ...]:
    return tuple(c for v in row.values.get(("patient_identity", "", "1"), {}).values() for c in v.columns)


def _persons(patients: Patients) -> dict[Person, str]:
    """Everybody of the site by name and birth date, decrypted when the first row asks for it."""
    if patients.persons is not None:
        return patients.persons
    patients.persons = {}
    patient, sites, identity = (metadata.tables[t].c for t in ("patient", "site", "patient_identity"))
    query = (
        select(patient.study_number, identity.family_name, identity.given_names, identity.birth_date)
        .where(identity.patient_id == patient.id, patient.site_id == sites.id, sites.code == patients.site)
        .order_by(patient.study_number)
    )
    with patients.registry.reading() as connection:
        cipher = patients.registry.cipher(connection)
        for study, *sealed in connection.execute(query):
            names = ("family_name", "given_names", "birth_date")
            clear = [
                "" if one is None else folded(cipher.decrypt(one, "patient_identity", name))
                for one, name in zip(sealed, names, strict=True)
            ]
            if clear[0] and clear[2] and folded(ERASED) not in clear:
                patients.persons.setdefault((clear[0], clear[1], clear[2]), str(study))
    for study, person in patients.named.items():
        patients.persons.setdefault(person, study)
    return patients.persons
