"""Finds a patient by study number."""

from __future__ import annotations

from sqlalchemy import Connection, select

from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata


def patient_of(connection: Connection, study_number: str, site_code: str | None = None) -> int:
    """The key of the patient with a study number.

    Raises:
        GravelbookError: there is none, or several sites have one of that number and none was named.
    """
    patient, site = metadata.tables["patient"].c, metadata.tables["site"].c
    query = select(patient.id, site.code).where(patient.site_id == site.id, patient.study_number == study_number)
    if site_code is not None:
        query = query.where(site.code == site_code)
    found = connection.execute(query).all()
    if not found:
        where = f" at site {site_code}" if site_code else ""
        raise GravelbookError(f"There is no patient with study number {study_number}{where}. Check the number.")
    if len(found) > 1:
        sites = ", ".join(row.code for row in found)
        raise GravelbookError(f"Study number {study_number} occurs at the sites {sites}; name one with --site.")
    return int(found[0].id)
