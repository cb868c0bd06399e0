"""The questions that are held, with their case, the oldest open first."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sqlalchemy import select

from registry.schema.lists_outcome import QuestionState
from registry.schema.tables import metadata
from registry.validation.questions.cases import Case, cases_of
from registry.validation.questions.wording import read

if TYPE_CHECKING:
    from registry.store.registry import Registry


@dataclass(frozen=True, slots=True)
class ListedQuestion:
    """A question as a list shows it.

    ``sentence`` is the rule's own, blank for one that a person asked; ``own_wording`` and ``answer`` are people's,
    which may name somebody: they are for the screen alone.
    """

    id: int
    site: str
    study_number: str
    on: dt.date | None
    rule: str
    table: str
    row: int
    field: str
    sentence: str
    owner: str
    state: QuestionState
    asked_on: dt.date
    age_days: int
    answered_by: str
    own_wording: str
    answer: str


def listed(
    registry: Registry,
    *,
    owner: str | None = None,
    rule: str | None = None,
    states: Collection[QuestionState] = (QuestionState.ASKED,),
    today: dt.date | None = None,
) -> list[ListedQuestion]:
    """The questions that fit, the oldest first.

    Args:
        registry: the open registry.
        owner: only those asked of this person.
        rule: only those of this rule, or of rules whose name begins so with a dot after it.
        states: only those in these states.
        today: the day from which the age counts; by default today.
    """
    question = metadata.tables["question"]
    query = select(question).where(question.c.state.in_(list(states))).order_by(question.c.asked_at, question.c.id)
    if owner is not None:
        query = query.where(question.c.asked_of == owner)
    day = today or dt.datetime.now(dt.UTC).date()
    with registry.reading() as connection:
        cipher = registry.cipher(connection)
        rows = [
            row
            for row in connection.execute(query)
            if rule is None or row.rule == rule or row.rule.startswith(f"{rule}.")
        ]
        cases = cases_of(connection, [(row.about_table, row.about_row) for row in rows])
        sites = metadata.tables["site"].c
        codes = {int(row.id): str(row.code) for row in connection.execute(select(sites.id, sites.code))}
        cipher.ready({case.patient_id for case in cases.values() if case.patient_id is not None})
        found = []
        for row in rows:
            case = cases.get((row.about_table, row.about_row), Case())
            wording = cipher.decrypt(row.asked, "question", "asked") if row.asked else None
            asked = read(wording)
            from_rule = asked.seen is not None
            found.append(
                ListedQuestion(
                    id=row.id,
                    site=codes[row.site_id],
                    study_number=case.study_number,
                    on=case.on,
                    rule=row.rule,
                    table=row.about_table,
                    row=row.about_row,
                    field=row.about_field or "",
                    sentence=asked.sentence if from_rule else "",
                    owner=row.asked_of or "",
                    state=row.state,
                    asked_on=row.asked_at.date(),
                    age_days=(day - row.asked_at.date()).days,
                    answered_by=row.answered_by or "",
                    own_wording="" if from_rule else asked.sentence,
                    answer=cipher.decrypt(row.answer, "question", "answer") if row.answer else "",
                )
            )
    return found
