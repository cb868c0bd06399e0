"""Turns a value handed to the door into the value that is stored, or says what its field allows."""

from __future__ import annotations

import math
import operator
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import Table

from registry.schema.base import KEEPING_FIELDS
from registry.schema.errors import GravelbookError
from registry.schema.fields import (
    Code,
    Day,
    FieldInfo,
    Keeping,
    Moment,
    Note,
    Number,
    Reference,
    RowKey,
    Secret,
    Text,
    Whole,
    info_of,
)
from registry.schema.lists_common import DatePrecision
from registry.store.refusals import refused

WRITTEN_WITH_ROW = frozenset({"missing_reasons", "as_typed"})
"""Book-keeping that the caller writes; all other book-keeping is the door's own."""


def writable(table: Table) -> dict[str, FieldInfo]:
    """The columns of a table that a caller may write."""
    infos = {column.name: info_of(column) for column in table.columns}
    return {
        name: info
        for name, info in infos.items()
        if name in WRITTEN_WITH_ROW or (name not in KEEPING_FIELDS and not is_search_index(info))
    }


def is_search_index(info: FieldInfo) -> bool:
    """The column is a keyed index, which the door works out."""
    return isinstance(info.kind, Keeping) and info.name.endswith("_index")


def check_names(table: Table, names: Mapping[str, Any] | set[str]) -> None:
    """Refuse columns that the table has not, or that the door writes itself.

    Raises:
        GravelbookError: names them.
    """
    strange = sorted(set(names) - writable(table).keys())
    if strange:
        known = [name for name in strange if name in table.columns]
        why = "the store itself writes" if known == strange else "the table has no"
        raise GravelbookError(f"{table.name}: {why} {', '.join(strange)}. Leave it out.")


def stored_value(info: FieldInfo, value: Any) -> Any:
    """A value as its column's type takes it; clear text still, where the column is encrypted.

    Raises:
        GravelbookError: the value is not what the field allows.
    """
    if value is None:
        if info.required and not isinstance(info.kind, RowKey):
            raise refused(info)
        return None
    try:
        converted = _CONVERTERS[type(info.kind)](info, value)
    except (TypeError, ValueError, OverflowError) as fault:
        raise refused(info, value) from fault
    low, high = info.limits
    if (low is not None and converted < low) or (high is not None and converted > high):
        raise refused(info, value)
    return converted


def _whole(info: FieldInfo, value: Any) -> int:
    if isinstance(value, bool):
        raise TypeError
    if isinstance(value, float) and value.is_integer():
        return int(value)
    whole = operator.index(value)
    if not -(2**63) <= whole < 2**63:
        raise OverflowError
    return whole


def _number(info: FieldInfo, value: Any) -> float:
    if isinstance(value, bool | str):
        raise TypeError
    number = float(value)
    if not math.isfinite(number):
        raise ValueError
    return number


def kept_code(info: FieldInfo, code: str) -> str | None:
    """A code as it is kept: a date known to the day says so by itself, so that its precision stays blank."""
    return None if info.companion_of is not None and code == DatePrecision.DAY else code


def _code(info: FieldInfo, value: Any) -> str | None:
    assert isinstance(info.kind, Code)
    return kept_code(info, info.kind.list(value).value)


def _day(info: FieldInfo, value: Any) -> date:
    if isinstance(value, str):
        return date.fromisoformat(value)
    if isinstance(value, datetime) or not isinstance(value, date):
        raise TypeError
    return value


def _moment(info: FieldInfo, value: Any) -> datetime:
    moment = datetime.fromisoformat(value) if isinstance(value, str) else value
    if not isinstance(moment, datetime) or moment.tzinfo is None:
        raise TypeError
    return moment.astimezone(UTC)


def _text(info: FieldInfo, value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError
    # Control characters would break the one line that a short text is, and the separators of fingerprints.
    if not 1 <= len(value) <= info.kind.longest or not _one_line(value):  # type: ignore[union-attr]
        raise ValueError
    return str(value)


def _wording(info: FieldInfo, value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError
    if len(value) > info.kind.longest or "\x00" in value:  # type: ignore[union-attr]
        raise ValueError
    return str(value)


def _keeping(info: FieldInfo, value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError
    if not _one_line(value):
        raise ValueError
    return str(value)


def _one_line(value: str) -> bool:
    return not any(ord(c) < 32 or ord(c) == 127 for c in value)


_CONVERTERS: dict[type[Any], Callable[[FieldInfo, Any], Any]] = {
    Whole: _whole,
    Reference: _whole,
    RowKey: _whole,
    Number: _number,
    Code: _code,
    Day: _day,
    Moment: _moment,
    Text: _text,
    Note: _wording,
    Secret: _wording,
    Keeping: _keeping,
}
