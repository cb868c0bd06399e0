"""The append-only, chained change history."""

import sqlalchemy as sa
from alembic import op

revision = "0009_change_history"
down_revision = "0008_office"
branch_labels = None
depends_on = None

TEXT = sa.Text()
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
MOMENT = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")

# The database itself refuses to change or remove an entry of the history.
TRIGGERS = {
    "sqlite": [
        "CREATE TRIGGER change_history_no_update BEFORE UPDATE ON change_history "
        "BEGIN SELECT RAISE(ABORT, 'the change history is only ever added to'); END",
        "CREATE TRIGGER change_history_no_delete BEFORE DELETE ON change_history "
        "BEGIN SELECT RAISE(ABORT, 'the change history is only ever added to'); END",
        # INSERT OR REPLACE would remove the old entry without waking the trigger above.
        "CREATE TRIGGER change_history_no_replace BEFORE INSERT ON change_history "
        "WHEN EXISTS (SELECT 1 FROM change_history WHERE id = NEW.id) "
        "BEGIN SELECT RAISE(ABORT, 'the change history is only ever added to'); END",
    ],
    "postgresql": [
        "CREATE FUNCTION change_history_refuse() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'the change history is only ever added to'; END $$",
        "CREATE TRIGGER change_history_no_update BEFORE UPDATE ON change_history "
        "FOR EACH ROW EXECUTE FUNCTION change_history_refuse()",
        "CREATE TRIGGER change_history_no_delete BEFORE DELETE ON change_history "
        "FOR EACH ROW EXECUTE FUNCTION change_history_refuse()",
        "CREATE TRIGGER change_history_no_truncate BEFORE TRUNCATE ON change_history "
        "FOR EACH STATEMENT EXECUTE FUNCTION change_history_refuse()",
    ],
}
TRIGGERS_OFF = {
    "sqlite": [
        "DROP TRIGGER change_history_no_update",
        "DROP TRIGGER change_history_no_delete",
        "DROP TRIGGER change_history_no_replace",
    ],
    "postgresql": [
        "DROP TRIGGER change_history_no_update ON change_history",
        "DROP TRIGGER change_history_no_delete ON change_history",
        "DROP TRIGGER change_history_no_truncate ON change_history",
        "DROP FUNCTION change_history_refuse()",
    ],
}


def upgrade() -> None:
    op.create_table(
        "change_history",
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("by", TEXT, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("about_table", TEXT),
        sa.Column("about_row", WHOLE),
        sa.Column("before", TEXT),
        sa.Column("after", TEXT),
        sa.Column("reason", TEXT),
        sa.Column("row_count", WHOLE),
        sa.Column("content_before", TEXT),
        sa.Column("content_after", TEXT),
        sa.Column("fingerprints", TEXT),
        sa.Column("previous_hash", TEXT, nullable=False),
        sa.Column("entry_hash", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_change_history")),
        sa.CheckConstraint(
            "at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_change_history_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(by) BETWEEN 1 AND 80", name=op.f("ck_change_history_by_length")),
        sa.CheckConstraint(
            "kind IN ('insert', 'update', 'withdraw', 'batch', 'migration', 'erasure')",
            name=op.f("ck_change_history_kind_listed"),
        ),
        sa.CheckConstraint("length(about_table) BETWEEN 1 AND 60", name=op.f("ck_change_history_about_table_length")),
        sqlite_strict=True,
    )
    op.bring_back_parked("change_history")
    for statement in TRIGGERS[op.get_bind().dialect.name]:
        op.execute(statement)


def downgrade() -> None:
    for statement in TRIGGERS_OFF[op.get_bind().dialect.name]:
        op.execute(statement)
    op.park_table("change_history")
