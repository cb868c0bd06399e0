"""Study numbers whose record was merged into another's: a file must not fill the empty record again."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, select

from registry.intake.parsed_sheet import ParsedSheet
from registry.schema.tables import metadata
from registry.validation.findings import FindingList, Problem, Severity


def refuse_merged(parsed: Sequence[ParsedSheet], connection: Connection, findings: FindingList) -> None:
    """Report rows that name a merged record.

    Its rows have other numbers of the day and of the course by now, so that a file which names the old record cannot
    be taken to mean the kept one. A patient's own row that says nothing but the number, as a written workbook has it,
    is let pass.

    Args:
        parsed: the typed sheets, with their sites filled in.
        connection: a reading transaction on the registry.
        findings: takes an error for each row.
    """
    into = _merged_into(connection)
    if not into:
        return
    for sheet in parsed:
        studies, sites = sheet.values.get("study_number"), sheet.values.get("site")
        if studies is None or sites is None:
            continue
        others = [c.heading for c in sheet.rows.sheet.columns if c.heading not in ("site", "study_number")]
        for row, key in enumerate(zip(sites, studies, strict=True)):
            if key not in into:
                continue
            if sheet.table == "patient" and not any(sheet.rows.wording(row, heading) for heading in others):
                continue
            why = f"The record of study number {key[1]} was merged into that of {into[key]}, where its rows are now."
            right = f"{into[key]}, with the numbers that the rows have there; or undo: gravelbook intake merge --undo"
            sheet.report(findings, row, "study_number", Problem("patient.merged", Severity.ERROR, why, right))


def _merged_into(connection: Connection) -> dict[tuple[str, str], str]:
    """By site and study number of a merged record, the study number of the record that was kept."""
    merges, site = metadata.tables["patient_merge"], metadata.tables["site"]
    kept, merged = metadata.tables["patient"].alias(), metadata.tables["patient"].alias()
    query = (
        select(site.c.code, merged.c.study_number, kept.c.study_number)
        .join_from(merges, merged, merges.c.merged_patient_id == merged.c.id)
        .join(kept, merges.c.kept_patient_id == kept.c.id)
        .join(site, merged.c.site_id == site.c.id)
        .where(merges.c.undone_at.is_(None))
    )
    return {(code, study): into for code, study, into in connection.execute(query)}
