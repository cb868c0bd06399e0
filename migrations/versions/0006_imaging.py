"""Examinations, readings and fragments."""

import sqlalchemy as sa
from alembic import op

revision = "0006_imaging"
down_revision = "0005_laboratory"
branch_labels = None
depends_on = None

TEXT = sa.Text()
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
REAL = sa.Double().with_variant(sa.REAL(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
MOMENT = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "examination",
        sa.Column("patient_id", WHOLE, nullable=False),
        sa.Column("examined_on", DAY, nullable=False),
        sa.Column("examined_on_precision", TEXT),
        sa.Column("modality", TEXT, nullable=False),
        sa.Column("examination_number", WHOLE, nullable=False),
        sa.Column("not_done", TEXT),
        sa.Column("slice_mm", REAL),
        sa.Column("low_dose", TEXT),
        sa.Column("purpose", TEXT),
        sa.Column("place", TEXT),
        sa.Column("after_operation", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_examination")),
        sa.UniqueConstraint(
            "patient_id", "examined_on", "modality", "examination_number", name=op.f("uq_examination_natural_key")
        ),
        sa.ForeignKeyConstraint(
            ["patient_id"], ["patient.id"], name=op.f("fk_examination_patient_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_examination_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint(
            "examined_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_examination_examined_on_within")
        ),
        sa.CheckConstraint(
            "examined_on IS NULL OR coalesce(date(examined_on) = examined_on, 0)",
            name=op.f("ck_examination_examined_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "examined_on_precision IS NULL OR examined_on_precision = 'day' OR (examined_on_precision = 'month' AND substr(CAST(examined_on AS TEXT), 9, 2) = '01') OR (examined_on_precision = 'year' AND substr(CAST(examined_on AS TEXT), 6, 5) = '01-01')",
            name=op.f("ck_examination_examined_on_precision_kept"),
        ),
        sa.CheckConstraint(
            "examined_on_precision IN ('day', 'month', 'year')",
            name=op.f("ck_examination_examined_on_precision_listed"),
        ),
        sa.CheckConstraint(
            "modality IN ('ct', 'ultrasound', 'kub', 'second_look', 'other')",
            name=op.f("ck_examination_modality_listed"),
        ),
        sa.CheckConstraint("examination_number BETWEEN 1 AND 9", name=op.f("ck_examination_examination_number_within")),
        sa.CheckConstraint(
            "not_done IN ('not_done', 'not_recorded', 'not_applicable', 'pending', 'refused')",
            name=op.f("ck_examination_not_done_listed"),
        ),
        sa.CheckConstraint("slice_mm BETWEEN 0.1 AND 20", name=op.f("ck_examination_slice_mm_within")),
        sa.CheckConstraint("low_dose IN ('yes', 'no')", name=op.f("ck_examination_low_dose_listed")),
        sa.CheckConstraint(
            "purpose IN ('diagnosis', 'follow_up', 'unplanned')", name=op.f("ck_examination_purpose_listed")
        ),
        sa.CheckConstraint("place IN ('here', 'elsewhere')", name=op.f("ck_examination_place_listed")),
        sa.CheckConstraint("after_operation IN ('yes', 'no')", name=op.f("ck_examination_after_operation_listed")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_examination_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_examination_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_examination_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_examination_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_examination_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_examination_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("examination")
    op.create_table(
        "reading",
        sa.Column("examination_id", WHOLE, nullable=False),
        sa.Column("renal_unit_id", WHOLE, nullable=False),
        sa.Column("reading_number", WHOLE, nullable=False),
        sa.Column("reader", TEXT),
        sa.Column("blinded", TEXT),
        sa.Column("finding", TEXT),
        sa.Column("every_calyx_seen", TEXT),
        sa.Column("hydronephrosis", TEXT),
        sa.Column("wording", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
        sa.UniqueConstraint("examination_id", "renal_unit_id", "reading_number", name=op.f("uq_reading_natural_key")),
        sa.ForeignKeyConstraint(
            ["renal_unit_id"], ["renal_unit.id"], name=op.f("fk_reading_renal_unit_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["examination_id"], ["examination.id"], name=op.f("fk_reading_examination_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_reading_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint("reading_number BETWEEN 1 AND 20", name=op.f("ck_reading_reading_number_within")),
        sa.CheckConstraint("length(reader) BETWEEN 1 AND 20", name=op.f("ck_reading_reader_length")),
        sa.CheckConstraint("blinded IN ('yes', 'no')", name=op.f("ck_reading_blinded_listed")),
        sa.CheckConstraint(
            "finding IN ('none_seen', 'fragments', 'indeterminate')", name=op.f("ck_reading_finding_listed")
        ),
        sa.CheckConstraint("every_calyx_seen IN ('yes', 'no')", name=op.f("ck_reading_every_calyx_seen_listed")),
        sa.CheckConstraint(
            "hydronephrosis IN ('none', 'mild', 'moderate', 'severe')", name=op.f("ck_reading_hydronephrosis_listed")
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_reading_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_reading_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_reading_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_reading_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_reading_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_reading_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_reading_renal_unit_id"), "reading", ["renal_unit_id"])
    op.bring_back_parked("reading")
    op.create_table(
        "fragment",
        sa.Column("reading_id", WHOLE, nullable=False),
        sa.Column("fragment_number", WHOLE, nullable=False),
        sa.Column("location", TEXT),
        sa.Column("diameter_low_mm", REAL),
        sa.Column("diameter_high_mm", REAL),
        sa.Column("larger_than_low", TEXT),
        sa.Column("cluster_extent_mm", REAL),
        sa.Column("fragment_count", WHOLE),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("origin", TEXT),
        sa.Column("stone_id", WHOLE),
        sa.Column("wording", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fragment")),
        sa.UniqueConstraint("reading_id", "fragment_number", name=op.f("uq_fragment_natural_key")),
        sa.ForeignKeyConstraint(
            ["reading_id"], ["reading.id"], name=op.f("fk_fragment_reading_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["stone_id"], ["stone.id"], name=op.f("fk_fragment_stone_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_fragment_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint("fragment_number BETWEEN 1 AND 99", name=op.f("ck_fragment_fragment_number_within")),
        sa.CheckConstraint(
            "location IN ('upper_calyx', 'middle_calyx', 'lower_calyx', 'pelvis', 'junction', 'diverticulum', 'partial_staghorn', 'complete_staghorn', 'proximal_ureter', 'middle_ureter', 'distal_ureter', 'vesicoureteric_junction', 'bladder', 'not_said')",
            name=op.f("ck_fragment_location_listed"),
        ),
        sa.CheckConstraint("diameter_low_mm BETWEEN 0 AND 200", name=op.f("ck_fragment_diameter_low_mm_within")),
        sa.CheckConstraint("diameter_high_mm BETWEEN 0 AND 200", name=op.f("ck_fragment_diameter_high_mm_within")),
        sa.CheckConstraint("larger_than_low IN ('yes', 'no')", name=op.f("ck_fragment_larger_than_low_listed")),
        sa.CheckConstraint("cluster_extent_mm BETWEEN 0 AND 200", name=op.f("ck_fragment_cluster_extent_mm_within")),
        sa.CheckConstraint("fragment_count BETWEEN 1 AND 500", name=op.f("ck_fragment_fragment_count_within")),
        sa.CheckConstraint("kind IN ('single', 'alike', 'cluster', 'dust')", name=op.f("ck_fragment_kind_listed")),
        sa.CheckConstraint(
            "origin IN ('stone', 'new', 'not_said', 'no_stone')", name=op.f("ck_fragment_origin_listed")
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_fragment_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_fragment_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_fragment_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_fragment_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_fragment_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_fragment_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_fragment_stone_id"), "fragment", ["stone_id"])
    op.bring_back_parked("fragment")


def downgrade() -> None:
    op.park_table("fragment")
    op.park_table("reading")
    op.park_table("examination")
