"""A unit's own fields: a row of ``local_field`` read as a declaration like any other, so that its values obey it.

The value of a local field is stored as text in one plain form (``1.5``, ``2024-05-03``, a code), so that equal values
are equal texts.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache
from typing import Any, cast

from registry.schema.base import model_of
from registry.schema.codes import CodeList
from registry.schema.fields import Code, Day, FieldInfo, Kind, Number, Reference, Stage, Whole, info_of
from registry.schema.lists_outcome import LocalKind
from registry.schema.sheets import as_typed
from registry.schema.tables import metadata

LINK, VALUE = "local_field_id", "value"
CHOICE_MARK = ";"


@cache
def subject_of(table_name: str) -> str | None:
    """The table that a table of local values speaks about: ``patient`` for ``local_patient_value``; None for others."""
    table = metadata.tables[table_name]
    if LINK not in table.columns:
        return None
    keys = (info_of(table.columns[name]).kind for name in model_of(table).key_fields if name != LINK)
    return next(kind.table for kind in keys if isinstance(kind, Reference))


def choices_of(wording: str | None) -> list[str]:
    """The codes of a local field, from the text that lists them."""
    return [choice.strip() for choice in (wording or "").split(CHOICE_MARK) if choice.strip()]


def local_info(row: Mapping[str, Any], table_name: str) -> FieldInfo:
    """The declaration that the values of one local field obey.

    Args:
        row: the row of ``local_field``, by column name.
        table_name: the table of values that the declaration is for.
    """
    field_info = info_of(metadata.tables[table_name].columns[VALUE])
    return FieldInfo(
        label=str(row["field_label"]),
        kind=_kind(row),
        needed=Stage.ENTRY,
        source="the unit's own",
        local=True,
        table=field_info.table,
        name=field_info.name,
    )


def _kind(row: Mapping[str, Any]) -> Kind:
    unit, low, high = row.get("field_unit") or "", row.get("low"), row.get("high")
    match LocalKind(row["kind"]):
        case LocalKind.WHOLE:
            return Whole(unit, None if low is None else math.ceil(low), None if high is None else math.floor(high))
        case LocalKind.NUMBER:
            return Number(unit, _plain(low), _plain(high))
        case LocalKind.CODE:
            return Code(_choice_list(tuple(choices_of(row.get("choices")))))
        case LocalKind.DAY:
            # A unit may well keep planned days of its own.
            return Day(ahead=True)
        case LocalKind.TEXT:
            return info_of(metadata.tables["local_patient_value"].columns[VALUE]).kind


def _plain(limit: float | None) -> float | None:
    """A limit that is a whole number, as one: it was declared as 10 and is kept as 10.0."""
    return int(limit) if limit is not None and float(limit).is_integer() else limit


@cache
def _choice_list(choices: tuple[str, ...]) -> type[CodeList]:
    members: Any = {f"CHOICE_{number}": choice for number, choice in enumerate(choices, start=1)}
    made: Any = CodeList("LocalChoices", members)
    return cast("type[CodeList]", made)


def local_text(info: FieldInfo, value: Any) -> str:
    """A value of a local field in the form in which it is stored."""
    return str(as_typed(info, value))


def local_value(info: FieldInfo, text: str) -> Any:
    """A stored or typed text as a value of the local field's kind, not yet held against its limits.

    Raises:
        ValueError: the text is none of that kind.
    """
    match info.kind:
        case Whole():
            return int(text)
        case Number():
            return float(text)
        case _:
            return text
