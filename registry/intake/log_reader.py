"""From a log in any shape, CSV or XLSX, to addressed cells of text.

Nothing is inferred: 007 stays 007, NA stays NA, and 1.10 in a CSV file stays 1.10. What cells mean is for the mapping.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from registry.intake.log_cells import LogFile, Reading
from registry.intake.log_csv import read_csv
from registry.intake.log_open import is_workbook, log_bytes
from registry.intake.log_raw import RawSheet, filled_in
from registry.intake.log_remarks import Remarks
from registry.intake.log_table import table_of
from registry.intake.log_xlsx import read_xlsx
from registry.intake.rejected_file_columns import without_added
from registry.intake.workbook_open import content_hash
from registry.schema.errors import GravelbookError
from registry.validation.findings import FindingList


def read_log_file(path: Path, reading: Reading, findings: FindingList) -> LogFile:
    """Read a CSV file or a workbook.

    Args:
        path: the file; the bytes tell what it is, not its name.
        reading: the ``[reading]`` part of the mapping.
        findings: takes every row that is passed over and every cell that is not simply what somebody typed.

    Raises:
        GravelbookError: the file as a whole cannot be read, or its headings cannot be told.
    """
    content = log_bytes(path)
    file = LogFile(path.name, content_hash(content), [])
    for raw in _raw_sheets(path, content, reading, findings):
        file.sheets.append(without_added(table_of(raw, reading, Remarks(findings, path.name, raw.title))))
    if not file.sheets:
        raise GravelbookError(f"{path} holds no cells in the sheets that were to be read. Mend sheets under [reading].")
    return file


def _raw_sheets(path: Path, content: bytes, reading: Reading, findings: FindingList) -> Iterator[RawSheet]:
    if is_workbook(content):
        yield from read_xlsx(path, content, reading, findings)
        return
    raw = read_csv(content, reading, Remarks(findings, path.name))
    if not any(map(filled_in, raw.rows)):
        raise GravelbookError(
            f"{path} holds no cells: nothing but blanks and delimiters. Save it again or copy it anew."
        )
    yield raw
