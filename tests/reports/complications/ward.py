"""A small invented unit after its operations, as rows of a registry. Days count from 1 January 2024.

Everybody is operated on on day 0 unless said. Operator S1: five operations; a fever (I) and a stent under general
anaesthesia (IIIb) among four that are reviewed to day 40, one never reviewed. Operator S2: three operations; one
reviewed to day 100 with two events (II and II), one that is only known to have had a transfusion (II), one operated on
on day 390 that is not due. One drainage with a fever of its own. The last date is day 400.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from tests.cohort.rows import Rows, day


def ward(**settings: str) -> Rows:
    """The rows; settings hold since day 0."""
    rows = Rows()
    for name, value in settings.items():
        rows.add("setting", site_id=1, setting_name=name, since=day(0), value=value)
    first, second = rows.operator("S1"), rows.operator("S2")
    feverish, stented, *quiet = (operated(rows, first) for _ in range(4))
    for operation in (feverish, stented, *quiet):
        reviewed(rows, operation, 40)
    complication(rows, feverish, "fever", 1, ["antipyretic"])
    graded = complication(rows, stented, "obstruction", 30, ["stent_placed:general"])
    grading(rows, graded, "first", "IIIa")
    grading(rows, graded, "second", "IIIb")
    operated(rows, first)
    twice = operated(rows, second)
    reviewed(rows, twice, 100)
    complication(rows, twice, "febrile_urinary_infection", 2, ["antibiotic"])
    complication(rows, twice, "bleeding", 5, ["transfusion"])
    complication(rows, operated(rows, second), "bleeding", 3, ["transfusion"])
    operated(rows, second, on=390)
    complication(rows, operated(rows, second, intent="drainage"), "fever", 1, ["antipyretic"])
    rows.add("contact", patient_id=1, contacted_on=day(400), complications_known_to=day(40))
    return rows


def operated(rows: Rows, operator: int | None = None, on: int = 0, *, unit: int | None = None, **side: Any) -> int:
    """An operation on one side, of a new patient unless a unit is given; its number."""
    made = rows.side(unit, on, **side)
    if operator is not None:
        rows.operated(made, operator)
    return rows.operation_of(made)


def patient_of(rows: Rows, operation: int) -> int:
    """The patient of an operation."""
    return int(rows.tables["operation"][operation - 1]["patient_id"])


def reviewed(rows: Rows, operation: int, on: int, known_to: int | None = None) -> None:
    """A contact with the operation's patient."""
    known = {} if known_to is None else {"complications_known_to": day(known_to)}
    rows.add("contact", patient_id=patient_of(rows, operation), contacted_on=day(on), **known)


def complication(
    rows: Rows, operation: int, what: str, onset: int | dt.date | None, therapies: list[str], **values: Any
) -> int:
    """An event of which all is known; therapies are written `stent_placed:general`, `@3` after it names operation 3."""
    number = sum(row["operation_id"] == operation for row in rows.tables["complication"]) + 1
    known = {"organs_failing": 0, "died_of_it": "no", "present_at_discharge": "no"}
    dated = day(onset) if isinstance(onset, int) else onset
    made = rows.add(
        "complication",
        operation_id=operation,
        complication_number=number,
        what=what,
        **{"onset_on": dated, **known, **values},
    )
    for at, therapy in enumerate(therapies, start=1):
        name, _, here = therapy.partition("@")
        kind, _, under = name.partition(":")
        rows.add(
            "therapy",
            complication_id=made,
            therapy_number=at,
            what=kind,
            anaesthesia=under or None,
            treating_operation_id=int(here) if here else None,
        )
    return made


def grading(rows: Rows, of: int, grader: str, grade: str, **values: Any) -> None:
    """A person's grade of a complication."""
    number = sum(row["complication_id"] == of for row in rows.tables["grading"]) + 1
    rows.add("grading", complication_id=of, grading_number=number, grader=grader, grade=grade, **values)


def admission(rows: Rows, patient: int, on: int, out: int | None, unplanned: str | None = "no", number: int = 1) -> int:
    """A stay in hospital from one day to another."""
    return rows.add(
        "admission",
        patient_id=patient,
        admitted_on=day(on),
        admission_number=number,
        unplanned=unplanned,
        discharged_on=None if out is None else day(out),
    )
