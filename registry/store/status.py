"""What a registry holds, in short: its shape, its history, its rows."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import asdict, dataclass


@dataclass(frozen=True)
class Status:
    """A registry in short. ``rows`` counts the rows of each table that holds any."""

    place: str
    revision: str
    history_length: int
    history_head: str
    last_change: str
    last_change_by: str
    files_loaded: int
    questions_open: int
    rows: dict[str, int]


def status_of(location: str) -> Status:
    """Ask a registry what it holds.

    Raises:
        GravelbookError: there is none, or its shape is not this program's.
    """
    from sqlalchemy import func, select

    from registry.schema.lists_outcome import BatchState, QuestionState
    from registry.schema.tables import metadata, ordered_tables
    from registry.store.history import head
    from registry.store.registry import open_registry
    from registry.store.revisions import revision_of

    history, batch, question = (metadata.tables[name] for name in ("change_history", "batch", "question"))
    with open_registry(location) as registry, registry.reading() as connection:

        def count(query: object) -> int:
            return int(connection.execute(query).scalar_one())  # type: ignore[call-overload]

        counts = {t.name: count(select(func.count()).select_from(t)) for t in ordered_tables()}
        length, sealed = head(connection)
        last = connection.execute(select(history.c.at, history.c.by).order_by(history.c.id.desc()).limit(1)).one()
        return Status(
            place=registry.location.shown,
            revision=str(revision_of(connection)),
            history_length=length,
            history_head=sealed,
            last_change=last.at.isoformat(timespec="seconds"),
            last_change_by=last.by,
            files_loaded=count(select(func.count()).select_from(batch).where(batch.c.state == BatchState.LOADED)),
            questions_open=count(
                select(func.count()).select_from(question).where(question.c.state == QuestionState.ASKED)
            ),
            rows={name: rows for name, rows in counts.items() if rows and name != "change_history"},
        )


def as_text(status: Status) -> str:
    """The status for a person."""
    lines = [
        f"Registry       {status.place}",
        f"Tables         at {status.revision}, up to date",
        f"History        {status.history_length:,} entries, head {status.history_head[:16]}...",
        f"Last change    {status.last_change} by {status.last_change_by}",
        f"Files loaded   {status.files_loaded:,}",
        f"Open questions {status.questions_open:,}",
        "",
    ]
    if not status.rows:
        return "\n".join([*lines, "No rows yet. Begin with: gravelbook intake template unit.xlsx"])
    width = max(map(len, status.rows))
    return "\n".join([*lines, *(f"  {name:<{width}} {rows:>9,}" for name, rows in status.rows.items())])


def as_csv(status: Status) -> str:
    """The rows of each table as CSV."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["table", "rows"])
    writer.writerows(status.rows.items())
    return text.getvalue().rstrip("\n")


def as_json(status: Status) -> str:
    """The status as JSON."""
    return json.dumps(asdict(status), indent=1)
