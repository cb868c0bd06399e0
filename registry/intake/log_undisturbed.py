"""Reading without looking for garbage: of the many small objects of a log nearly all stay until it is loaded."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def undisturbed() -> Iterator[None]:
    """While many cells are made and none is thrown away, looking for garbage would take a third of the time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()
