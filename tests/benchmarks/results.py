"""What a benchmark found, as lines of a table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from tests.benchmarks.pairs import GOOD_MANY, Measured, ratio


@dataclass(frozen=True)
class Line:
    """One thing measured. goal: the highest ratio to the yardstick that is wanted; None where none is set yet.

    limit_s: the longest time that is wanted, where that is the goal.
    """

    what: str
    runs: list[Measured]
    yardstick: list[Measured] | None = None
    goal: float | None = None
    limit_s: float | None = None
    note: str = ""

    @property
    def ratio(self) -> float | None:
        """To the yardstick, the median of the pairs."""
        return None if self.yardstick is None else ratio(self.runs, self.yardstick)

    @property
    def met(self) -> bool | None:
        """Whether the goal is met; None without one."""
        if self.limit_s is not None:
            return _seconds(self.runs) <= self.limit_s
        return None if self.goal is None or self.ratio is None else self.ratio <= self.goal


HEADINGS = ("", "seconds", "yardstick", "ratio", "goal", "met", "peak MB", "its peak", "")


def table(lines: Sequence[Line]) -> str:
    """All lines under their headings, times and memory as medians."""
    rows = [HEADINGS, *(_row(line) for line in lines)]
    widths = [max(len(row[at]) for row in rows) for at in range(len(HEADINGS))]
    texts = []
    for row in rows:
        middle = [cell.rjust(width) for cell, width in zip(row[1:-1], widths[1:-1], strict=True)]
        texts.append("  ".join([row[0].ljust(widths[0]), *middle, row[-1]]).rstrip())
    return "\n".join(texts)


def closing(lines: Sequence[Line]) -> str:
    """How many goals are met, and how far the ratios can be trusted."""
    judged = [line.met for line in lines if line.met is not None]
    said = f"{sum(judged)} of {len(judged)} goals met."
    pairs = min((len(line.runs) for line in lines), default=0)
    if pairs < GOOD_MANY:
        said += f" Only {pairs} of each: take at least {GOOD_MANY} before believing a ratio."
    return said


def _row(line: Line) -> tuple[str, ...]:
    limit = None if line.limit_s is None else f"{line.limit_s:g} s"
    return (
        line.what,
        _shown(_seconds(line.runs)),
        "" if line.yardstick is None else _shown(_seconds(line.yardstick)),
        "" if line.ratio is None else f"{line.ratio:.3g}",
        limit or ("" if line.goal is None else f"{line.goal:g}"),
        {True: "yes", False: "NO", None: ""}[line.met],
        f"{median(run.peak_mb for run in line.runs):.0f}",
        "" if line.yardstick is None else f"{median(run.peak_mb for run in line.yardstick):.0f}",
        line.note,
    )


def _seconds(runs: Sequence[Measured]) -> float:
    return median(run.seconds for run in runs)


def _shown(seconds: float) -> str:
    return f"{seconds:.4f}" if seconds < 0.1 else f"{seconds:.3f}" if seconds < 10 else f"{seconds:.1f}"
