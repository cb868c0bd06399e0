"""Whom each row of a log is about, as the log itself says it: rows of one patient are rejected together."""

from __future__ import annotations

import hashlib

from registry.intake.good_rows_keys import Unit
from registry.intake.log_mapping import folded
from registry.intake.log_mapping_binding import bind
from registry.intake.log_mapping_reader import read_mapping
from registry.intake.rejected_file_log import LogPart
from registry.intake.source import Source
from registry.validation.findings import FindingList

# The first of these that a sheet has says whom its rows are about.
_NAMED_BY = (
    ("hospital_number.number",),
    ("patient.study_number",),
    ("patient_identity.family_name", "patient_identity.given_name", "patient_identity.birth_date"),
)
_LOG = "log"


def persons_of(source: Source, parts: list[LogPart]) -> dict[Unit, str]:
    """By row of a log, what its patient is told by; ``""`` where rows of one patient do not count together.

    Args:
        source: the files with their mapping.
        parts: the sheets of the files.

    Raises:
        GravelbookError: the mapping cannot be read or does not fit the files.
    """
    assert source.mapping is not None
    mapping = read_mapping(source.mapping)
    persons = {unit: "" for part in parts for unit in part.units}
    if mapping.kind != _LOG:
        return persons
    for part, bound in zip(parts, bind(mapping, [part.table for part in parts], FindingList("")), strict=True):
        columns = {target.text: index for column, index in bound.columns for target in column.to}
        named_by = next((names for names in _NAMED_BY if names[0] in columns), ())
        at = [columns[name] for name in named_by if name in columns]
        for unit, row in zip(part.units, part.table.rows, strict=True):
            words = [folded(row[index].text) for index in at]
            if any(words):
                persons[unit] = hashlib.sha256("\n".join(words).encode()).hexdigest()
    return persons
