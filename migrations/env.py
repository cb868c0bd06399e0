"""How Alembic runs the revisions: on a connection that the store hands over, in one transaction.

The store's ``upgrade`` opens an engine for migrations alone, with foreign keys off (a rebuilt table would take its
children along) and a transaction that also covers table changes, and hands its connection over. Run by Alembic's own
command line, the registry named by GRAVELBOOK_REGISTRY is opened in the same way.
"""

from __future__ import annotations

import os
from typing import Any

from alembic import context
from alembic.runtime.migration import MigrationContext
from sqlalchemy import Connection

import migrations.parking  # noqa: F401  (registers its operations)
from registry.schema.tables import metadata
from registry.store import sealing
from registry.store.location import parse_location
from registry.store.proof import prove_connection
from registry.store.upgrade import migrating


def _is_ours(name: str | None, kind: str, *_: Any) -> bool:
    return not (kind == "table" and (name == "parked_rows" or str(name).startswith("parked_")))


def run(connection: Connection) -> None:
    """Run the revisions that were asked for on an open connection, sealing each one that moves data."""
    seal = sealing.of(connection)

    def after_step(ctx: MigrationContext, step: Any, **_: Any) -> None:
        seal.after_step(ctx.connection, revision=str(step.up_revision_id), upward=step.is_upgrade)

    context.configure(
        connection=connection,
        target_metadata=metadata,
        include_name=lambda name, kind, parents: _is_ours(name, kind),
        compare_type=False,  # the text of every column is compared by a test of our own, on both engines
        transactional_ddl=True,
        transaction_per_migration=False,
        render_as_batch=True,
        on_version_apply=after_step,
    )
    with context.begin_transaction():
        context.run_migrations()


handed_over: Connection | None = context.config.attributes.get("connection")
if context.is_offline_mode():
    raise SystemExit("Revisions move data and count rows; they are not written out as a script.")
if handed_over is not None:
    run(handed_over)
else:
    place = parse_location(None)
    with migrating(place.shown if place.file else str(os.environ["GRAVELBOOK_REGISTRY"])) as opened:
        # What somebody changed around the program must not be sealed as if a revision had moved it.
        if prove_connection(opened, place):
            raise SystemExit("The registry does not verify; nothing was migrated. Run 'gravelbook store verify'.")
        run(opened)
