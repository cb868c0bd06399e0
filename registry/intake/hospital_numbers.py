"""Hospital numbers: found by exact number, never shown."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from registry.intake.parsed_sheet import ParsedSheet
from registry.schema.tables import metadata
from registry.store.cipher import bare_number
from registry.validation.findings import FindingList, Problem, Severity

if TYPE_CHECKING:
    from registry.store.registry import Registry

Key = tuple[Any, ...]


def number_keys(sheet: ParsedSheet) -> list[Key | None]:
    """What makes a hospital number one of a kind: its site and the bare number, as the store looks it up."""
    return [
        (site, bare_number(number)) if site is not None and number is not None else None
        for site, number in zip(sheet.values["site"], sheet.values["number"], strict=True)
    ]


def known_numbers(
    registry: Registry, sheet: ParsedSheet, links: dict[str, list[int | None]], findings: FindingList
) -> dict[Key, int]:
    """The hospital numbers of the sheet that the registry holds, each with its patient.

    A number that the registry holds for another patient is an error.
    """
    known: dict[Key, int] = {}
    with registry.reading() as connection:
        if connection.execute(select(metadata.tables["hospital_number"].c.id).limit(1)).first() is None:
            return known
    for row, key in enumerate(number_keys(sheet)):
        if key is None:
            continue
        patient = registry.find_patient(sheet.values["site"][row], sheet.values["number"][row])
        if patient is None:
            continue
        known[key] = patient
        if links["patient_id"][row] not in (patient, None):
            why = "The registry has this hospital number for another patient."
            right = "the study number of that patient, or the right hospital number"
            sheet.report(findings, row, "number", Problem("hospital_number.other_patient", Severity.ERROR, why, right))
    return known
