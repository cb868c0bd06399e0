"""The unit's own defaults, kept in the registry with the day since which they hold."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from registry.schema.errors import GravelbookError

SMALL_NUMBER = "small_number"


@dataclass(frozen=True)
class Family:
    """Options of one command whose default a unit may set, under a name that begins with the command's.

    about: what they are for, in a sentence about a name that stands for none of them.
    """

    name: str
    about: str
    options: tuple[str, ...]

    @property
    def prefix(self) -> str:
        """How the names of its settings begin."""
        return f"{self.name}_"


STONE_FREE = Family(
    "stone_free",
    "stone-free rates",
    (
        "threshold",
        "imaging",
        "pick",
        "adequacy",
        "assume_slice",
        "window",
        "target",
        "unit",
        "sessions",
        "unscanned",
        "stones",
        "retreated",
        "died",
        "denominator",
        "interval",
        "level",
        "replicates",
    ),
)


@dataclass(frozen=True)
class OwnDefault:
    """One setting in force: the option it stands for, its value, and since when which sites hold it."""

    option: str
    value: str
    since: dt.date
    sites: tuple[str, ...]
    family: str = STONE_FREE.name

    @property
    def name(self) -> str:
        return self.option if self.option == SMALL_NUMBER else f"{self.family}_{self.option}"

    def as_dict(self) -> dict[str, Any]:
        return {"name": self.name, "value": self.value, "since": self.since.isoformat(), "sites": list(self.sites)}

    def in_words(self) -> str:
        return f"{self.option.replace('_', ' ')} {self.value}: the unit's own default since {self.since.isoformat()}"


def own_defaults(
    rows: Iterable[Mapping[str, Any]],
    sites: Mapping[int, str],
    as_of: dt.date,
    family: Family = STONE_FREE,
    *,
    given: Iterable[str] = (),
) -> tuple[OwnDefault, ...]:
    """The settings that hold on the as-of date, of each site and name the newest.

    rows: site_id, setting_name, since, value. sites: code of each site. family: the options asked about. given:
    options that were typed, for which no setting is looked up.

    Raises GravelbookError when a name that begins like ours means nothing, or when sites set one option
    differently: figures of several units together need one definition.
    """
    newest: dict[tuple[str, int], tuple[dt.date, str]] = {}
    for row in sorted(rows, key=lambda row: row["since"]):
        name = str(row["setting_name"]).strip()
        if row["since"] <= as_of and (name == SMALL_NUMBER or name.startswith(family.prefix)):
            newest[name, row["site_id"]] = row["since"], str(row["value"]).strip()
    found = []
    for name in dict.fromkeys(name for name, _ in newest):
        option = name.removeprefix(family.prefix)
        if name != SMALL_NUMBER and option not in family.options:
            raise GravelbookError(
                f"The registry's setting {name!r} stands for no option. Settings for {family.about} are "
                f"{', '.join(family.prefix + each for each in family.options)} and {SMALL_NUMBER}; mend its name "
                "in the sheet Setting."
            )
        if option not in set(given):
            held = {sites.get(site, str(site)): told for (of, site), told in newest.items() if of == name}
            found.append(_agreed(option, held, family.name))
    return tuple(found)


def _agreed(option: str, held: Mapping[str, tuple[dt.date, str]], family: str) -> OwnDefault:
    values = {value for _, value in held.values()}
    since = max(day for day, _ in held.values())
    if len(values) == 1:
        return OwnDefault(option, values.pop(), since, tuple(sorted(held)), family)
    if option == SMALL_NUMBER and all(value.isdigit() for value in values):
        most_careful = max(values, key=int)
        return OwnDefault(option, most_careful, since, tuple(sorted(held)), family)
    told = ", ".join(f"{value} ({site})" for site, (_, value) in sorted(held.items()))
    raise GravelbookError(
        f"The sites of this registry set different defaults for {option.replace('_', ' ')}: {told}. One figure needs "
        f"one definition: say which with --{option.replace('_', '-')}."
    )
