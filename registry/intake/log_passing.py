"""Rows below the headings that are no cases: blank ones, headings printed again, totals, and what follows the end."""

from __future__ import annotations

from dataclasses import dataclass, field

from registry.intake.log_cells import Reading
from registry.intake.log_heading_rows import folded
from registry.intake.log_headings import repeats_headings
from registry.intake.log_raw import RawSheet, filled, filled_in
from registry.intake.log_remarks import Remarks, rows

# Words with which a row of sums begins; such a row among the last is asked about unless it is declared.
_LIKELY_TOTALS = ("total", "totals", "grand total", "subtotal", "sum", "mean", "average", "median", "count")
_LAST_ROWS = 3


@dataclass
class Passing:
    """Sorts the rows of one sheet and remembers what was passed over."""

    raw: RawSheet
    headings: list[int]
    reading: Reading
    remarks: Remarks
    _blank: list[int] = field(default_factory=list)
    _repeated: list[int] = field(default_factory=list)

    def cases(self) -> list[int]:
        """The positions of the rows that may be cases; every other row is a note."""
        totals = [folded(mark) for mark in self.reading.totals if mark.strip()]
        stop = folded(self.reading.stop_at)
        words = {folded(cell.text) for at in self.headings for cell in self.raw.rows[at] if filled(cell)}
        marked = bool(totals or stop)
        kept: list[int] = []
        for at in range(self.headings[-1] + 1, len(self.raw.rows)):
            first = next((cell for cell in self.raw.rows[at] if filled(cell)), None)
            if first is None:
                self._blank.append(self.raw.numbers[at])
                continue
            if marked:
                begin = folded(first.text)
                if stop and begins(begin, stop):
                    self._stopped(at)
                    break
                if any(begins(begin, mark) for mark in totals):
                    why = f"Row {self.raw.numbers[at]} begins with a word for totals and was passed over."
                    self.remarks.note("totals", why, row=self.raw.numbers[at])
                    continue
            if folded(first.text) in words and repeats_headings(self.raw, self.headings, at):
                self._repeated.append(self.raw.numbers[at])
                continue
            kept.append(at)
        else:
            if stop:
                why = f"No row begins with '{self.reading.stop_at}', so the sheet was read to its end."
                self.remarks.note("stop_at", why)
        self._say(kept)
        return kept

    def _stopped(self, at: int) -> None:
        number = self.raw.numbers[at]
        after = sum(1 for row in self.raw.rows[at + 1 :] if filled_in(row))
        why = f"Row {number} begins with '{self.reading.stop_at}': it and {after} rows below were not read."
        self.remarks.note("stop_at", why, row=number)

    def _say(self, kept: list[int]) -> None:
        above = [self.raw.numbers[at] for at in range(self.headings[-1]) if filled_in(self.raw.rows[at])]
        above = [number for number in above if number not in {self.raw.numbers[at] for at in self.headings}]
        if above:
            self.remarks.note("above_headings", f"{_were(above)} above the headings and passed over.")
        last = self.raw.numbers[kept[-1]] if kept else 0
        between = [number for number in self._blank if number < last]
        if between:
            self.remarks.note("blank_rows", f"{_were(between)} blank and passed over.", row=between[0])
        if self._repeated:
            do, were = ("repeat", "were") if len(self._repeated) > 1 else ("repeats", "was")
            why = f"{rows(self._repeated)} {do} the headings and {were} passed over."
            self.remarks.note("headings_again", why, row=self._repeated[0])
        for at in kept[-_LAST_ROWS:]:
            first = next(cell for cell in self.raw.rows[at] if filled(cell))
            if any(begins(folded(first.text), mark) for mark in _LIKELY_TOTALS):
                why = f"Row {self.raw.numbers[at]} begins like a row of totals, but was read as a case."
                right = "its first word under totals in [reading], if it is no case"
                self.remarks.question("totals", why, right, row=self.raw.numbers[at])


def begins(text: str, mark: str) -> bool:
    """Whether a text begins with a mark as a whole word."""
    return text.startswith(mark) and not text[len(mark) : len(mark) + 1].isalnum()


def _were(numbers: list[int]) -> str:
    return f"{rows(numbers)} {'were' if len(numbers) > 1 else 'was'}"
