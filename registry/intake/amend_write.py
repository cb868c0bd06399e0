"""Turns amendments into what the store writes: one change for each row, with its reasons and wordings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from registry.intake.amend import Amendment
from registry.intake.existing_rows import info_has_precision, pairs_of, reasons_in
from registry.intake.links import target_of
from registry.schema.tables import links_of, metadata
from registry.store.amending import RowChange

if TYPE_CHECKING:
    from registry.store.door import Door


def row_changes(door: Door, amendments: Sequence[Amendment], first: Mapping[str, int]) -> list[RowChange]:
    """The changes of rows that are there.

    Args:
        door: the open writing transaction.
        amendments: the cells that change something.
        first: by table, the first id that was set aside for the new rows, for links that lead to them.
    """
    by_row: dict[tuple[str, int], list[Amendment]] = {}
    changes: list[RowChange] = []
    for amendment in amendments:
        if amendment.codes is None:
            by_row.setdefault((amendment.table, amendment.row), []).append(amendment)
        else:
            changes += [RowChange(amendment.codes, row, None) for row in amendment.removed]
    for (table, row), cells in by_row.items():
        before = door.read(metadata.tables[table], row)
        changes.append(RowChange(table, row, _values(table, before, cells, first)))
    return changes


def added_codes(amendments: Sequence[Amendment]) -> dict[str, list[dict[str, Any]]]:
    """The new rows that lists of codes bring, by table."""
    rows: dict[str, list[dict[str, Any]]] = {}
    for amendment in amendments:
        for code in amendment.added:
            assert amendment.codes is not None
            rows.setdefault(amendment.codes, []).append({f"{amendment.table}_id": amendment.row, amendment.field: code})
    return rows


def _values(
    table: str, before: Mapping[str, Any], cells: Sequence[Amendment], first: Mapping[str, int]
) -> dict[str, Any]:
    reasons, typed = reasons_in(before["missing_reasons"]), reasons_in(before["as_typed"])
    values: dict[str, Any] = {}
    for cell in cells:
        value = cell.value
        if cell.field in links_of(table) and value is not None and value < 0:
            value = first[target_of(table, cell.field)] - value - 1
        values[cell.field] = value
        if info_has_precision(table, cell.field):
            values[f"{cell.field}_precision"] = cell.precision
        for pairs, wording in ((reasons, cell.reason), (typed, cell.typed)):
            pairs.pop(cell.field, None)
            if wording:
                pairs[cell.field] = wording
    return {**values, "missing_reasons": pairs_of(reasons), "as_typed": pairs_of(typed)}
