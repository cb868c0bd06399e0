"""The unit's own settings that decide how a cohort is made."""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import dataclass

from analysis.cohort.parquet import read_table
from analysis.cohort.snapshot import Snapshot
from registry.schema.errors import GravelbookError

AUXILIARY_DAYS, RESEARCH_NOT_ASKED = "auxiliary_days", "research_not_asked"
DEFAULT_AUXILIARY_DAYS = 90
LONGEST_DAYS = 3650


@dataclass(frozen=True)
class CohortSettings:
    """The settings in force, by site key; a site that sets nothing has the default.

    auxiliary_days: days after a course's planned end in which unplanned treatment is auxiliary to it.
    not_asked_out: sites that leave out of research a patient who was not asked.
    """

    auxiliary_days: dict[int, int]
    not_asked_out: frozenset[str]

    @property
    def build_key(self) -> str:
        """Names what the settings make of a snapshot's frames."""
        return hashlib.sha256(repr(sorted(self.auxiliary_days.items())).encode()).hexdigest()[:8]

    def described(self) -> dict[str, object]:
        """The settings in words for a report's provenance: the values in force, by name."""
        return {
            AUXILIARY_DAYS: sorted(set(self.auxiliary_days.values())) or [DEFAULT_AUXILIARY_DAYS],
            RESEARCH_NOT_ASKED: {"out": sorted(self.not_asked_out)} if self.not_asked_out else "in",
        }


def read_settings(snapshot: Snapshot, as_of: dt.date) -> CohortSettings:
    """The settings that hold on a day: of each name, the value of the latest `since` up to it.

    Raises:
        GravelbookError: a value is none that the setting can take.
    """
    sites = {row["id"]: row["code"] for row in read_table(snapshot.file("site"), ["id", "code"]).to_pylist()}
    rows = read_table(snapshot.file("setting"), ["site_id", "setting_name", "since", "value"]).to_pylist()
    latest: dict[tuple[int, str], str] = {}
    for row in sorted((row for row in rows if row["since"] <= as_of), key=lambda row: row["since"]):
        latest[row["site_id"], row["setting_name"]] = row["value"].strip()
    days = dict.fromkeys(sites, DEFAULT_AUXILIARY_DAYS)
    out = set()
    for (site, name), value in latest.items():
        if name == AUXILIARY_DAYS:
            days[site] = _days(value, sites[site])
        elif name == RESEARCH_NOT_ASKED:
            if value not in ("in", "out"):
                raise GravelbookError(_wrong(RESEARCH_NOT_ASKED, value, sites[site], "in or out"))
            if value == "out":
                out.add(sites[site])
    return CohortSettings(auxiliary_days=days, not_asked_out=frozenset(out))


def _days(value: str, site: str) -> int:
    if not (value.isascii() and value.isdigit() and int(value) <= LONGEST_DAYS):
        raise GravelbookError(_wrong(AUXILIARY_DAYS, value, site, f"a whole number of days from 0 to {LONGEST_DAYS}"))
    return int(value)


def _wrong(name: str, value: str, site: str, allowed: str) -> str:
    return (
        f"The setting {name} of site {site} is {value!r}, and it has to be {allowed}. Change the setting in the "
        "registry (sheet Setting), then ask again."
    )
