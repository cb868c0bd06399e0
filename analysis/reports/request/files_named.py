"""Files that an option names, checked before anything is asked or written."""

from __future__ import annotations

from pathlib import Path

from analysis.reports.request.faults import MalformedOptionError


def file_named(option: str, path: str) -> Path:
    """The file that an option names.

    A list of cases has to be called .csv: it takes the place of what stands there, and a slip of the pen must not
    put it over a registry, a key or a workbook.

    Raises MalformedOptionError for an empty name, or a list of cases with another ending.
    """
    if not path.strip():
        raise MalformedOptionError(f"--{option} is empty; name a file, or leave the option out.")
    named = Path(path)
    if option == "cases" and named.suffix.lower() != ".csv":
        raise MalformedOptionError(f"--cases {path!r} has to end in .csv, which says what it is.")
    return named
