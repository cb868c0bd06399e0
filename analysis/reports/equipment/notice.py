"""What a safety notice names: a model, a lot, a serial number, a scanned code, read or refused in a sentence."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from analysis.reports.equipment.request import read_days
from analysis.reports.request.faults import MalformedOptionError
from registry.schema.udi import Udi, read_udi

NAMED = ("model", "lot", "serial", "udi")
NOT_TRACED = ("kind", "by", "interval", "level", "rules", "as_of", "snapshot", "figure", "research")


@dataclass(frozen=True, kw_only=True)
class Notice:
    """What is looked for; all that is named has to fit.

    model: a code of the catalogue. lot, serial: as typed; of a scanned code that holds them, what it says.
    identifier: the device identifier of a scanned code, 14 digits. code: a scanned code that is not taken apart.
    since, until: days of operations looked at, both included.
    """

    model: str | None = None
    lot: str | None = None
    serial: str | None = None
    identifier: str | None = None
    code: str | None = None
    since: dt.date | None = None
    until: dt.date | None = None

    def as_dict(self) -> dict[str, Any]:
        """All that is looked for, ready for JSON."""
        named = {name: getattr(self, name) for name in ("model", "lot", "serial", "identifier", "code")}
        days = {name: day and day.isoformat() for name, day in (("since", self.since), ("until", self.until))}
        return named | days

    def in_words(self) -> str:
        """What is looked for, in a line."""
        words = {"identifier": "device identifier", "code": "scanned code"}
        named = {words.get(name, name): value for name, value in self.as_dict().items() if value}
        return ", ".join(f"{name} {value}" for name, value in named.items())


def names_something(typed: Mapping[str, str | None]) -> bool:
    """A model, lot, serial number or scanned code was typed, be it empty: somebody is looking for patients."""
    return any(typed.get(name) is not None for name in NAMED)


def read_notice(typed: Mapping[str, str | None], *, research: bool = False) -> Notice:
    """Read the options of a search.

    Raises MalformedOptionError for an empty one, a scanned code that cannot be read, one that contradicts --lot or
    --serial, and for options that a search has no use for.
    """
    given = {name for name, value in typed.items() if value is not None} | ({"research"} if research else set())
    needless = [name for name in NOT_TRACED if name in given]
    if needless:
        raise MalformedOptionError(
            f"--{needless[0].replace('_', '-')} does not go with a search for a model, lot, serial number or scanned "
            "code: everybody who was treated with it counts, whoever is in a study or a cohort. Leave it out; --since "
            "and --until limit the days."
        )
    named = {name: _not_empty(name, typed[name]) for name in NAMED if typed.get(name) is not None}
    since, until = read_days(typed)
    udi = named.pop("udi", None)
    scanned = _scanned(udi) if udi is not None else {}
    for name in ("lot", "serial"):
        if name in named and name in scanned and named[name] != scanned[name]:
            raise MalformedOptionError(
                f"--{name} {named[name]!r} is not what the scanned code says, {scanned[name]!r}, so nothing could fit "
                "both. Leave one of the two out, or ask for each apart."
            )
    return Notice(**{**scanned, **named}, since=since, until=until)


def _not_empty(name: str, text: str | None) -> str:
    stripped = (text or "").strip()
    if not stripped or not stripped.strip("-. "):
        raise MalformedOptionError(
            f"--{name} is empty, and would fit every use or none; give it as it stands in the notice or on the label."
        )
    return stripped


def _scanned(text: str) -> dict[str, str]:
    """What a scanned code looks for: its parts, or the whole code when another issuer made it."""
    read = read_udi(text)
    if read.has("other_issuer"):
        return {"code": text}
    if read.problems or read.device_identifier is None:
        raise MalformedOptionError(f"--udi {text!r} cannot be used. {_why(read)}")
    parts = {"identifier": read.device_identifier, "lot": read.lot, "serial": read.serial}
    return {name: value for name, value in parts.items() if value is not None}


def _why(read: Udi) -> str:
    reasons = " ".join(one.words for one in read.problems)
    return (
        f"{reasons} Give the code as scanned, or as printed under it with its brackets, for example "
        "(01)51022222233336(10)A213B1(21)1234; or look for what can be read of it with --lot and --serial."
    )
