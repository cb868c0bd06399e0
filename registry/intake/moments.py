"""Times on the wall of a unit, turned into moments by the unit's time zone."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from sqlalchemy import select

from registry.intake.dates import NotReadError, in_zone
from registry.intake.parsed_sheet import ParsedSheet
from registry.schema.fields import Moment
from registry.schema.tables import metadata
from registry.store.time_zones import known_zones, right_zone
from registry.validation.field_rules import rule_id
from registry.validation.findings import FindingList, Problem, Severity

if TYPE_CHECKING:
    from sqlalchemy import Connection


def localise(sheets: list[ParsedSheet], connection: Connection, findings: FindingList) -> None:
    """Turn every time without a zone into a moment, by the time zone of the row's site.

    A site without a time zone, or an hour in which the clocks changed, is a finding: nobody can say when it was.
    """
    _check_zones(sheets, findings)
    moments = [(s, c) for s in sheets for c in s.rows.sheet.columns if isinstance(c.info.kind, Moment)]
    if not any(value is not None for s, c in moments for value in s.values[c.heading]):
        return
    zones = _zones(sheets, connection)
    for sheet, column in moments:
        values = sheet.values[column.heading]
        for row, value in enumerate(values):
            if isinstance(value, datetime) and value.tzinfo is None:
                try:
                    values[row] = _moment(value, sheet.values["site"][row], zones)
                except NotReadError as failed:
                    values[row] = None
                    sheet.failed.setdefault(column.heading, set()).add(row)
                    if sheet.values["site"][row] is not None:  # else the missing site is said already
                        problem = Problem(rule_id(column.info, "type"), Severity.ERROR, failed.why, failed.right)
                        sheet.report(findings, row, column.heading, problem)


def _check_zones(sheets: list[ParsedSheet], findings: FindingList) -> None:
    """Report names that are no time zone's, whether or not a time of day has to be read by them yet."""
    for sheet in sheets:
        for row, zone in enumerate(sheet.values["time_zone"] if sheet.table == "site" else ()):
            if zone is not None and zone not in known_zones():
                why = f"{zone} is not the name of a time zone."
                problem = Problem("site.time_zone.known", Severity.ERROR, why, right_zone(zone))
                sheet.report(findings, row, "time_zone", problem)


def _moment(wall: datetime, site: str | None, zones: dict[str | None, str | None]) -> datetime:
    name = zones.get(site)
    right = "the time with its offset from UTC, as 2024-05-03T08:30+02:00"
    if name is None:
        if site not in zones:  # the registry does not know the site yet, so that the file may still say
            right += ", or the site's time zone in sheet Site"
        raise NotReadError(f"Site {site} has no time zone, so that nobody can say when {wall:%H:%M} was.", right)
    try:
        return in_zone(wall, ZoneInfo(name))
    except (ZoneInfoNotFoundError, ValueError, OSError) as fault:
        if isinstance(fault, NotReadError):
            raise
        raise NotReadError(f"The time zone of site {site}, {name}, is not known.", right) from None


def _zones(sheets: list[ParsedSheet], connection: Connection) -> dict[str | None, str | None]:
    """The time zones of the registry's sites, None where it has none, and those that the file states."""
    site = metadata.tables["site"].c
    zones = {row.code: row.time_zone for row in connection.execute(select(site.code, site.time_zone))}
    for sheet in sheets:
        if sheet.table == "site":
            typed = zip(sheet.values["site"], sheet.values["time_zone"], strict=True)
            zones.update({code: zone for code, zone in typed if code and zone})
    return zones
