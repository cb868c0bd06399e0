"""Times the work of a program and says so as its last line."""

from __future__ import annotations

import json
import time


class Stopwatch:
    """Starts when made. ``lap`` names what was done since the last one."""

    def __init__(self) -> None:
        self._started = self._last = time.perf_counter()
        self._laps: dict[str, float] = {}

    def lap(self, what: str) -> None:
        """Name a part of the work that ends now."""
        now = time.perf_counter()
        self._laps[what] = now - self._last
        self._last = now

    def say(self, **more: float) -> None:
        """Print the whole time and its parts, with other numbers worth knowing."""
        seconds = time.perf_counter() - self._started
        print(json.dumps({"seconds": seconds, **self._laps, **more}))
