"""The columns of the cohort frame: what each means, in which unit, and when in the story it arises."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from registry.schema.codes import CodeList
from registry.schema.errors import GravelbookError
from registry.schema.fields import Arises, Code, Day, FieldInfo, Number, Reference, RowKey, Whole, info_of
from registry.schema.tables import metadata

NOT_RECORDED = "not recorded"
SHARED = "shared"
FAIR = (Arises.BEFORE, Arises.CHOICE, Arises.ACCESS)


@dataclass(frozen=True, kw_only=True)
class CohortColumn:
    """One column of the cohort frame.

    holds: key (whole number that names a row), whole, number, date, code (a category) or text.
    levels: the codes of a code, in order; empty when they are found in the data (operator, site, model, year).
    joined: several codes of `levels` may stand in one value, joined by + in that order.
    source: the registry's table and field, or empty when it is worked out.
    """

    name: str
    label: str
    holds: str
    unit: str = ""
    arises: Arises | None = None
    levels: tuple[str, ...] = ()
    labels: tuple[str, ...] = ()
    joined: bool = False
    source: str = ""

    @property
    def may_adjust(self) -> bool:
        """Whether it may stand in a model as an adjuster: it is known to arise no later than access."""
        return self.arises in FAIR and self.holds in ("whole", "number", "code")

    @property
    def may_group(self) -> bool:
        """Whether sides can be grouped by it (a number with cuts)."""
        return self.holds in ("whole", "number", "code")


def of_field(table_name: str, field_name: str, name: str = "") -> CohortColumn:
    """The column that shows a field as it is recorded."""
    info = info_of(metadata.tables[table_name].columns[field_name])
    holds, codes = _holds(info)
    return CohortColumn(
        name=name or field_name,
        label=info.label,
        holds=holds,
        unit=info.unit,
        arises=info.arises,
        levels=tuple(code.value for code in codes),
        labels=tuple(code.label for code in codes),
        source=f"{table_name}.{field_name}",
    )


@cache
def cohort_columns() -> MappingProxyType[str, CohortColumn]:
    """Every column of the cohort frame by name, in the frame's order."""
    from analysis.cohort.declared import DECLARED

    return MappingProxyType({column.name: column for column in DECLARED})


def column_named(name: str, *, where: str = "") -> CohortColumn:
    """A column of the cohort frame, by name.

    Raises:
        GravelbookError: there is none; the nearest names are given.
    """
    known = cohort_columns()
    if name not in known:
        raise GravelbookError(f"{where}{name!r} is no column of the cohort. {nearest(name, known)}")
    return known[name]


def near(name: str, known: Iterable[str]) -> list[str]:
    """The known names nearest to one that is not known: none to three."""
    names = list(known)
    found = difflib.get_close_matches(name, names, n=3, cutoff=0.5)
    return found + [each for each in names if len(name) > 2 and name in each and each not in found][: 3 - len(found)]


def nearest(name: str, known: Iterable[str]) -> str:
    """A sentence with the known names nearest to one that is not known; with all of them when none is near."""
    names = list(known)
    found = near(name, names)
    if len(found) == 1:
        return f"The nearest is: {found[0]}."
    return f"The nearest are: {', '.join(found)}." if found else f"Known are: {', '.join(names)}."


def _holds(info: FieldInfo) -> tuple[str, list[CodeList]]:
    match info.kind:
        case Reference() | RowKey():
            return "key", []
        case Whole():
            return "whole", []
        case Number():
            return "number", []
        case Day():
            return "date", []
        case Code(list=codes):
            return "code", list(codes)
        case _:
            return "text", []
