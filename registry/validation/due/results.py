"""Results that are awaited: stone analyses, cultures, examinations that are pending or not read yet.

Somebody of the hospital is asked for them, so they are listed for every patient; only a pending examination needs the
patient, and is not asked of one who died.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from sqlalchemy import func, or_, select

from registry.schema.lists_common import MissingReason
from registry.schema.lists_stone import AnalysisState
from registry.validation.due.item import DueItem, Way, What
from registry.validation.due.picture import Picture
from registry.validation.due.reasons import reason_for


def results_due(picture: Picture) -> list[DueItem]:
    """All results that are awaited, with how long they have been overdue (negative: how long it may still take).

    Args:
        picture: what is held, and the day.
    """
    return [*_analyses(picture), *_cultures(picture), *_examinations(picture)]


def _analyses(picture: Picture) -> Iterator[DueItem]:
    analysis, unit, operation = (picture.table(name) for name in ("stone_analysis", "renal_unit", "operation"))
    sent = func.coalesce(analysis.c.sent_on, operation.c.operated_on, type_=analysis.c.sent_on.type).label("sent")
    query = (
        select(analysis.c.id, unit.c.patient_id, unit.c.unit, sent, analysis.c.created_at)
        .join(unit, unit.c.id == analysis.c.renal_unit_id)
        .outerjoin(operation, operation.c.id == analysis.c.operation_id)
        .where(
            or_(
                analysis.c.state == AnalysisState.SENT,
                analysis.c.state.is_(None) & analysis.c.sent_on.is_not(None) & analysis.c.reported_on.is_(None),
            )
        )
    )
    for row in picture.connection.execute(query):
        person = picture.people[row.patient_id]
        since = row.sent or row.created_at.date()
        if since > picture.until:
            continue
        yield picture.item(
            What.RESULTS,
            person,
            due_on=since + dt.timedelta(days=picture.days(person, "stone_analysis_days")),
            way=Way.ASK,
            todo="ask the laboratory",
            about=f"Stone analysis, {row.unit.label}",
            since=since,
            table="stone_analysis",
            row=row.id,
            note="" if row.sent else "when it was sent is not recorded; counted from its entry here",
        )


def _cultures(picture: Picture) -> Iterator[DueItem]:
    culture = picture.table("culture").c
    query = select(culture.id, culture.patient_id, culture.taken_on, culture.specimen, culture.missing_reasons).where(
        culture.result.is_(None)
    )
    for row in picture.connection.execute(query):
        if reason_for(row.missing_reasons, "result") not in (None, MissingReason.PENDING):
            continue
        if row.taken_on > picture.until:
            continue
        person = picture.people[row.patient_id]
        yield picture.item(
            What.RESULTS,
            person,
            due_on=row.taken_on + dt.timedelta(days=picture.days(person, "culture_days")),
            way=Way.ASK,
            todo="ask the laboratory",
            about=f"Culture, {row.specimen.label.lower()}",
            since=row.taken_on,
            table="culture",
            row=row.id,
        )


def _examinations(picture: Picture) -> Iterator[DueItem]:
    for patient, scans in picture.scans.by_patient.items():
        person = picture.people[patient]
        for scan in scans:
            if scan.on.low > picture.until or scan.units:
                continue
            common = {"since": scan.on.low, "table": "examination", "row": scan.id}
            note = "" if scan.on.exact else f"dated {scan.on}, the day is not known"
            if scan.pending and not person.died:
                yield picture.item(
                    What.RESULTS,
                    person,
                    due_on=scan.on.low,
                    way=person.way,
                    todo=person.todo("find out whether it was done, else book it again"),
                    about=f"{scan.modality}, pending",
                    note=note,
                    **common,
                )
            elif scan.not_done is None:
                yield picture.item(
                    What.RESULTS,
                    person,
                    due_on=scan.on.low + dt.timedelta(days=picture.days(person, "report_days")),
                    way=Way.ASK,
                    todo="enter its reading, or ask for the report",
                    about=f"{scan.modality}, no reading",
                    note=note,
                    **common,
                )
