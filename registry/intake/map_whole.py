"""The proposal for a whole log: every column weighed alone and together, and what the log does not say."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date

from registry.intake.log_cells import LogSheet
from registry.intake.map_doubts import weigh_together
from registry.intake.map_profile import Profile, profile
from registry.intake.map_proposal import Proposal, propose
from registry.intake.map_repeats import Entry, follow_siblings, put_together
from registry.intake.map_units import unit_spellings
from registry.intake.map_words import Heading, read_heading

# Without these no row of a log becomes an operation.
WANTED = {
    "hospital_number.number": "who the patient is",
    "operation.operated_on": "the date of the operation",
    "renal_unit.unit": "the side",
}
# What every row is in most logs, and no log says: a person decides whether it is so.
ALWAYS = ("operation.purpose", "stone_removal")
_NEARLY_EVERY = 0.9
_TECHNIQUE = "treated_side.technique"


@dataclass
class WholeProposal:
    """The proposal for a log.

    Attributes:
        file: the log's file name.
        sheet: the sheet that was read; empty for a CSV file.
        rows: how many rows it has.
        columns: one proposal a column, in order.
        marks: marks that look like missing values, with the number of cells.
        wanting: what no column surely says, in words, by target.
        taken: what the mapping takes to be so in every row, with the target, the value and why.
        constants: what may be so in every row, by target, for a person to decide.
        heading_rows: the numbers of the heading rows, where there are two.
        totals: the words with which rows of totals begin.
        more_sheets: further sheets with the same headings.
        other_sheets: further sheets with other headings.
    """

    file: str
    sheet: str
    rows: int
    columns: list[Proposal] = field(default_factory=list)
    marks: Counter[str] = field(default_factory=Counter)
    wanting: dict[str, str] = field(default_factory=dict)
    taken: list[tuple[str, str, str]] = field(default_factory=list)
    constants: list[tuple[str, str]] = field(default_factory=list)
    heading_rows: tuple[int, ...] = ()
    totals: tuple[str, ...] = ()
    more_sheets: list[str] = field(default_factory=list)
    other_sheets: list[str] = field(default_factory=list)

    @property
    def entries(self) -> list[Entry]:
        """The entries of the mapping."""
        return put_together(self.columns)


def propose_all(sheet: LogSheet, today: date) -> WholeProposal:
    """Propose a mapping for a log.

    Args:
        sheet: the sheet that was read.
        today: the last day on which something can have happened.
    """
    whole = WholeProposal(sheet.file, sheet.title, len(sheet.rows))
    headings = _sided([read_heading(text, unit_spellings()) for text in sheet.headings])
    for number, heading in enumerate(headings):
        made = profile(sheet, number, heading)
        if heading.text or made.filled:
            whole.marks.update(_marks(made))
            whole.columns.append(propose(made, today))
    weigh_together(whole.columns, today)
    follow_siblings(whole.columns)
    there = {name for p in whole.columns if p.proposed for name in p.to}
    whole.wanting = {name: words for name, words in WANTED.items() if name not in there}
    if "patient.study_number" in there:
        whole.wanting.pop("hospital_number.number", None)
    if any(p.family.side for p in whole.columns):
        whole.wanting.pop("renal_unit.unit", None)
    if not there & {ALWAYS[0], "treated_side.intent"}:
        share = _stones(whole)
        if share >= _NEARLY_EVERY and "operation.operated_on" in there:
            whole.taken = [(*ALWAYS, f"{share:.0%} of the rows speak of a stone, its treatment or being free of stone")]
        else:
            whole.constants = [ALWAYS]
    return whole


def _stones(whole: WholeProposal) -> float:
    """The share of rows that speak of a stone, of a technique of stone treatment or of being free of stone."""
    told = [p for p in whole.columns if p.proposed and (p.table in ("stone", "reading") or p.to == (_TECHNIQUE,))]
    return len({at for p in told for at in p.made.filled}) / whole.rows if whole.rows else 0.0


def _marks(made: Profile) -> Counter[str]:
    folded: Counter[str] = Counter()
    for mark, count in made.marks.items():
        folded[mark.casefold()] += count
    return folded


def _sided(headings: list[Heading]) -> list[Heading]:
    """A lone L or R is a side where the same heading stands there with the other letter."""
    from dataclasses import replace

    lone: dict[tuple[frozenset[str], int | None, str], set[str]] = {}
    for h in headings:
        if h.letter:
            lone.setdefault((h.words, h.number, h.unit), set()).add(h.letter)
    return [
        replace(h, side="left" if h.letter == "l" else "right", letter="")
        if h.letter and lone[h.words, h.number, h.unit] == {"l", "r"}
        else h
        for h in headings
    ]
