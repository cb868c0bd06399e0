"""The unit's own settings that decide what is due and how a theatre list is read."""

from __future__ import annotations

import datetime as dt

from sqlalchemy import Connection, select

from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata

DAYS = {
    "follow_up_scan_days": 30,
    "follow_up_scan_from_days": 14,
    "follow_up_scan_to_days": 90,
    "stent_longest_days": 90,
    "review_days": 30,
    "stone_analysis_days": 42,
    "culture_days": 7,
    "report_days": 14,
    "theatre_list_days": 0,
}
"""Settings that are a number of days, each with what holds where a unit sets nothing (common practice)."""

FILLED_FROM_LIST = "registry_filled_from_theatre_list"
LONGEST_DAYS = 3650


class UnitSettings:
    """The settings in force on a day, by site: of each name, the value of the latest ``since`` up to that day."""

    def __init__(self, connection: Connection, on: dt.date) -> None:
        setting, site = metadata.tables["setting"].c, metadata.tables["site"].c
        query = select(setting.site_id, setting.setting_name, setting.value).where(setting.since <= on)
        self._held: dict[tuple[int, str], str] = {
            (int(row.site_id), str(row.setting_name)): str(row.value).strip()
            for row in connection.execute(query.order_by(setting.since))
        }
        self._codes = {int(row.id): str(row.code) for row in connection.execute(select(site.id, site.code))}

    def days(self, site: int, name: str) -> int:
        """A setting that is a number of days.

        Raises:
            GravelbookError: what is set is no number of days.
        """
        value = self._held.get((site, name))
        if value is None:
            return DAYS[name]
        if not (value.isascii() and value.isdigit() and int(value) <= LONGEST_DAYS):
            raise self._wrong(site, name, value, f"a whole number of days from 0 to {LONGEST_DAYS}")
        return int(value)

    def answered_no(self, site: int, name: str) -> bool:
        """A setting that is yes or no is no; a setting that is not made is not.

        Raises:
            GravelbookError: what is set is neither yes nor no.
        """
        value = self._held.get((site, name))
        if value is not None and value not in ("yes", "no"):
            raise self._wrong(site, name, value, "yes or no")
        return value == "no"

    def _wrong(self, site: int, name: str, value: str, allowed: str) -> GravelbookError:
        return GravelbookError(
            f"The setting {name} of site {self._codes.get(site, site)} is {value!r}, and it has to be {allowed}. "
            "Change the setting in the registry (sheet Setting), then ask again."
        )
