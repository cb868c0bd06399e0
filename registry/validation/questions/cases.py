"""Of which case a row is: its site, study number, operation and date, found along the links of its natural key."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Column, Connection, FromClause, Table, func, select

from registry.schema.base import model_of
from registry.schema.fields import Day, Reference, info_of
from registry.schema.tables import metadata, patient_path

_MANY = 500


@dataclass(frozen=True, slots=True)
class Case:
    """Where a row belongs; None or blank where it belongs to nothing of the kind."""

    site_id: int | None = None
    site: str = ""
    patient_id: int | None = None
    study_number: str = ""
    operation_id: int | None = None
    on: dt.date | None = None


def cases_of(connection: Connection, places: Iterable[tuple[str, int]]) -> dict[tuple[str, int], Case]:
    """The cases of rows.

    Args:
        connection: the transaction.
        places: tables and keys of rows.
    Returns:
        By table and key; a row that is no longer there is left out.
    """
    by_table: dict[str, set[int]] = defaultdict(set)
    for table, row in places:
        if table in metadata.tables:
            by_table[table].add(row)
    sites = metadata.tables["site"].c
    codes = {int(row.id): str(row.code) for row in connection.execute(select(sites.id, sites.code))}
    found: dict[tuple[str, int], Case] = {}
    for name, rows in by_table.items():
        for row_id, held in _rows(connection, metadata.tables[name], sorted(rows)):
            site = held.get("site_id") or _only(codes)
            found[name, row_id] = Case(
                site_id=site,
                site=codes.get(site or 0, ""),
                patient_id=held.get("patient_id"),
                study_number=held.get("study_number") or "",
                operation_id=held.get("operation_id"),
                on=held.get("day") or _index_day(connection, held.get("course_id")),
            )
    return found


def _rows(connection: Connection, table: Table, rows: list[int]) -> Iterator[tuple[int, dict[str, Any]]]:
    joined, columns = _way(table)
    query = select(table.c.id, *(column.label(f"{name}_found") for name, column in columns.items()))
    for start in range(0, len(rows), _MANY):
        part = query.select_from(joined).where(table.c.id.in_(rows[start : start + _MANY]))
        for row in connection.execute(part):
            yield row[0], dict(zip(columns, row[1:], strict=True))


def _way(table: Table) -> tuple[FromClause, dict[str, Column[Any]]]:
    """The joins from a table up to its patient or site, and the columns of a case that are met on the way."""
    joined: FromClause = table
    columns: dict[str, Column[Any]] = {}
    here: Any = table
    while here is not None:
        _meet(here, columns)
        step = _next(here)
        here = None
        if step is not None:
            link, target_name = step
            target = metadata.tables[target_name].alias(f"up_{target_name}")
            joined = joined.outerjoin(target, target.c.id == link)
            here = target
    return joined, columns


def _meet(here: Any, columns: dict[str, Column[Any]]) -> None:
    name = _name(here)
    if name in ("operation", "course", "patient", "site"):
        columns.setdefault(f"{name}_id", here.c.id)
    for link in ("operation_id", "site_id", "study_number"):
        if link in here.c:
            columns.setdefault(link, here.c[link])
    for key in model_of(metadata.tables[name]).key_fields:
        if isinstance(info_of(metadata.tables[name].c[key]).kind, Day):
            columns.setdefault("day", here.c[key])


def _next(here: Any) -> tuple[Column[Any], str] | None:
    """The link to follow: the way to the patient if there is one, else the first of the natural key."""
    table = metadata.tables[_name(here)]
    way = patient_path(table.name)
    for key in way[:1] if way is not None else model_of(table).key_fields:
        kind = info_of(table.c[key]).kind
        if isinstance(kind, Reference) and kind.table != "site":
            return here.c[key], kind.table
    return None


def _name(here: Any) -> str:
    return str(getattr(here, "element", here).name)


def _only(codes: dict[int, str]) -> int | None:
    return next(iter(codes)) if len(codes) == 1 else None


def _index_day(connection: Connection, course: int | None) -> dt.date | None:
    """The first day of a course's operations."""
    if course is None:
        return None
    side, operation = metadata.tables["treated_side"].c, metadata.tables["operation"].c
    first = func.min(operation.operated_on, type_=operation.operated_on.type)
    query = select(first).where(side.course_id == course, side.operation_id == operation.id)
    day: dt.date | None = connection.execute(query).scalar()
    return day
