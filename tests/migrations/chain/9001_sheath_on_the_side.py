"""A form that knows one sheath a side: its inner diameter and length stand on the treated side itself."""

import sqlalchemy as sa
from alembic import op

revision = "9001_sheath_on_the_side"
down_revision = "0010_sources_and_quality_runs"
branch_labels = None
depends_on = None

WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    with op.batch_alter_table("treated_side", table_kwargs={"sqlite_strict": True}) as batch:
        batch.add_column(sa.Column("sheath_inner_tenths_fr", WHOLE))
        batch.add_column(sa.Column("sheath_note", sa.Text()))
        batch.create_check_constraint(
            op.f("ck_treated_side_sheath_inner_tenths_fr_within"), "sheath_inner_tenths_fr BETWEEN 80 AND 160"
        )
    op.bring_back_column("treated_side", "sheath_inner_tenths_fr")
    op.bring_back_column("treated_side", "sheath_note")
    # As an old form would have left it: a size for two sides in three.
    op.execute(
        "UPDATE treated_side SET sheath_inner_tenths_fr = 100 + 10 * (id % 3) "
        "WHERE id % 3 > 0 AND sheath_inner_tenths_fr IS NULL"
    )


def downgrade() -> None:
    op.park_column("treated_side", "sheath_inner_tenths_fr")
    op.park_column("treated_side", "sheath_note")
    with op.batch_alter_table("treated_side", table_kwargs={"sqlite_strict": True}) as batch:
        batch.drop_constraint(op.f("ck_treated_side_sheath_inner_tenths_fr_within"), type_="check")
        batch.drop_column("sheath_note")
        batch.drop_column("sheath_inner_tenths_fr")
