"""Errors as they stand in real logs, written down before there was any rule to find them.

A third of them are of kinds that no clinical rule would name: they come from keyboards, from sorting and from pasting,
and show in one row's words or in a stretch of rows. The rest contradict what happens to a patient. Each says what is
changed, which registry values stand in the cells at which a finding has to point (one of them, in the changed row), and
whether the row still tells what would be right. Sources: common practice of people who abstract such logs, from memory.
"""

from __future__ import annotations

from synthetic_cohort.logs.error_kind import ErrorKind
from synthetic_cohort.logs.errors_of_cases import ERRORS_OF_CASES
from synthetic_cohort.logs.errors_of_keyboards import ERRORS_OF_KEYBOARDS

ERROR_KINDS: tuple[ErrorKind, ...] = ERRORS_OF_KEYBOARDS + ERRORS_OF_CASES
"""All kinds, those that no clinical rule names first."""


def error_kind(name: str) -> ErrorKind:
    """The kind with a name.

    Raises:
        KeyError: there is none.
    """
    return {kind.id: kind for kind in ERROR_KINDS}[name]
