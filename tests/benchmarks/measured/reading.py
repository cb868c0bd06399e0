"""Reading files into addressed cells: ``python -m tests.benchmarks.measured.reading workbook|log FILE``."""

from __future__ import annotations

import sys
from pathlib import Path

from registry.intake.log_cells import Reading
from registry.intake.log_reader import read_log_file
from registry.intake.workbook_reader import read_workbook
from registry.validation.findings import FindingList
from tests.benchmarks.measured.stopwatch import Stopwatch


def main() -> None:
    what, file = sys.argv[1], Path(sys.argv[2])
    findings = FindingList(file.name)
    watch = Stopwatch()
    if what == "workbook":
        rows = sum(len(sheet) for sheet in read_workbook(file, findings).sheets)
    else:
        rows = sum(len(sheet.rows) for sheet in read_log_file(file, Reading(), findings).sheets)
    watch.say(rows=rows)


if __name__ == "__main__":
    main()
