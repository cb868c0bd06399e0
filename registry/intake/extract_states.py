"""Values that stand only until the next is known, so that a report may take their place."""

from __future__ import annotations

from typing import Any

from registry.schema.lists_stone import AnalysisState

_FOR_NOW = {("stone_analysis", "state"): AnalysisState.SENT}


def moves_on(table: str, name: str, held: Any) -> bool:
    """A held value gives way to what follows it: a stone that was sent has its result later.

    Args:
        table: the table.
        name: the column.
        held: what stands there.
    """
    return held is not None and _FOR_NOW.get((table, name)) == held
