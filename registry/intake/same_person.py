"""A patient who may be in the registry, or in the file, already under another study number."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from sqlalchemy import Connection, or_, select

from registry.intake.parsed_sheet import ParsedSheet
from registry.schema.tables import metadata
from registry.validation.findings import FindingList, Problem, Severity

if TYPE_CHECKING:
    from registry.store.registry import Registry

Person = tuple[str, str, str]
_SHOWN = 3


def ask_same_person(
    registry: Registry,
    connection: Connection,
    sheet: ParsedSheet,
    fresh: Sequence[int],
    patients: Sequence[int | None],
    findings: FindingList,
) -> None:
    """Ask about new names and birth dates that someone else has too; study numbers alone are named.

    Args:
        registry: for values that are kept encrypted.
        connection: a reading transaction on it.
        sheet: the typed sheet of identities.
        fresh: indexes of its rows that the registry does not have.
        patients: the patient of each row of the sheet.
        findings: takes a question for each row.
    """
    columns = (sheet.values[name] for name in ("family_name", "given_names", "birth_date"))
    people = [_person(*values) for values in zip(*columns, strict=True)]
    wanted = {row: person for row in sorted(fresh) if (person := people[row]) is not None}
    if not wanted:
        return
    known: dict[Person, list[tuple[int, str]]] = {}
    for patient, study, person in _held(registry, connection, set(wanted.values())):
        known.setdefault(person, []).append((patient, study))
    for row, person in wanted.items():
        own, study = patients[row], str(sheet.values["study_number"][row])
        others = [name for patient, name in known.get(person, ()) if patient != own]
        if others:
            more = f" and {len(others) - _SHOWN} more" if len(others) > _SHOWN else ""
            why = (
                f"Study number {study} has the same names and birth date as {', '.join(others[:_SHOWN])}{more}: "
                "they may be one person."
            )
            right = f"if they are one: gravelbook intake merge {others[0]} {study} --reason TEXT, once this is loaded"
            sheet.report(findings, row, "family_name", Problem("patient.same_person", Severity.QUESTION, why, right))
        if own is not None:
            known.setdefault(person, []).append((own, study))


def _held(registry: Registry, connection: Connection, wanted: set[Person]) -> Iterator[tuple[int, str, Person]]:
    """The registry's people among those wanted; only who was born on such a day has the names decrypted."""
    days = {day for _, _, day in wanted}
    years = {int(day[:4]) for day in days if day[:4].isdigit()}
    identity, patient = metadata.tables["patient_identity"].c, metadata.tables["patient"].c
    query = (
        select(patient.id, patient.study_number, identity.family_name, identity.given_names, identity.birth_date)
        .where(identity.patient_id == patient.id, identity.birth_date.is_not(None))
        .where(or_(patient.birth_year.is_(None), patient.birth_year.in_(years)))
        .order_by(patient.id)
    )
    cipher = registry.cipher(connection)
    for row_id, study, family, given, born in connection.execute(query):
        day = cipher.decrypt(born, "patient_identity", "birth_date")
        if day not in days:
            continue
        names = [
            value and cipher.decrypt(value, "patient_identity", name)
            for name, value in (("family_name", family), ("given_names", given))
        ]
        person = _person(names[0], names[1], day)
        if person in wanted:
            yield row_id, study, person


def _person(family: str | None, given: str | None, born: str | None) -> Person | None:
    """Names and birth date in one plain form; None where the family name or the birth date is missing."""
    if not family or not born:
        return None
    return _plain_name(family), _plain_name(given or ""), str(born)


def _plain_name(name: str) -> str:
    """A name without case, accents, and the difference of hyphens, full stops and spaces."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", name) if not unicodedata.combining(c))
    return " ".join(re.sub(r"[\s.\-\u2010-\u2015]+", " ", bare.casefold()).split())
