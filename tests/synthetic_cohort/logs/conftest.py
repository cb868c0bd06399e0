"""Logs of sixty operations in each style, made once."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest

from synthetic_cohort.logs.make_log import Log, make_log
from synthetic_cohort.logs.mess import Mess

Maker = Callable[..., Log]


@cache
def _made(style: str, mess: Mess, errors: int, operations: int, seed: int) -> Log:
    return make_log(style, operations, seed, mess=mess, errors=errors)


@pytest.fixture(scope="session")
def log() -> Maker:
    """Makes a log, or gives back one that was made with the same arguments."""

    def make(style: str, mess: Mess | None = None, errors: int = 0, operations: int = 60, seed: int = 3) -> Log:
        return _made(style, Mess.none() if mess is None else mess, errors, operations, seed)

    return make
