"""Finds a patient by study number."""

from __future__ import annotations

from sqlalchemy import Connection, select

from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata


def patient_of(connection: Connection, study_number: str, site: str | None = None) -> int:
    """The patient with a study number.

    Args:
        connection: reads the registry.
        study_number: the study number.
        site: the code of the site; needed only where several sites have the number.

    Raises:
        GravelbookError: there is none, or several sites have one.
    """
    patients, sites = metadata.tables["patient"].c, metadata.tables["site"].c
    query = (
        select(patients.id, sites.code)
        .where(patients.site_id == sites.id, patients.study_number == study_number)
        .order_by(sites.code)
    )
    found = [(row.id, row.code) for row in connection.execute(query) if site in (None, row.code)]
    if not found:
        where = f" at site {site}" if site else ""
        raise GravelbookError(f"There is no patient with study number {study_number}{where}.")
    if len(found) > 1:
        codes = ", ".join(code for _, code in found)
        raise GravelbookError(f"Several sites have a study number {study_number} ({codes}): say which with --site.")
    return int(found[0][0])
