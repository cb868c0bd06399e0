"""How long others wait for a load: ``python -m tests.benchmarks.measured.waiting WORKBOOK``.

A second process enters one row through the write door every 50 ms, into the record of a patient of its own, from
before the load until after it. ``longest`` is the longest that one of its rows took, ``locked`` the time that the
load held the registry.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path

from registry.intake.load import load_file
from registry.store.registry import create_registry, open_registry
from tests.benchmarks.measured.stopwatch import Stopwatch

EVERY_S = 0.05


def main() -> None:
    if sys.argv[1] == "writer":
        _write(Path(sys.argv[2]), Path(sys.argv[3]), int(sys.argv[4]))
        return
    workbook = Path(sys.argv[1])
    with tempfile.TemporaryDirectory(dir=workbook.parent) as folder:
        file, end = Path(folder) / "gravelbook.db", Path(folder) / "end"
        with create_registry(str(file)) as registry:
            with registry.writing(by="other") as door:
                site = door.insert("site", {"code": "ELSE", "name": "Elsewhere"})
                patient = door.insert("patient", {"site_id": site, "study_number": "other"})
            command = [sys.executable, "-m", "tests.benchmarks.measured.waiting", "writer", file, end, str(patient)]
            other = subprocess.Popen(list(map(str, command)), stdout=subprocess.PIPE, text=True)
            assert other.stdout is not None
            other.stdout.readline()  # it has written its first row
            watch = Stopwatch()
            loaded = load_file(registry, workbook, by="benchmark")
            assert not loaded.errors, loaded.findings  # a refused file would make nobody wait
            count = sum(loaded.new.values())
            watch.lap("load")
            end.touch()
            said = json.loads(other.communicate()[0])
            watch.say(rows=count, **said)
        if other.returncode:
            raise SystemExit("the other writer failed")


def _write(file: Path, end: Path, patient: int) -> None:
    taken: list[float] = []
    with open_registry(str(file)) as registry:
        while not end.exists():
            started = time.perf_counter()
            with registry.writing(by="other") as door:
                on = date(1950, 1, 1) + timedelta(days=len(taken))
                door.insert("contact", {"patient_id": patient, "contacted_on": on})
            taken.append(time.perf_counter() - started)
            if len(taken) == 1:
                print("ready", flush=True)
            time.sleep(EVERY_S)
    print(json.dumps({"longest": max(taken), "typical": sorted(taken)[len(taken) // 2], "others": len(taken)}))


if __name__ == "__main__":
    main()
