"""Lines of the theatre list that nothing here answers: operations that may be missing from the registry."""

from __future__ import annotations

from sqlalchemy import select

from registry.validation.due.item import DueItem, Way, What
from registry.validation.due.picture import Picture
from registry.validation.theatre_list.matching import matches


def missing_lines_due(picture: Picture) -> list[DueItem]:
    """Lines up to the day that no operation matches by now, and that no person settled.

    Args:
        picture: what is held, and the day.
    """
    open_ones = {match.line for match in matches(picture.connection, picture.on) if match.operation is None}
    line, site, number, patient = (
        picture.table(name) for name in ("theatre_list_line", "site", "hospital_number", "patient")
    )
    query = (
        select(line.c.id, line.c.listed_on, line.c.line_number, site.c.code, patient.c.study_number)
        .join(site, site.c.id == line.c.site_id)
        .outerjoin(
            number,
            (number.c.site_id == line.c.site_id) & (number.c.number_index == line.c.hospital_number_index),
        )
        .outerjoin(patient, patient.c.id == number.c.patient_id)
        .where(line.c.listed_on <= picture.on)
        .order_by(line.c.listed_on, line.c.line_number)
    )
    return [
        DueItem(
            what=What.THEATRE_LIST,
            site=row.code,
            study_number=row.study_number or "",
            about=f"Line {row.line_number} of the list of {row.listed_on}",
            since=row.listed_on,
            due_on=row.listed_on,
            overdue_days=(picture.on - row.listed_on).days,
            way=Way.ASK,
            todo="enter the operation, or settle the line",
            table="theatre_list_line",
            row=row.id,
            note="" if row.study_number else "no patient here has its hospital number",
        )
        for row in picture.connection.execute(query)
        if row.id in open_ones
    ]
