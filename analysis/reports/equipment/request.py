"""What is asked of the equipment: the options as typed, read or refused in a sentence."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from analysis.estimators.proportions import ProportionMethod
from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.own_defaults import SMALL_NUMBER, Family, OwnDefault
from analysis.reports.request.splits import Split, parse_splits
from analysis.reports.request.values import confidence_level, day, interval_method, one_of, whole_number
from registry.schema.lists_equipment import EquipmentKind

EQUIPMENT = Family("equipment", "figures of equipment", ("kind", "interval", "level"))
DEFAULTS = {"kind": "scope", "interval": "wilson", "level": "0.95", SMALL_NUMBER: "5"}


@dataclass(frozen=True, kw_only=True)
class Request:
    """Failures and lives of one kind of equipment.

    kind: a code of the list. since, until: days of operations that count, both included. by: columns to split by.
    """

    kind: str
    since: dt.date | None
    until: dt.date | None
    by: tuple[Split, ...]
    interval: ProportionMethod
    level: float
    small_number: int
    own_defaults: tuple[OwnDefault, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """All that was decided, ready for JSON."""
        return {
            "kind": self.kind,
            "since": self.since and self.since.isoformat(),
            "until": self.until and self.until.isoformat(),
            "by": [one.as_dict() for one in self.by],
            "interval": self.interval,
            "level": self.level,
        }


def read_request(typed: Mapping[str, str | None], own: Sequence[OwnDefault] = ()) -> Request:
    """Read the options kind, since, until, by, interval and level; the unit's own defaults stand in where blank.

    Raises MalformedOptionError for one that cannot be read.
    """
    given = {name: value for name, value in typed.items() if value is not None}
    used = tuple(one for one in own if one.option not in given)
    said = {**DEFAULTS, **{one.option: one.value for one in used}, **given}
    since, until = read_days(typed)
    return Request(
        kind=one_of(said["kind"], "kind", tuple(EquipmentKind.codes())),
        since=since,
        until=until,
        by=parse_splits(said["by"], option="--by", at_most=2) if "by" in said else (),
        interval=interval_method(said["interval"]),
        level=confidence_level(said["level"]),
        small_number=whole_number(said[SMALL_NUMBER], SMALL_NUMBER, 1, 1000),
        own_defaults=used,
    )


def read_days(typed: Mapping[str, str | None]) -> tuple[dt.date | None, dt.date | None]:
    """The first and the last day of operations that count. Raises MalformedOptionError when they are none."""
    made = {name: day(text, name) for name in ("since", "until") if (text := typed.get(name)) is not None}
    since, until = made.get("since"), made.get("until")
    if since and until and until < since:
        raise MalformedOptionError(
            f"--until {until} lies before --since {since}, so no operation could count; give the earlier day first."
        )
    return since, until
