"""Loads one workbook in a process of its own and tells every step: ``python -m tests.intake.interrupted.child``.

Arguments: the registry, the workbook, and the largest file size in bytes that the system lets this process write (0 for
no limit), which is how a full disk looks to a program.
"""

from __future__ import annotations

import resource
import signal
import sys
from pathlib import Path

from registry.intake.load import load_file
from registry.schema.errors import GravelbookError
from registry.store.registry import open_registry


def tell(stage: str, done: int, total: int) -> None:
    print(stage, done, total, flush=True)


def main() -> None:
    location, workbook, limit = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3])
    if limit:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
    print("started", 0, 0, flush=True)
    try:
        with open_registry(location) as registry:
            loaded = load_file(registry, workbook, by="loader", progress=tell)
    except GravelbookError as error:
        print(f"refused: {error}", flush=True)
        sys.exit(1)
    print("loaded", sum(loaded.new.values()), 0, flush=True)


if __name__ == "__main__":
    main()
