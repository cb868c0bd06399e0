"""What is said when a theatre list was loaded."""

from __future__ import annotations

import json
from dataclasses import asdict

from registry.intake.refusal import refusal
from registry.intake.theatre_list_file import LoadedList
from registry.schema.lists_outcome import ListLineState
from registry.schema.plurals import counted


def said(name: str, loaded: LoadedList) -> str:
    """What became of the lines of a list, in a sentence or two.

    Args:
        name: what the file is called.
        loaded: what became of it.
    """
    if loaded.errors:
        return refusal(name, loaded.errors)
    if loaded.seen_before:
        return f"Nothing was changed: this very file was loaded before ({name})."
    same = loaded.lines - loaded.new - loaded.updated
    states = loaded.states
    parts = [
        f"Loaded the theatre list {name} as batch {loaded.batch_id}: {counted(loaded.lines, 'line')}, of which "
        f"{loaded.new} new, {loaded.updated} changed and {same} as before.",
        f"Of all lines of these days {states[ListLineState.MATCHED]} are matched to an operation, "
        f"{states[ListLineState.CANCELLED]} cancelled, {states[ListLineState.NOT_STONE]} not a stone case and "
        f"{states[ListLineState.OPEN]} left.",
    ]
    if loaded.gone:
        parts.append(f"{loaded.gone} lines of these days are not on the list any more; they stay until settled.")
    if loaded.contradicted:
        parts.append(f"{loaded.contradicted} lines are cancelled on the list although their operation is here: look.")
    if states[ListLineState.OPEN]:
        parts.append("See what is left: gravelbook quality theatre-list")
    return " ".join(parts)


def as_json(loaded: LoadedList) -> str:
    """All of it as JSON."""
    return json.dumps(asdict(loaded), ensure_ascii=False, indent=1)
