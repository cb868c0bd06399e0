"""The layout of the intake workbook, read off the declarations: which sheets, which columns, how a value is typed.

One sheet holds one table. A child table that is no more than a list of codes is folded into its parent's sheet as
one column whose cells hold several codes ("flexible; semirigid"). A date known to the month or year is typed
``2024-05`` or ``2024``. A value missing for a stated reason is typed as the reason ("not_done").
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any

from sqlalchemy import Table

from registry.schema.base import model_of
from registry.schema.fields import Code, Day, FieldInfo, Keeping, Number, Reference, Whole, info_of
from registry.schema.tables import clinical_tables, heading, links_of, metadata, ordered_tables, own_columns

SEPARATOR = "; "


@dataclass(frozen=True)
class SheetColumn:
    """One column of a sheet.

    ``info`` is the field that the cell's value belongs to; ``path`` leads to it from the sheet's table (one step:
    the table's own field; more: through links); ``folded`` names the child table whose codes the cell lists;
    ``links`` are the links of the table that this column helps to name.
    """

    heading: str
    info: FieldInfo
    path: tuple[str, ...]
    in_key: bool = False
    folded: str | None = None
    links: tuple[str, ...] = ()

    @property
    def optional_site(self) -> bool:
        """The site may be left blank where the registry or the workbook knows only one."""
        return self.heading == "site" and len(self.path) > 1


@dataclass(frozen=True)
class Sheet:
    """One sheet of the workbook."""

    table: str
    title: str
    about: str
    columns: tuple[SheetColumn, ...]

    @property
    def headings(self) -> list[str]:
        """The headings, in order."""
        return [c.heading for c in self.columns]

    def column(self, name: str) -> SheetColumn:
        """The column with a heading.

        Raises:
            KeyError: there is no such column.
        """
        for column in self.columns:
            if column.heading == name:
                return column
        raise KeyError(name)


def folded_into(table: Table) -> str | None:
    """The parent into whose sheet a table is folded: it holds nothing but a link and one code. None: it is not."""
    names = [c.name for c in own_columns(table)]
    kinds = {name: info_of(table.columns[name]).kind for name in names}
    links = [kind.table for kind in kinds.values() if isinstance(kind, Reference)]
    codes = [name for name, kind in kinds.items() if isinstance(kind, Code)]
    return links[0] if len(names) == 2 and len(links) == 1 and len(codes) == 1 else None


@cache
def sheets() -> tuple[Sheet, ...]:
    """The clinical sheets, parents before children."""
    return tuple(_sheet(t) for t in clinical_tables() if folded_into(t) is None)


@cache
def identity_sheets() -> tuple[Sheet, ...]:
    """The sheets that name people: hospital numbers, names, birth dates. Read on request, never written."""
    wanted = ("patient_identity", "hospital_number")
    return tuple(_sheet(t) for t in ordered_tables() if t.name in wanted)


def _sheet(table: Table) -> Sheet:
    model, links = model_of(table), links_of(table.name)
    columns: dict[str, SheetColumn] = {}
    for name in [*model.key_fields, *(c.name for c in own_columns(table) if c.name not in model.key_fields)]:
        in_key = name in model.key_fields
        for part in links.get(name, ()):
            known = columns.get(part.heading)
            columns[part.heading] = SheetColumn(
                part.heading,
                part.info,
                known.path if known else part.path,
                in_key=in_key or bool(known and known.in_key),
                links=(*(known.links if known else ()), name),
            )
        info = info_of(table.columns[name])
        if name not in links and info.companion_of is None and not isinstance(info.kind, Keeping):
            columns[heading(table.name, name)] = SheetColumn(heading(table.name, name), info, (name,), in_key)
    for child in clinical_tables():
        if folded_into(child) == table.name:
            code = next(c for c in own_columns(child) if isinstance(info_of(c).kind, Code))
            columns[code.name] = SheetColumn(code.name, info_of(code), (code.name,), folded=child.name)
    return Sheet(table.name, model.label, model.about, tuple(columns.values()))


def as_typed(info: FieldInfo, stored: Any, precision: str | None = None) -> Any:
    """A stored value as a person would type it: 95 tenths as 9.5, a date known to the month as ``2024-05``.

    Args:
        info: the field's declaration.
        stored: the stored value, or None.
        precision: of a date, where it is not the day.
    """
    if stored is None:
        return None
    match info.kind:
        case Whole(scale=scale) if scale != 1:
            typed = stored / scale
            return int(typed) if typed == int(typed) else typed
        case Number():
            return int(stored) if float(stored).is_integer() and abs(stored) < 1e15 else float(stored)
        case Day():
            text = stored.isoformat() if isinstance(stored, date) else str(stored)
            shown = {"month": text[:7], "year": text[:4]}
            return shown.get(str(precision), text)
        case Code():
            return str(stored)
        case _:
            return stored.isoformat() if isinstance(stored, datetime) else stored


def column_of(info: FieldInfo) -> Any:
    """The column that a declaration belongs to."""
    return metadata.tables[info.table].columns[info.name]
