"""How far a long job has come, shown on standard error while a person is looking, and not at all on a pipe."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from click._termui_impl import ProgressBar

Progress = Callable[[str, int, int], None]
"""Told the stage of the work, how much of it is done, and how much there is."""


class _Bars:
    """One bar a stage, each left standing full when the next begins."""

    def __init__(self) -> None:
        self._stage = ""
        self._bar: ProgressBar[int] | None = None

    def tell(self, stage: str, done: int, total: int) -> None:
        if self._bar is None or stage != self._stage:
            self.close()
            self._stage = stage
            self._bar = click.progressbar(length=total, label=stage.ljust(8), file=sys.stderr)
            self._bar.__enter__()
        self._bar.update(done - self._bar.pos)

    def close(self) -> None:
        if self._bar is not None:
            self._bar.__exit__(None, None, None)
            self._bar = None


@contextmanager
def progress_shown() -> Iterator[Progress | None]:
    """Gives what to tell of the progress; None where nobody is looking."""
    if not sys.stderr.isatty():
        yield None
        return
    bars = _Bars()
    try:
        yield bars.tell
    finally:
        bars.close()
