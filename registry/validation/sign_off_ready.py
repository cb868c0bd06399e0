"""Which operations are ready to be signed off, and what the others still lack.

Ready: every field that is needed when the operation is recorded or at discharge is there or has its reason, no
question about the case waits for an answer, and the follow-up is settled: of each side a scan, or why there is none,
and a review that reaches day 30.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from sqlalchemy import Column, FromClause, Table, or_, select

from registry.schema.base import model_of
from registry.schema.fields import Stage, info_of
from registry.schema.lists_operation import Purpose
from registry.schema.lists_outcome import QuestionState
from registry.schema.tables import metadata, own_columns
from registry.validation.due.follow_up import scan_settled
from registry.validation.due.picture import Picture
from registry.validation.due.reasons import reasons_of
from registry.validation.due.reviews import reviewed_to
from registry.validation.questions.cases import cases_of

STAGES = (Stage.OPERATION, Stage.DISCHARGE)


@dataclass(frozen=True)
class Standing:
    """An operation that is not signed off. ``lacking`` says in words what is not there yet; empty when it is ready."""

    operation_id: int
    patient_id: int
    operated_on: dt.date
    lacking: tuple[str, ...]


def standings(picture: Picture) -> list[Standing]:
    """Every operation up to the day that is not signed off, by date.

    Args:
        picture: what is held, and the day.
    """
    operation = picture.table("operation").c
    query = (
        select(operation.id, operation.patient_id, operation.operated_on, operation.purpose)
        .where(operation.signed_off_at.is_(None), operation.operated_on <= picture.on)
        .order_by(operation.operated_on, operation.id)
    )
    operations = list(picture.connection.execute(query))
    lacking: dict[int, list[str]] = defaultdict(list)
    for part in (_fields(picture), _rows(picture), _questions(picture, operations), _follow_up(picture, operations)):
        for row, what in part:
            if what not in lacking[row]:
                lacking[row].append(what)
    return [Standing(row.id, row.patient_id, row.operated_on, tuple(lacking[row.id])) for row in operations]


@cache
def needed_fields() -> dict[str, tuple[str, ...]]:
    """The fields that a case needs at the operation or at discharge, by table, as they are declared."""
    found = {}
    for table in metadata.sorted_tables:
        names = tuple(c.name for c in own_columns(table) if info_of(c).needed in STAGES)
        if names and model_of(table).clinical:
            found[table.name] = names
    return found


def _fields(picture: Picture) -> Iterator[tuple[int, str]]:
    """(operation, field that is needed and neither there nor given a reason for)."""
    for name, fields in needed_fields().items():
        table = metadata.tables[name]
        joined, operation = _to_operation(table)
        query = (
            select(operation, table.c.missing_reasons, *(table.c[field] for field in fields))
            .select_from(joined)
            .where(or_(*(table.c[field].is_(None) for field in fields)))
        )
        for row in picture.connection.execute(query):
            reasons = reasons_of(row[1])
            for field, value in zip(fields, row[2:], strict=True):
                if value is None and field not in reasons and row[0] is not None:
                    yield int(row[0]), f"{name}.{field}"


def _to_operation(table: Table) -> tuple[FromClause, Column[Any]]:
    """The join from a table to the operations that its rows belong to, and the operation's key in it."""
    operation, side = metadata.tables["operation"], metadata.tables["treated_side"]
    if table.name == "operation":
        return table, table.c.id
    if table.name == "patient":
        return table.join(operation, operation.c.patient_id == table.c.id), operation.c.id
    if table.name == "admission":
        return table.join(operation, operation.c.admission_id == table.c.id), operation.c.id
    if "operation_id" in table.c:
        return table, table.c.operation_id
    if "treated_side_id" in table.c:
        return table.join(side, side.c.id == table.c.treated_side_id), side.c.operation_id
    if table.name == "renal_unit":
        return table.join(side, side.c.renal_unit_id == table.c.id), side.c.operation_id
    if "course_id" in table.c:
        return table.join(side, side.c.course_id == table.c.course_id), side.c.operation_id
    raise LookupError(f"{table.name} has fields that a case needs, and no way to an operation")


def _rows(picture: Picture) -> Iterator[tuple[int, str]]:
    """(operation, kind of row that no case can be without and that it has not)."""
    operations = set(picture.connection.execute(select(metadata.tables["operation"].c.id)).scalars())
    for name in ("treated_side", "operation_operator"):
        there = set(picture.connection.execute(select(metadata.tables[name].c.operation_id)).scalars())
        yield from ((row, name) for row in operations - there)
    stone = metadata.tables["stone"].c
    courses = set(picture.connection.execute(select(stone.course_id)).scalars())
    side = metadata.tables["treated_side"].c
    course_of = {row.id: row.course_id for row in picture.connection.execute(select(side.id, side.course_id))}
    for each in picture.sides.treated:
        if course_of[each.id] not in courses:
            yield each.operation_id, "stone"


def _questions(picture: Picture, operations: list[Any]) -> Iterator[tuple[int, str]]:
    """(operation, "question") for each that a question waits for; one about the patient is about every case."""
    question = metadata.tables["question"].c
    query = select(question.about_table, question.about_row).where(question.state == QuestionState.ASKED)
    places = [(row.about_table, row.about_row) for row in picture.connection.execute(query)]
    of_patient: dict[int, list[int]] = defaultdict(list)
    for row in operations:
        of_patient[row.patient_id].append(row.id)
    for case in cases_of(picture.connection, places).values():
        if case.operation_id is not None:
            yield case.operation_id, "question"
        elif case.patient_id is not None:
            yield from ((row, "question") for row in of_patient[case.patient_id])


def _follow_up(picture: Picture, operations: list[Any]) -> Iterator[tuple[int, str]]:
    """(operation, the part of its follow-up that is not settled). A death settles it."""
    for side in picture.sides.treated:
        person = picture.people[side.patient_id]
        settled = person.died or picture.sides.ended(side) or scan_settled(picture, side, person, pending_settles=False)
        if not settled:
            yield side.operation_id, "follow-up scan"
    reached = reviewed_to(picture)
    for row in operations:
        person = picture.people[row.patient_id]
        due_on = row.operated_on + dt.timedelta(days=picture.days(person, "review_days"))
        asked = row.purpose == Purpose.STONE_REMOVAL and not person.died
        if asked and reached.get(row.patient_id, dt.date.min) < due_on:
            yield row.id, "review"
