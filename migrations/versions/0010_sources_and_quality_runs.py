"""Which log a batch is a version of, and what each rule found on the days the checks were run."""

import sqlalchemy as sa
from alembic import op

revision = "0010_sources_and_quality_runs"
down_revision = "0009_change_history"
branch_labels = None
depends_on = None

TEXT = sa.Text()
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
MOMENT = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")


def upgrade() -> None:
    with op.batch_alter_table("batch", table_kwargs={"sqlite_strict": True}) as batch:
        batch.add_column(sa.Column("source", TEXT))
        batch.create_check_constraint(op.f("ck_batch_source_length"), "length(source) BETWEEN 1 AND 80")
    op.bring_back_column("batch", "source")
    op.create_table(
        "quality_run",
        sa.Column("rule", TEXT, nullable=False),
        sa.Column("run_on", DAY, nullable=False),
        sa.Column("checked", WHOLE, nullable=False),
        sa.Column("broken", WHOLE, nullable=False),
        sa.Column("not_computable", WHOLE, nullable=False),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quality_run")),
        sa.UniqueConstraint("rule", "run_on", name=op.f("uq_quality_run_natural_key")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_quality_run_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint("length(rule) BETWEEN 1 AND 80", name=op.f("ck_quality_run_rule_length")),
        sa.CheckConstraint("run_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_quality_run_run_on_within")),
        sa.CheckConstraint(
            "run_on IS NULL OR coalesce(date(run_on) = run_on, 0)", name=op.f("ck_quality_run_run_on_is_date")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("checked BETWEEN 0 AND 100000000", name=op.f("ck_quality_run_checked_within")),
        sa.CheckConstraint("broken BETWEEN 0 AND 100000000", name=op.f("ck_quality_run_broken_within")),
        sa.CheckConstraint("not_computable BETWEEN 0 AND 100000000", name=op.f("ck_quality_run_not_computable_within")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_quality_run_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_quality_run_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_quality_run_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_quality_run_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_quality_run_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_quality_run_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("quality_run")


def downgrade() -> None:
    op.park_table("quality_run")
    op.park_column("batch", "source")
    with op.batch_alter_table("batch", table_kwargs={"sqlite_strict": True}) as batch:
        batch.drop_constraint(op.f("ck_batch_source_length"), type_="check")
        batch.drop_column("source")
