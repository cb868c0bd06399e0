"""Opens questions from what a check found, and closes those whose data were mended.

Of each rule, row and field the newest question counts:

| it is | the rule is broken now | it is not |
| --- | --- | --- |
| not there, or mended | asked | - |
| asked | its wording is kept up to date | mended |
| answered | asked anew once the values that the rule saw have changed | mended |
| stands as recorded | asked anew once those values have changed | stays, so that the same values stay quiet |

A row that could not be judged, and a rule that did not run, change nothing. When the row itself is gone, the question
is mended and its wording is taken away with it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from registry.schema.fields import info_of
from registry.schema.lists_outcome import QuestionState
from registry.schema.tables import metadata
from registry.store.door import Door
from registry.validation.questions.cases import Case, cases_of
from registry.validation.questions.opening import Checked, Open
from registry.validation.questions.wording import Asked, digest, kept, read

if TYPE_CHECKING:
    from registry.store.registry import Registry

WAITING = (QuestionState.ASKED, QuestionState.ANSWERED)
Key = tuple[str, str, int, str | None]


@dataclass(frozen=True)
class AskedNow:
    """What a run did: questions newly asked, closed as mended, still open, and quiet because they were answered."""

    asked: int
    mended: int
    still_open: int
    quiet: int
    no_site: int = 0


def ask(registry: Registry, checked: Checked, *, by: str, now: dt.datetime | None = None) -> AskedNow:
    """Bring the questions into line with what a check found.

    Args:
        registry: the open registry.
        checked: what was found, by which rules.
        by: who asks.
        now: the moment, for tests.
    """
    with registry.writing(by=by, reason="questions from the check of held data") as door:
        return _Asking(door, checked, now or dt.datetime.now(dt.UTC)).run()


class _Asking:
    def __init__(self, door: Door, checked: Checked, now: dt.datetime) -> None:
        self.door, self.checked, self.now = door, checked, now
        self.held = _newest(door)
        self.opens = {each.key: each for each in checked.opens}
        about = [(table, row) for _, table, row, _ in [*self.opens, *self.held]]
        self.cases = cases_of(door.connection, about)
        self.door.cipher.ready({case.patient_id for case in self.cases.values() if case.patient_id is not None})
        self.done = {"asked": 0, "mended": 0, "still_open": 0, "quiet": 0, "no_site": 0}

    def run(self) -> AskedNow:
        values = _values_of(self.door, self.opens.values())
        for key, each in self.opens.items():
            seen = digest(each.seen or each.sentence, values.get(key))
            self._broken(each, seen, self.held.get(key))
        for key, question in self.held.items():
            if key not in self.opens:
                self._not_broken(key, question)
        return AskedNow(**self.done)

    def _broken(self, each: Open, seen: str, question: dict[str, Any] | None) -> None:
        if question is None or question["state"] == QuestionState.MENDED:
            self._ask(each, seen, question)
            return
        before = self._read(question)
        if question["state"] == QuestionState.ASKED:
            self.done["still_open"] += 1
            if before.seen is not None and before != Asked(each.sentence, seen):
                self._change(question, asked=kept(Asked(each.sentence, seen)))
        elif before.seen is None or before.seen == seen:
            self.done["quiet"] += 1
        else:
            if question["state"] == QuestionState.ANSWERED:
                self._change(question, state=QuestionState.MENDED)
            self._ask(each, seen, question)

    def _not_broken(self, key: Key, question: dict[str, Any]) -> None:
        rule, table, row, _ = key
        if rule not in self.checked.ran or (rule, table, row) in self.checked.unjudged:
            return
        gone = (table, row) not in self.cases
        if question["state"] in WAITING:
            self.done["mended"] += 1
            # Of a row that is gone nobody owns the wording any more; it stays in the history alone.
            self._change(question, state=QuestionState.MENDED, **({"asked": None, "answer": None} if gone else {}))

    def _ask(self, each: Open, seen: str, last: dict[str, Any] | None) -> None:
        case = self.cases.get((each.table, each.row), Case())
        if case.site_id is None:
            self.done["no_site"] += 1
            return
        # The moment tells questions of one row and rule apart, which differ in the field alone.
        moment = self.now + dt.timedelta(microseconds=self.done["asked"])
        speaks = case.patient_id is None or self.door.cipher.holds(case.patient_id)
        self.door.insert(
            "question",
            {
                "site_id": case.site_id,
                "rule": each.rule,
                "about_table": each.table,
                "about_row": each.row,
                "about_field": each.field,
                "asked_at": moment,
                "asked_of": last["asked_of"] if last is not None else None,  # who was asked before knows the case
                # Nothing can be added to the wording of a patient whose identity was erased.
                "asked": kept(Asked(each.sentence, seen)) if speaks else None,
            },
        )
        self.done["asked"] += 1

    def _read(self, question: dict[str, Any]) -> Asked:
        wording = question["asked"]
        return read(None if wording is None else self.door.cipher.decrypt(wording, "question", "asked"))

    def _change(self, question: dict[str, Any], **values: Any) -> None:
        self.door.update("question", question["id"], values, revision=question["revision"])


def _newest(door: Door) -> dict[Key, dict[str, Any]]:
    """The newest question of each rule, row and field."""
    question = metadata.tables["question"]
    rows = door.connection.execute(select(question).order_by(question.c.asked_at, question.c.id)).mappings()
    return {(row["rule"], row["about_table"], row["about_row"], row["about_field"]): dict(row) for row in rows}


def _values_of(door: Door, opens: Iterable[Open]) -> dict[Key, Any]:
    """The value that each question's own field has now; ciphertext, which changes by itself, is left out."""
    found: dict[Key, Any] = {}
    wanted: dict[tuple[str, str], dict[int, list[Key]]] = {}
    for each in opens:
        table = metadata.tables.get(each.table)
        if table is None or each.field is None or each.field not in table.c or info_of(table.c[each.field]).encrypted:
            continue
        wanted.setdefault((each.table, each.field), {}).setdefault(each.row, []).append(each.key)
    for (name, field), rows in wanted.items():
        table, ids = metadata.tables[name], sorted(rows)
        for start in range(0, len(ids), 500):
            query = select(table.c.id, table.c[field]).where(table.c.id.in_(ids[start : start + 500]))
            for row, value in door.connection.execute(query):
                found |= dict.fromkeys(rows[row], value)
    return found
