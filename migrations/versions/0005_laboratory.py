"""Cultures and observations."""

import sqlalchemy as sa
from alembic import op

revision = "0005_laboratory"
down_revision = "0004_equipment"
branch_labels = None
depends_on = None

TEXT = sa.Text()
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
REAL = sa.Double().with_variant(sa.REAL(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
MOMENT = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "culture",
        sa.Column("patient_id", WHOLE, nullable=False),
        sa.Column("taken_on", DAY, nullable=False),
        sa.Column("specimen", TEXT, nullable=False),
        sa.Column("culture_number", WHOLE, nullable=False),
        sa.Column("operation_id", WHOLE),
        sa.Column("timing", TEXT),
        sa.Column("result", TEXT),
        sa.Column("treated_with", TEXT),
        sa.Column("treated_since", DAY),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_culture")),
        sa.UniqueConstraint(
            "patient_id", "taken_on", "specimen", "culture_number", name=op.f("uq_culture_natural_key")
        ),
        sa.ForeignKeyConstraint(
            ["patient_id"], ["patient.id"], name=op.f("fk_culture_patient_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_culture_batch_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_culture_operation_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("taken_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_culture_taken_on_within")),
        sa.CheckConstraint(
            "taken_on IS NULL OR coalesce(date(taken_on) = taken_on, 0)", name=op.f("ck_culture_taken_on_is_date")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "specimen IN ('urine', 'pelvic_urine', 'stone', 'blood')", name=op.f("ck_culture_specimen_listed")
        ),
        sa.CheckConstraint("culture_number BETWEEN 1 AND 20", name=op.f("ck_culture_culture_number_within")),
        sa.CheckConstraint("timing IN ('before', 'during', 'after')", name=op.f("ck_culture_timing_listed")),
        sa.CheckConstraint("result IN ('positive', 'negative', 'contaminated')", name=op.f("ck_culture_result_listed")),
        sa.CheckConstraint(
            "treated_with IN ('none', 'cephalosporin', 'aminoglycoside', 'penicillin', 'fluoroquinolone', 'carbapenem', 'nitrofurantoin', 'trimethoprim', 'fosfomycin', 'glycopeptide', 'combination', 'other')",
            name=op.f("ck_culture_treated_with_listed"),
        ),
        sa.CheckConstraint(
            "treated_since BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_culture_treated_since_within")
        ),
        sa.CheckConstraint(
            "treated_since IS NULL OR coalesce(date(treated_since) = treated_since, 0)",
            name=op.f("ck_culture_treated_since_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_culture_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_culture_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_culture_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_culture_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_culture_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_culture_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_culture_operation_id"), "culture", ["operation_id"])
    op.bring_back_parked("culture")
    op.create_table(
        "culture_organism",
        sa.Column("culture_id", WHOLE, nullable=False),
        sa.Column("organism", TEXT, nullable=False),
        sa.Column("count_log10", REAL),
        sa.Column("multiresistant", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_culture_organism")),
        sa.UniqueConstraint("culture_id", "organism", name=op.f("uq_culture_organism_natural_key")),
        sa.ForeignKeyConstraint(
            ["culture_id"], ["culture.id"], name=op.f("fk_culture_organism_culture_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_culture_organism_batch_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint(
            "organism IN ('escherichia_coli', 'klebsiella', 'proteus', 'pseudomonas', 'enterobacter', 'enterococcus', 'staphylococcus_aureus', 'coagulase_negative', 'streptococcus', 'candida', 'other')",
            name=op.f("ck_culture_organism_organism_listed"),
        ),
        sa.CheckConstraint("count_log10 BETWEEN 0 AND 12", name=op.f("ck_culture_organism_count_log10_within")),
        sa.CheckConstraint("multiresistant IN ('yes', 'no')", name=op.f("ck_culture_organism_multiresistant_listed")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_culture_organism_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_culture_organism_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_culture_organism_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_culture_organism_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_culture_organism_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_culture_organism_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("culture_organism")
    op.create_table(
        "observation_set",
        sa.Column("patient_id", WHOLE, nullable=False),
        sa.Column("observed_on", DAY, nullable=False),
        sa.Column("set_number", WHOLE, nullable=False),
        sa.Column("operation_id", WHOLE),
        sa.Column("timing", TEXT),
        sa.Column("temperature_c", REAL),
        sa.Column("heart_rate_min", WHOLE),
        sa.Column("respiratory_rate_min", WHOLE),
        sa.Column("systolic_mmhg", WHOLE),
        sa.Column("mean_pressure_mmhg", WHOLE),
        sa.Column("white_cells_g_l", REAL),
        sa.Column("bands_percent", REAL),
        sa.Column("lactate_mmol_l", REAL),
        sa.Column("platelets_g_l", REAL),
        sa.Column("bilirubin_umol_l", REAL),
        sa.Column("creatinine_umol_l", REAL),
        sa.Column("egfr_ml_min", REAL),
        sa.Column("haemoglobin_g_l", REAL),
        sa.Column("c_reactive_protein_mg_l", REAL),
        sa.Column("pao2_fio2_mmhg", REAL),
        sa.Column("ventilated", TEXT),
        sa.Column("paco2_mmhg", REAL),
        sa.Column("coma_scale", WHOLE),
        sa.Column("urine_ml_24h", WHOLE),
        sa.Column("vasopressor", TEXT),
        sa.Column("noradrenaline_ug_kg_min", REAL),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_observation_set")),
        sa.UniqueConstraint("patient_id", "observed_on", "set_number", name=op.f("uq_observation_set_natural_key")),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_observation_set_operation_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["patient_id"], ["patient.id"], name=op.f("fk_observation_set_patient_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_observation_set_batch_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint(
            "observed_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_observation_set_observed_on_within")
        ),
        sa.CheckConstraint(
            "observed_on IS NULL OR coalesce(date(observed_on) = observed_on, 0)",
            name=op.f("ck_observation_set_observed_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("set_number BETWEEN 1 AND 99", name=op.f("ck_observation_set_set_number_within")),
        sa.CheckConstraint("timing IN ('before', 'during', 'after')", name=op.f("ck_observation_set_timing_listed")),
        sa.CheckConstraint("temperature_c BETWEEN 25 AND 45", name=op.f("ck_observation_set_temperature_c_within")),
        sa.CheckConstraint("heart_rate_min BETWEEN 0 AND 350", name=op.f("ck_observation_set_heart_rate_min_within")),
        sa.CheckConstraint(
            "respiratory_rate_min BETWEEN 0 AND 100", name=op.f("ck_observation_set_respiratory_rate_min_within")
        ),
        sa.CheckConstraint("systolic_mmhg BETWEEN 0 AND 350", name=op.f("ck_observation_set_systolic_mmhg_within")),
        sa.CheckConstraint(
            "mean_pressure_mmhg BETWEEN 0 AND 300", name=op.f("ck_observation_set_mean_pressure_mmhg_within")
        ),
        sa.CheckConstraint("white_cells_g_l BETWEEN 0 AND 500", name=op.f("ck_observation_set_white_cells_g_l_within")),
        sa.CheckConstraint("bands_percent BETWEEN 0 AND 100", name=op.f("ck_observation_set_bands_percent_within")),
        sa.CheckConstraint("lactate_mmol_l BETWEEN 0 AND 50", name=op.f("ck_observation_set_lactate_mmol_l_within")),
        sa.CheckConstraint("platelets_g_l BETWEEN 0 AND 3000", name=op.f("ck_observation_set_platelets_g_l_within")),
        sa.CheckConstraint(
            "bilirubin_umol_l BETWEEN 0 AND 1500", name=op.f("ck_observation_set_bilirubin_umol_l_within")
        ),
        sa.CheckConstraint(
            "creatinine_umol_l BETWEEN 1 AND 3000", name=op.f("ck_observation_set_creatinine_umol_l_within")
        ),
        sa.CheckConstraint("egfr_ml_min BETWEEN 0 AND 250", name=op.f("ck_observation_set_egfr_ml_min_within")),
        sa.CheckConstraint(
            "haemoglobin_g_l BETWEEN 20 AND 260", name=op.f("ck_observation_set_haemoglobin_g_l_within")
        ),
        sa.CheckConstraint(
            "c_reactive_protein_mg_l BETWEEN 0 AND 1000", name=op.f("ck_observation_set_c_reactive_protein_mg_l_within")
        ),
        sa.CheckConstraint("pao2_fio2_mmhg BETWEEN 20 AND 800", name=op.f("ck_observation_set_pao2_fio2_mmhg_within")),
        sa.CheckConstraint("ventilated IN ('yes', 'no')", name=op.f("ck_observation_set_ventilated_listed")),
        sa.CheckConstraint("paco2_mmhg BETWEEN 5 AND 200", name=op.f("ck_observation_set_paco2_mmhg_within")),
        sa.CheckConstraint("coma_scale BETWEEN 3 AND 15", name=op.f("ck_observation_set_coma_scale_within")),
        sa.CheckConstraint("urine_ml_24h BETWEEN 0 AND 20000", name=op.f("ck_observation_set_urine_ml_24h_within")),
        sa.CheckConstraint("vasopressor IN ('yes', 'no')", name=op.f("ck_observation_set_vasopressor_listed")),
        sa.CheckConstraint(
            "noradrenaline_ug_kg_min BETWEEN 0 AND 10", name=op.f("ck_observation_set_noradrenaline_ug_kg_min_within")
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_observation_set_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_observation_set_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_observation_set_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_observation_set_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_observation_set_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_observation_set_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_observation_set_operation_id"), "observation_set", ["operation_id"])
    op.bring_back_parked("observation_set")


def downgrade() -> None:
    op.park_table("observation_set")
    op.park_table("culture_organism")
    op.park_table("culture")
