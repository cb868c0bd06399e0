"""One thread for the linear algebra of a fit."""

from __future__ import annotations

from functools import cache
from typing import Any


def one_thread() -> Any:
    """A context in which numpy and scipy multiply in one thread.

    A model's products are thousands of rows by a few columns: second threads gain little on a free machine, and where
    cores are busy every product waits for the slower one (a fit of 100,000 rows took ten to a hundred times as long).
    The last digits then do not depend on how many cores there are. Others' threads are as before when it is left.
    """
    return _controller().limit(limits=1, user_api="blas")


@cache
def _controller() -> Any:
    """Looking for the libraries takes milliseconds; those of numpy and scipy are loaded by the time it is made."""
    import scipy.linalg
    from threadpoolctl import ThreadpoolController

    assert scipy.linalg
    return ThreadpoolController()
