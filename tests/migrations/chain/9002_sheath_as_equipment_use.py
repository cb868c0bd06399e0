"""The sheath of a side becomes a use of equipment, so that a side may have several.

Up: each side's sheath becomes a model of that size in its unit's catalogue and one use of it. Down: the side keeps
the size of the use that was made so; that use and what the older form cannot hold (further sheaths of that kind,
what is said of them, the models) is parked, and comes back on the way up.
"""

import sqlalchemy as sa
from alembic import op

revision = "9002_sheath_as_equipment_use"
down_revision = "9001_sheath_on_the_side"
branch_labels = None
depends_on = None

WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
SIZED = "SELECT id FROM equipment_model WHERE model_code LIKE 'SHEATH-OF-%'"
ROW = "created_at, created_by, changed_at, changed_by, revision"


def upgrade() -> None:
    # What came down comes back first; a side whose size was changed or entered since gets a use of its own.
    known = "SELECT CAST(NULL AS BIGINT) AS treated_side_id, CAST(NULL AS BIGINT) AS inner_tenths_fr WHERE 1 = 0"
    if op.has_parked("sheath_use_sizes"):
        known = "SELECT treated_side_id, inner_tenths_fr FROM parked_sheath_use_sizes"
    op.bring_back_parked("equipment_model", emptied=False)
    op.bring_back_parked("equipment_use", emptied=False)
    op.execute(
        f"INSERT INTO equipment_model (id, site_id, model_code, kind, inner_tenths_fr, {ROW}) "
        "SELECT (SELECT coalesce(max(id), 0) FROM equipment_model) + row_number() OVER (ORDER BY n.site_id, n.size), "
        "n.site_id, 'SHEATH-OF-' || n.size, 'access_sheath', n.size, n.created_at, 'migration', n.created_at, "
        "'migration', 1 FROM (SELECT p.site_id AS site_id, s.sheath_inner_tenths_fr AS size, "
        "min(s.created_at) AS created_at FROM treated_side s JOIN operation o ON o.id = s.operation_id "
        "JOIN patient p ON p.id = o.patient_id WHERE s.sheath_inner_tenths_fr IS NOT NULL "
        "GROUP BY p.site_id, s.sheath_inner_tenths_fr) n WHERE NOT EXISTS (SELECT 1 FROM equipment_model m "
        "WHERE m.site_id = n.site_id AND m.model_code = 'SHEATH-OF-' || n.size)"
    )
    op.execute(
        f"INSERT INTO equipment_use (id, treated_side_id, use_number, equipment_model_id, note, {ROW}) "
        "SELECT (SELECT coalesce(max(id), 0) FROM equipment_use) + row_number() OVER (ORDER BY s.id), s.id, "
        "coalesce((SELECT max(u.use_number) FROM equipment_use u WHERE u.treated_side_id = s.id), 0) + 1, m.id, "
        "s.sheath_note, s.created_at, 'migration', s.created_at, 'migration', 1 "
        "FROM treated_side s JOIN operation o ON o.id = s.operation_id JOIN patient p ON p.id = o.patient_id "
        "JOIN equipment_model m ON m.site_id = p.site_id AND m.model_code = 'SHEATH-OF-' || s.sheath_inner_tenths_fr "
        f"WHERE NOT EXISTS (SELECT 1 FROM ({known}) k WHERE k.treated_side_id = s.id "
        "AND k.inner_tenths_fr = s.sheath_inner_tenths_fr)"
    )
    if op.has_parked("sheath_use_sizes"):
        op.forget_parked("sheath_use_sizes")
    with op.batch_alter_table("treated_side", table_kwargs={"sqlite_strict": True}) as batch:
        batch.drop_constraint(op.f("ck_treated_side_sheath_inner_tenths_fr_within"), type_="check")
        batch.drop_column("sheath_note")
        batch.drop_column("sheath_inner_tenths_fr")


def downgrade() -> None:
    with op.batch_alter_table("treated_side", table_kwargs={"sqlite_strict": True}) as batch:
        batch.add_column(sa.Column("sheath_inner_tenths_fr", WHOLE))
        batch.add_column(sa.Column("sheath_note", sa.Text()))
        batch.create_check_constraint(
            op.f("ck_treated_side_sheath_inner_tenths_fr_within"), "sheath_inner_tenths_fr BETWEEN 80 AND 160"
        )
    # The older form holds one size a side: the last such sheath.
    last = (
        f"SELECT u.treated_side_id, m.inner_tenths_fr, u.note FROM equipment_use u JOIN equipment_model m "
        f"ON m.id = u.equipment_model_id WHERE u.equipment_model_id IN ({SIZED}) AND u.use_number = "
        f"(SELECT max(x.use_number) FROM equipment_use x WHERE x.treated_side_id = u.treated_side_id "
        f"AND x.equipment_model_id IN ({SIZED}))"
    )
    op.execute(
        f"UPDATE treated_side SET sheath_inner_tenths_fr = (SELECT l.inner_tenths_fr FROM ({last}) l "
        f"WHERE l.treated_side_id = treated_side.id), sheath_note = (SELECT l.note FROM ({last}) l "
        f"WHERE l.treated_side_id = treated_side.id) WHERE id IN (SELECT l.treated_side_id FROM ({last}) l)"
    )
    op.park_rows("sheath_use_sizes", f"SELECT l.treated_side_id, l.inner_tenths_fr FROM ({last}) l")
    op.park_rows("equipment_use", f"SELECT * FROM equipment_use WHERE equipment_model_id IN ({SIZED})")
    op.execute(f"DELETE FROM equipment_use WHERE equipment_model_id IN ({SIZED})")
    op.park_rows("equipment_model", f"SELECT * FROM equipment_model WHERE id IN ({SIZED})")
    op.execute(f"DELETE FROM equipment_model WHERE id IN ({SIZED})")
