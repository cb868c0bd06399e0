"""Gathers what the quality report says, all from one registry and one day."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

from sqlalchemy import select

from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata
from registry.validation.due.item import HEADINGS, DueItem, Way, What
from registry.validation.due.listing import due
from registry.validation.findings import Severity
from registry.validation.quality_check import RuleResult, State, check_held
from registry.validation.quality_report.ascertainment import follow_up
from registry.validation.quality_report.completeness import completeness
from registry.validation.quality_report.parts import QuestionLine, Report, RuleLine, ToDo
from registry.validation.quality_report.registry_picture import picture_of
from registry.validation.quality_report.timeliness import timeliness
from registry.validation.questions.listing import ListedQuestion, listed
from registry.validation.theatre_list.output import paragraph
from registry.validation.theatre_list.standing import standing
from registry.validation.unit_settings import UnitSettings

if TYPE_CHECKING:
    import duckdb

    from registry.store.registry import Registry

MONTHS = 12
COUNTED = {"patients": "patient", "operations": "operation", "treated sides": "treated_side", "readings": "reading"}
_STATES = {
    State.KEPT: "passed",
    State.BROKEN: "broken",
    State.EMPTY: "empty",
    State.NOT_COMPUTABLE: "empty",
    State.COULD_NOT_RUN: "could_not_run",
}
_UNASKED = "nobody yet"
_NOTHING = (
    "The registry holds no operation, so there is nothing to report on. Load a file first: gravelbook intake load FILE."
)


def gather(registry: Registry, *, on: dt.date, months: int = MONTHS) -> Report:
    """Work out the whole report.

    Args:
        registry: the open registry.
        on: the day as of which it speaks; what is held now is measured against it.
        months: how many months back it looks, the month of ``on`` included.

    Raises:
        GravelbookError: the registry holds no operation, or a setting of the unit cannot be read.
    """
    results = check_held(registry, today=max(on, dt.date.today()))
    items = due(registry, on=on)
    questions = listed(registry, today=on)
    first, last = _months_back(on, months - 1), f"{on:%Y-%m}"
    unit, window, review = _unit(registry, on)
    with picture_of(registry) as picture:
        counts = {name: _count(picture, table) for name, table in COUNTED.items()}
        if not counts["operations"]:
            raise GravelbookError(_NOTHING)
        before = _months_back(on, 2 * months - 1), _months_back(on, months)
        known = partial(follow_up, picture, as_of=on.isoformat(), window=window, review_days=review)
        return Report(
            unit=unit,
            on=on,
            first=first,
            last=last,
            window=window,
            review_days=review,
            counts=counts,
            to_do=tuple(_to_do(items, results, questions)),
            completeness=tuple(completeness(picture, first=first, last=last)),
            follow_up=tuple(known(first=first, last=last)),
            follow_up_before=tuple(known(first=before[0], last=before[1])),
            timeliness=tuple(timeliness(picture, first=first, last=last)),
            rules=tuple(_rules(picture, results)),
            questions=tuple(_questions(questions)),
            theatre_list=tuple(paragraph(found) for found in standing(registry, last=on, today=on)),
        )


def _months_back(day: dt.date, months: int) -> str:
    whole = day.year * 12 + day.month - 1 - months
    return f"{whole // 12:04d}-{whole % 12 + 1:02d}"


def _unit(registry: Registry, on: dt.date) -> tuple[str, tuple[int, int], int]:
    """The units' names, and the first one's window and day of review: they stand in the report's words."""
    site = metadata.tables["site"].c
    with registry.reading() as connection:
        rows = connection.execute(select(site.id, site.code, site.name).order_by(site.code)).all()
        settings = UnitSettings(connection, on)
        if not rows:
            raise GravelbookError(_NOTHING)
        days = [settings.days(rows[0].id, f"follow_up_scan_{end}_days") for end in ("from", "to")]
        review = settings.days(rows[0].id, "review_days")
    return " and ".join(row.name or row.code for row in rows), (days[0], days[1]), review


def _count(picture: duckdb.DuckDBPyConnection, table: str) -> int:
    found = picture.execute(f'SELECT count(*) FROM "{table}"').fetchone()
    return int(found[0]) if found else 0


def _to_do(items: Sequence[DueItem], results: Sequence[RuleResult], questions: Sequence[ListedQuestion]) -> list[ToDo]:
    """The most urgent first: what harms a patient, then what is impossible, then what is missing."""
    said = []
    for kind in What:
        here = [item for item in items if item.what is kind and item.overdue_days >= 0]
        if here:
            said.append(_due(kind, here))
    said.sort(key=lambda item: item.past)  # a stable sort: what can still be done in time comes first
    errors = [r for r in results if r.severity is Severity.ERROR and r.state is State.BROKEN]
    if errors:
        worst = max(errors, key=lambda r: r.broken)
        cases = sum(r.broken for r in errors)
        what = f"Cases that break {len(errors)} rules of what is possible; most of all: {worst.sentence}"
        said.insert(1 if said and said[0].urgent else 0, ToDo(cases, what, "gravelbook quality check --cases FILE"))
    if questions:
        oldest = max(question.age_days for question in questions)
        what = f"Questions that wait for an answer, the oldest for {oldest} days"
        said.append(ToDo(len(questions), what, "gravelbook quality questions list"))
    return said


def _due(kind: What, items: Sequence[DueItem]) -> ToDo:
    """What is due of one kind: those that can still be done in time, and how many more cannot."""
    open_still = [item for item in items if not item.late]
    told = open_still or list(items)
    longest, calls = max(item.overdue_days for item in told), sum(item.way is Way.CALL for item in told)
    what = HEADINGS[kind] + (f", {calls} by a call" if 0 < calls < len(told) else "")
    if longest > 0:
        what += f"; the longest due for {longest} days"
    if len(told) < len(items):
        what += f"; {len(items) - len(told)} more are past the time in which it would count"
    elif not open_still:
        what += "; all are past the time in which it would count"
    command = f"gravelbook quality due --what {kind.value}"
    return ToDo(len(told), what, command, urgent=kind is What.DRAINS, past=not open_still)


def _rules(picture: duckdb.DuckDBPyConnection, results: Sequence[RuleResult]) -> list[RuleLine]:
    """Clinical rules, and broken rules of single fields; a value that is missing is the table of fields' business."""
    earlier: dict[str, list[int]] = {}
    for rule, broken in picture.execute("SELECT rule, broken FROM quality_run ORDER BY rule, run_on").fetchall():
        earlier.setdefault(rule, []).append(broken)
    return [
        RuleLine(
            result.rule,
            str(result.severity.value),
            result.sentence,
            result.checked,
            result.broken,
            result.not_computable,
            _STATES[result.state],
            tuple(earlier.get(result.rule, ())[-MONTHS:]),
        )
        for result in results
        if result.clinical
        or (result.state in (State.BROKEN, State.COULD_NOT_RUN) and result.severity is not Severity.NOTE)
    ]


def _questions(questions: Sequence[ListedQuestion]) -> list[QuestionLine]:
    ages: dict[str, Counter[str]] = {}
    for question in questions:
        band = "week" if question.age_days <= 7 else "month" if question.age_days <= 30 else "older"
        ages.setdefault(question.owner or _UNASKED, Counter())[band] += 1
    return [QuestionLine(owner, a["week"], a["month"], a["older"]) for owner, a in sorted(ages.items())]
