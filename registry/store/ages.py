"""The age at an operation, worked out where nobody typed it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from registry.schema.fields import Whole, info_of
from registry.schema.tables import metadata
from registry.store.cipher import ERASED, Cipher

_AGE = metadata.tables["operation"].columns["age_years"]


def age_is_wanted(operation: Mapping[str, Any]) -> bool:
    """The age is missing, and nobody has said why."""
    reasons = operation.get("missing_reasons") or ""
    return operation.get("age_years") is None and not f";{reasons}".count(";age_years=")


def whole_years(born: str | None, birth_year: int | None, on: date) -> int | None:
    """Whole years on a day: from the birth date exactly, else the difference of the years (up to one too many).

    Args:
        born: birth date as YYYY-MM-DD, if known.
        birth_year: year of birth, if known.
        on: the day.
    Returns:
        None where neither is known, or the age would lie outside the field's limits.
    """
    age: int | None = None
    try:
        day = date.fromisoformat(born) if born else None
    except ValueError:
        day = None
    if day is not None:
        age = on.year - day.year - ((on.month, on.day) < (day.month, day.day))
    elif birth_year is not None:
        age = on.year - birth_year
    kind = info_of(_AGE).kind
    assert isinstance(kind, Whole)
    return age if age is not None and (kind.low or 0) <= age <= (kind.high or 0) else None


def age_of(connection: Connection, cipher: Cipher, patient_id: int, on: date) -> int | None:
    """The age of a patient on a day, from the encrypted birth date or the year of birth."""
    identity, patient = metadata.tables["patient_identity"].c, metadata.tables["patient"].c
    sealed = connection.execute(select(identity.birth_date).where(identity.patient_id == patient_id)).scalar()
    born = cipher.decrypt(sealed, "patient_identity", "birth_date") if sealed else None
    year = connection.execute(select(patient.birth_year).where(patient.id == patient_id)).scalar()
    return whole_years(None if born == ERASED else born, year, on)
