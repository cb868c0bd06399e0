"""What a person says of a line that nothing here matches."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import select

from registry.schema.errors import GravelbookError
from registry.schema.lists_outcome import ListLineState
from registry.schema.tables import metadata

if TYPE_CHECKING:
    from registry.store.registry import Registry


def settle(registry: Registry, line: int, state: ListLineState, *, by: str) -> None:
    """Say that a line was cancelled or is not a stone case, or (open) take that back.

    Args:
        registry: the open registry.
        line: the line's number, as the list of what is left shows it.
        state: cancelled, not_stone or open.
        by: who says so; kept with the line.

    Raises:
        GravelbookError: there is no such line, an operation here matches it, or the name is too long to be kept.
    """
    if state is ListLineState.MATCHED:
        raise ValueError("a line is matched by an operation, not by a word")
    table = metadata.tables["theatre_list_line"]
    with registry.writing(by=by, reason=f"theatre list line: {state.label.lower()}") as door:
        held = door.connection.execute(select(table).where(table.c.id == line)).mappings().one_or_none()
        if held is None:
            raise GravelbookError(
                f"There is no theatre list line {line}. See what is left with: gravelbook quality theatre-list"
            )
        if held["state"] == ListLineState.MATCHED:
            raise GravelbookError(
                f"Theatre list line {line} is matched by an operation that is held here, so it was not cancelled, and "
                "is a case. If that operation is wrong, mend or withdraw it, then settle the line."
            )
        said_by = None if state is ListLineState.OPEN else by
        door.update("theatre_list_line", line, {"state": state, "said_by": said_by}, revision=held["revision"])
