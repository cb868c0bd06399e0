"""The site of a row that does not name one: the only one there is."""

from __future__ import annotations

from registry.intake.known_keys import KnownKeys
from registry.intake.parsed_sheet import ParsedSheet
from registry.validation.findings import FindingList, Problem, Severity


def fill_sites(sheets: list[ParsedSheet], known: KnownKeys, findings: FindingList) -> None:
    """Fill blank sites where the registry and the file know one site between them; else say that they are needed."""
    codes = {key[0] for key in known.of("site")}
    for sheet in sheets:
        if sheet.table == "site":
            codes |= {code for code in sheet.values["site"] if code is not None}
    for sheet in sheets:
        values = sheet.values["site"]
        if sheet.table == "site" or None not in values:
            continue
        failed = sheet.failed.get("site", ())
        for row, value in enumerate(values):
            if value is not None or row in failed:
                continue
            if len(codes) == 1:
                values[row] = next(iter(codes))
            else:
                sheet.report(findings, row, "site", _unnamed(codes))


def _unnamed(codes: set[str]) -> Problem:
    if codes:
        why = f"The site is blank, and there are {len(codes)}."
        return Problem("site.named", Severity.ERROR, why, f"one of: {', '.join(sorted(codes))}")
    why = "The site is blank, and neither the file nor the registry has a site."
    return Problem("site.named", Severity.ERROR, why, "a row in sheet Site, whose code stands here")
