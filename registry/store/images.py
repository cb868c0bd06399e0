"""What a row looked like before and after a change, as the history keeps it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from functools import cache
from typing import Any

from sqlalchemy import Table

from registry.schema.fields import Keeping, Secret, info_of


def image(table: Table, row: Mapping[str, Any]) -> str:
    """A row's stored values as canonical JSON; missing values are left out and ciphertext stays ciphertext.

    A wrapped key is replaced by its digest, so that erasing the key erases it here too; keyed indexes are left out
    for the same reason.
    """
    hidden = search_indexes(table)
    values = {name: plain(name, value) for name, value in row.items() if value is not None and name not in hidden}
    return json.dumps(values, sort_keys=True, separators=(",", ":"))


@cache
def search_indexes(table: Table) -> dict[str, str]:
    """The keyed indexes of a table: index column to the column of the number it stands for."""
    found: dict[str, str] = {}
    for column in table.columns:
        kind = info_of(column).kind
        if isinstance(kind, Secret) and kind.searched:
            index = f"{column.name}_index"
            if not isinstance(info_of(table.columns[index]).kind, Keeping):
                raise LookupError(f"{table.name}.{index} should be book-keeping")
            found[index] = column.name
    return found


def plain(name: str, value: Any) -> Any:
    """A stored value as an image holds it."""
    if name == "wrapped_key":
        return "blake2b:" + hashlib.blake2b(str(value).encode(), digest_size=16).hexdigest()
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    if isinstance(value, date):
        return value.isoformat()
    return str(value) if isinstance(value, str) else value
