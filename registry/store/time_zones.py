"""Time zones by their names in the IANA database."""

from __future__ import annotations

import difflib
from functools import cache
from zoneinfo import available_timezones

from registry.schema.errors import GravelbookError


@cache
def known_zones() -> frozenset[str]:
    """The names of the time zones that this computer knows."""
    return frozenset(available_timezones())


def right_zone(name: str) -> str:
    """What would be right in place of a name that is no time zone's."""
    near = difflib.get_close_matches(name, sorted(known_zones()), n=1, cutoff=0.7)
    return f"perhaps {near[0]}" if near else "a region and a place, as Europe/Lisbon"


def check_zone(name: str) -> None:
    """Refuse a time zone that this computer does not know.

    Raises:
        GravelbookError: names it, and what may have been meant.
    """
    if name not in known_zones():
        raise GravelbookError(f"{name} is not the name of a time zone: {right_zone(name)}.")
