"""Stones, what was aimed at, and their analysis."""

import sqlalchemy as sa
from alembic import op

revision = "0003_stones"
down_revision = "0002_operations_and_sides"
branch_labels = None
depends_on = None

TEXT = sa.Text()
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
REAL = sa.Double().with_variant(sa.REAL(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
MOMENT = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "stone",
        sa.Column("course_id", WHOLE, nullable=False),
        sa.Column("stone_number", WHOLE, nullable=False),
        sa.Column("location", TEXT),
        sa.Column("calyx_face", TEXT),
        sa.Column("length_mm", REAL),
        sa.Column("width_mm", REAL),
        sa.Column("depth_mm", REAL),
        sa.Column("volume_mm3", REAL),
        sa.Column("attenuation_hu", WHOLE),
        sa.Column("attenuation_method", TEXT),
        sa.Column("radio_opacity", TEXT),
        sa.Column("skin_to_stone_mm", REAL),
        sa.Column("impacted", TEXT),
        sa.Column("measured_by", TEXT),
        sa.Column("measured_on", DAY),
        sa.Column("measured_slice_mm", REAL),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stone")),
        sa.UniqueConstraint("course_id", "stone_number", name=op.f("uq_stone_natural_key")),
        sa.ForeignKeyConstraint(["course_id"], ["course.id"], name=op.f("fk_stone_course_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_stone_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint("stone_number BETWEEN 1 AND 99", name=op.f("ck_stone_stone_number_within")),
        sa.CheckConstraint(
            "location IN ('upper_calyx', 'middle_calyx', 'lower_calyx', 'pelvis', 'junction', 'diverticulum', 'partial_staghorn', 'complete_staghorn', 'proximal_ureter', 'middle_ureter', 'distal_ureter', 'vesicoureteric_junction', 'bladder', 'not_said')",
            name=op.f("ck_stone_location_listed"),
        ),
        sa.CheckConstraint("calyx_face IN ('anterior', 'posterior')", name=op.f("ck_stone_calyx_face_listed")),
        sa.CheckConstraint("length_mm BETWEEN 0.5 AND 200", name=op.f("ck_stone_length_mm_within")),
        sa.CheckConstraint("width_mm BETWEEN 0.5 AND 200", name=op.f("ck_stone_width_mm_within")),
        sa.CheckConstraint("depth_mm BETWEEN 0.5 AND 200", name=op.f("ck_stone_depth_mm_within")),
        sa.CheckConstraint("volume_mm3 BETWEEN 0.1 AND 500000", name=op.f("ck_stone_volume_mm3_within")),
        sa.CheckConstraint("attenuation_hu BETWEEN -100 AND 4000", name=op.f("ck_stone_attenuation_hu_within")),
        sa.CheckConstraint(
            "attenuation_method IN ('mean_region', 'mean_small_regions', 'whole_volume', 'maximum', 'not_said')",
            name=op.f("ck_stone_attenuation_method_listed"),
        ),
        sa.CheckConstraint(
            "radio_opacity IN ('opaque', 'faint', 'lucent')", name=op.f("ck_stone_radio_opacity_listed")
        ),
        sa.CheckConstraint("skin_to_stone_mm BETWEEN 10 AND 400", name=op.f("ck_stone_skin_to_stone_mm_within")),
        sa.CheckConstraint("impacted IN ('yes', 'no')", name=op.f("ck_stone_impacted_listed")),
        sa.CheckConstraint(
            "measured_by IN ('ct', 'ultrasound', 'kub', 'second_look', 'other')",
            name=op.f("ck_stone_measured_by_listed"),
        ),
        sa.CheckConstraint(
            "measured_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_stone_measured_on_within")
        ),
        sa.CheckConstraint(
            "measured_on IS NULL OR coalesce(date(measured_on) = measured_on, 0)",
            name=op.f("ck_stone_measured_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("measured_slice_mm BETWEEN 0.1 AND 20", name=op.f("ck_stone_measured_slice_mm_within")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_stone_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_stone_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_stone_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_stone_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_stone_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_stone_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("stone")
    op.create_table(
        "filled_site",
        sa.Column("stone_id", WHOLE, nullable=False),
        sa.Column("site_filled", TEXT, nullable=False),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_filled_site")),
        sa.UniqueConstraint("stone_id", "site_filled", name=op.f("uq_filled_site_natural_key")),
        sa.ForeignKeyConstraint(["stone_id"], ["stone.id"], name=op.f("fk_filled_site_stone_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_filled_site_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint(
            "site_filled IN ('pelvis', 'superior_major', 'inferior_major', 'superior_anterior', 'superior_posterior', 'middle_anterior', 'middle_posterior', 'inferior_anterior', 'inferior_posterior')",
            name=op.f("ck_filled_site_site_filled_listed"),
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_filled_site_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_filled_site_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_filled_site_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_filled_site_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_filled_site_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_filled_site_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("filled_site")
    op.create_table(
        "stone_aim",
        sa.Column("treated_side_id", WHOLE, nullable=False),
        sa.Column("stone_id", WHOLE, nullable=False),
        sa.Column("aim", TEXT, nullable=False),
        sa.Column("recorded_before_access", TEXT),
        sa.Column("result", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stone_aim")),
        sa.UniqueConstraint("treated_side_id", "stone_id", name=op.f("uq_stone_aim_natural_key")),
        sa.ForeignKeyConstraint(["stone_id"], ["stone.id"], name=op.f("fk_stone_aim_stone_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_stone_aim_batch_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["treated_side_id"], ["treated_side.id"], name=op.f("fk_stone_aim_treated_side_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("aim IN ('aimed_at', 'left_on_purpose')", name=op.f("ck_stone_aim_aim_listed")),
        sa.CheckConstraint(
            "recorded_before_access IN ('yes', 'no')", name=op.f("ck_stone_aim_recorded_before_access_listed")
        ),
        sa.CheckConstraint(
            "result IN ('cleared', 'partly', 'not_reached', 'not_found')", name=op.f("ck_stone_aim_result_listed")
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_stone_aim_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_stone_aim_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_stone_aim_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_stone_aim_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_stone_aim_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_stone_aim_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_stone_aim_stone_id"), "stone_aim", ["stone_id"])
    op.bring_back_parked("stone_aim")
    op.create_table(
        "stone_analysis",
        sa.Column("renal_unit_id", WHOLE, nullable=False),
        sa.Column("analysis_number", WHOLE, nullable=False),
        sa.Column("operation_id", WHOLE),
        sa.Column("stone_id", WHOLE),
        sa.Column("passed_at_home", TEXT),
        sa.Column("method", TEXT),
        sa.Column("state", TEXT),
        sa.Column("sent_on", DAY),
        sa.Column("reported_on", DAY),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stone_analysis")),
        sa.UniqueConstraint("renal_unit_id", "analysis_number", name=op.f("uq_stone_analysis_natural_key")),
        sa.ForeignKeyConstraint(
            ["stone_id"], ["stone.id"], name=op.f("fk_stone_analysis_stone_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_stone_analysis_operation_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_stone_analysis_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["renal_unit_id"], ["renal_unit.id"], name=op.f("fk_stone_analysis_renal_unit_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("analysis_number BETWEEN 1 AND 99", name=op.f("ck_stone_analysis_analysis_number_within")),
        sa.CheckConstraint("passed_at_home IN ('yes', 'no')", name=op.f("ck_stone_analysis_passed_at_home_listed")),
        sa.CheckConstraint(
            "method IN ('infrared', 'xray_diffraction', 'other')", name=op.f("ck_stone_analysis_method_listed")
        ),
        sa.CheckConstraint(
            "state IN ('sent', 'result', 'insufficient', 'lost')", name=op.f("ck_stone_analysis_state_listed")
        ),
        sa.CheckConstraint(
            "sent_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_stone_analysis_sent_on_within")
        ),
        sa.CheckConstraint(
            "sent_on IS NULL OR coalesce(date(sent_on) = sent_on, 0)", name=op.f("ck_stone_analysis_sent_on_is_date")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "reported_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_stone_analysis_reported_on_within")
        ),
        sa.CheckConstraint(
            "reported_on IS NULL OR coalesce(date(reported_on) = reported_on, 0)",
            name=op.f("ck_stone_analysis_reported_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_stone_analysis_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_stone_analysis_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_stone_analysis_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_stone_analysis_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_stone_analysis_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_stone_analysis_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_stone_analysis_operation_id"), "stone_analysis", ["operation_id"])
    op.create_index(op.f("ix_stone_analysis_stone_id"), "stone_analysis", ["stone_id"])
    op.bring_back_parked("stone_analysis")
    op.create_table(
        "analysis_component",
        sa.Column("stone_analysis_id", WHOLE, nullable=False),
        sa.Column("component", TEXT, nullable=False),
        sa.Column("share_percent", REAL),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_analysis_component")),
        sa.UniqueConstraint("stone_analysis_id", "component", name=op.f("uq_analysis_component_natural_key")),
        sa.ForeignKeyConstraint(
            ["stone_analysis_id"],
            ["stone_analysis.id"],
            name=op.f("fk_analysis_component_stone_analysis_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_analysis_component_batch_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint(
            "component IN ('whewellite', 'weddellite', 'carbonate_apatite', 'hydroxyapatite', 'brushite', 'octacalcium_phosphate', 'uric_acid', 'uric_acid_dihydrate', 'ammonium_urate', 'sodium_urate', 'struvite', 'newberyite', 'cystine', 'xanthine', 'dihydroxyadenine', 'drug', 'matrix', 'other', 'artefact')",
            name=op.f("ck_analysis_component_component_listed"),
        ),
        sa.CheckConstraint("share_percent BETWEEN 0 AND 100", name=op.f("ck_analysis_component_share_percent_within")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_analysis_component_created_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_analysis_component_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_analysis_component_changed_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_analysis_component_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_analysis_component_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_analysis_component_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("analysis_component")


def downgrade() -> None:
    op.park_table("analysis_component")
    op.park_table("stone_analysis")
    op.park_table("stone_aim")
    op.park_table("filled_site")
    op.park_table("stone")
