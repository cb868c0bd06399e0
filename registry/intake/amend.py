"""A later version of a file: which of its differing cells change the registry, and which meet a person's correction."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection

from registry.intake.amend_codes import CodeChanges
from registry.intake.existing_rows import Comparison, Difference, refuse
from registry.intake.extract_states import moves_on
from registry.intake.rows import WORKBOOK, Place
from registry.store.field_history import FieldHistory, RowStory
from registry.store.images import plain
from registry.validation.findings import FindingList, Problem, Severity
from registry.validation.pair_rules import pair_rules_of

if TYPE_CHECKING:
    from registry.store.registry import Registry


@dataclass(frozen=True, slots=True)
class Amending:
    """How far a file may change what is there.

    Attributes:
        differing: it may change what it said otherwise before; without it a file that fills may fill blanks alone.
        replacing: it may change what a person has corrected meanwhile, too.
    """

    differing: bool = True
    replacing: bool = False


@dataclass(frozen=True, slots=True)
class Amendment:
    """One cell that changes a row of the registry.

    Attributes:
        table: the row's table.
        row: its key.
        field: the column; of a list of codes, the column of the table that holds the codes.
        held: what the registry has, in words; None where it has nothing.
        given: what the file says, in words.
        place: where the file says it.
        value: what to store; a link to a new row is a stand-in below 0.
        precision: of a date.
        reason: why the value is missing, where the file says so.
        typed: the wording of a value in another unit.
        codes: the table that holds the codes of a list.
        added: codes that come.
        removed: keys of the rows of ``codes`` that go.
    """

    table: str
    row: int
    field: str
    held: str | None
    given: str
    place: Place
    value: Any = None
    precision: str | None = None
    reason: str | None = None
    typed: str | None = None
    codes: str | None = None
    added: tuple[str, ...] = ()
    removed: tuple[int, ...] = ()


class Verdict(Enum):
    """What becomes of a differing cell."""

    AMENDED = "taken"
    STAYS = "what the source said before, and what a person has corrected since"
    CONFLICT = "new, where someone else has written meanwhile"


class Amender:
    """Judges the differing cells of a file, sheet by sheet."""

    def __init__(
        self, registry: Registry, connection: Connection, source: str, amending: Amending, findings: FindingList
    ) -> None:
        self.source, self.amending, self.findings = source, amending, findings
        self.amendments: list[Amendment] = []
        self.present: dict[str, set[int]] = {}
        self._history = FieldHistory(connection, registry.cipher(connection))
        self._codes = CodeChanges(connection, self._history, source)

    def take(self, comparison: Comparison, links: Mapping[str, list[int | None]]) -> None:
        """Judge the cells of one sheet.

        Args:
            comparison: the rows of the sheet that are there.
            links: by link, the id that each row of the sheet names.
        """
        sheet = comparison.sheet
        self.present.setdefault(sheet.table, set()).update(comparison.there.values())
        differing: list[Difference] = []
        comparison.compare(links, self.findings, differing.append)
        allowed = []
        for found in differing:
            if self._refused(comparison, found):
                refuse(sheet, found, self.findings)
            else:
                allowed.append(found)
        asked: dict[int, set[str]] = {}
        for found in allowed:
            if comparison.stored[found.row_id]["revision"] > 1 and not found.column.folded:
                asked.setdefault(found.row_id, set()).add(found.field)
        stories = self._history.of_rows(sheet.table, asked) if asked else {}
        taken = [found for found in allowed if not found.column.folded and self._judge(comparison, found, stories)]
        self._check_pairs(comparison, taken)
        self._take_codes(comparison, [found for found in allowed if found.column.folded])

    def _refused(self, comparison: Comparison, found: Difference) -> bool:
        # Stored moments were worked out with the zone; values of local fields obey the declaration that stands.
        table = comparison.sheet.table
        if (table, found.field) == ("site", "time_zone") or table == "local_field":
            return True
        return not self.amending.differing and found.held is not None and not _moves_on(comparison, found)

    def _judge(self, comparison: Comparison, found: Difference, stories: Mapping[int, RowStory]) -> bool:
        verdict = self._verdict(comparison, found, stories.get(found.row_id))
        if verdict is Verdict.CONFLICT and self.amending.replacing:
            verdict = Verdict.AMENDED
        self._report(comparison, found, verdict)
        if verdict is not Verdict.AMENDED:
            return False
        place = comparison.sheet.rows.place(found.row, found.column.heading)
        self.amendments.append(
            Amendment(
                comparison.sheet.table,
                found.row_id,
                found.field,
                found.held,
                found.given,
                place,
                found.value,
                found.precision,
                found.reason,
                found.typed,
            )
        )
        return True

    def _verdict(self, comparison: Comparison, found: Difference, story: RowStory | None) -> Verdict:
        if _moves_on(comparison, found):
            return Verdict.AMENDED
        stored = comparison.stored[found.row_id]
        if story is None:  # nobody has touched the row since it was entered
            if found.held is None or self._own(stored["batch_id"]):
                return Verdict.AMENDED
            return Verdict.CONFLICT
        if self._own(story.writer.get(found.field)) or found.field not in story.filled:
            return Verdict.AMENDED
        given = (plain(found.field, found.value), str(found.precision or "day"), found.reason)
        return Verdict.STAYS if story.said.get(self.source, {}).get(found.field) == given else Verdict.CONFLICT

    def _own(self, batch: int | None) -> bool:
        """What this batch wrote may be changed by this file: it is of the same source, or a person typed the file."""
        return batch is not None and (self.source in (WORKBOOK, self._history.sources[batch]))

    def _take_codes(self, comparison: Comparison, differing: list[Difference]) -> None:
        table = comparison.sheet.table
        for found, change in self._codes.of(comparison, differing):
            added = change.added + (change.conflicts if self.amending.replacing else ())
            if added or change.removed:
                place = comparison.sheet.rows.place(found.row, found.column.heading)
                self.amendments.append(
                    Amendment(
                        table,
                        found.row_id,
                        found.field,
                        found.held,
                        found.given,
                        place,
                        codes=found.column.folded,
                        added=added,
                        removed=change.removed,
                    )
                )
                self._report(comparison, found, Verdict.AMENDED)
            if change.stays:
                self._report(comparison, found, Verdict.STAYS)
            if change.conflicts and not self.amending.replacing:
                self._report(comparison, found, Verdict.CONFLICT)

    def _check_pairs(self, comparison: Comparison, taken: list[Difference]) -> None:
        """A changed cell and a value that stays may contradict each other, though each file was right by itself."""
        sheet = comparison.sheet
        rules = pair_rules_of(sheet.table)
        changed: dict[int, dict[str, Difference]] = {}
        for found in taken if rules else ():
            changed.setdefault(found.row, {})[found.field] = found
        for row, new in changed.items():
            stored = comparison.stored[comparison.there[row]]
            for rule in rules:
                if not new.keys() & set(rule.fields):
                    continue
                one, other = (new[name].value if name in new else stored[name] for name in rule.fields)
                said = tuple(sheet.values[name][row] for name in rule.fields)
                if None not in (one, other) and (one, other) != said and not rule.test(one, other):
                    sheet.report(self.findings, row, rule.fields[1], rule.problem(one, other))

    def _report(self, comparison: Comparison, found: Difference, verdict: Verdict) -> None:
        held = found.held if found.held is not None else "nothing"
        match verdict:
            case Verdict.AMENDED if found.held is None:
                why = "The registry has nothing here and takes the file's value."
                problem = Problem("row.filled", Severity.NOTE, why)
            case Verdict.AMENDED:
                why = f"The registry has {held} here and takes the file's value instead ({found.given})."
                problem = Problem("row.amended", Severity.NOTE, why)
            case Verdict.STAYS:
                why = f"It was corrected in the registry since the file's source said this: {held} stays."
                problem = Problem("row.correction_stays", Severity.NOTE, why)
            case Verdict.CONFLICT:
                why = (
                    f"The registry has {held} here, which the file's source did not write; the file now says "
                    f"{found.given}. What the registry has stays."
                )
                right = "the right one of the two; with --replace-corrections the file's value is taken"
                problem = Problem("row.corrected", Severity.QUESTION, why, right)
        comparison.sheet.report(self.findings, found.row, found.column.heading, problem)


def _moves_on(comparison: Comparison, found: Difference) -> bool:
    return moves_on(comparison.sheet.table, found.field, comparison.stored[found.row_id].get(found.field))
