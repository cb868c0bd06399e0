"""Makes an empty registry in a database: ``python -m tests.benchmarks.measured.empty_registry DATABASE FOLDER``.

Its key file, which a yardstick has no use for, does not outlive this program.
"""

from __future__ import annotations

import os
import sys
import tempfile

from registry.store.registry import create_registry
from tests.benchmarks.measured.stopwatch import Stopwatch


def main() -> None:
    location, folder = sys.argv[1:]
    with tempfile.TemporaryDirectory(dir=folder) as made:
        os.environ["GRAVELBOOK_KEY_FILE"] = f"{made}/key"
        watch = Stopwatch()
        create_registry(location).close()
        watch.say()


if __name__ == "__main__":
    main()
