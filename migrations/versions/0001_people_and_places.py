"""People and places."""

import sqlalchemy as sa
from alembic import op

revision = "0001_people_and_places"
down_revision = None
branch_labels = None
depends_on = None

TEXT = sa.Text()
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
REAL = sa.Double().with_variant(sa.REAL(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
MOMENT = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "batch",
        sa.Column("content_hash", TEXT, nullable=False),
        sa.Column("file_name", TEXT),
        sa.Column("row_count", WHOLE, nullable=False),
        sa.Column("state", TEXT, nullable=False),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch")),
        sa.UniqueConstraint("content_hash", name=op.f("uq_batch_natural_key")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_batch_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint("length(content_hash) BETWEEN 1 AND 64", name=op.f("ck_batch_content_hash_length")),
        sa.CheckConstraint("row_count >= 0", name=op.f("ck_batch_row_count_within")),
        sa.CheckConstraint("state IN ('loaded', 'withdrawn')", name=op.f("ck_batch_state_listed")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_batch_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_batch_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_batch_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_batch_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_batch_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_batch_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("batch")
    op.create_table(
        "site",
        sa.Column("code", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("time_zone", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site")),
        sa.UniqueConstraint("code", name=op.f("uq_site_natural_key")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_site_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint("length(code) BETWEEN 1 AND 20", name=op.f("ck_site_code_length")),
        sa.CheckConstraint("length(name) BETWEEN 1 AND 120", name=op.f("ck_site_name_length")),
        sa.CheckConstraint("length(time_zone) BETWEEN 1 AND 60", name=op.f("ck_site_time_zone_length")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_site_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_site_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_site_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_site_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_site_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_site_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("site")
    op.create_table(
        "operator",
        sa.Column("site_id", WHOLE, nullable=False),
        sa.Column("code", TEXT, nullable=False),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_operator")),
        sa.UniqueConstraint("site_id", "code", name=op.f("uq_operator_natural_key")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_operator_site_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_operator_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint("length(code) BETWEEN 1 AND 20", name=op.f("ck_operator_code_length")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_operator_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_operator_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_operator_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_operator_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_operator_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_operator_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("operator")
    op.create_table(
        "operator_prior_cases",
        sa.Column("operator_id", WHOLE, nullable=False),
        sa.Column("technique", TEXT, nullable=False),
        sa.Column("cases", WHOLE, nullable=False),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_operator_prior_cases")),
        sa.UniqueConstraint("operator_id", "technique", name=op.f("uq_operator_prior_cases_natural_key")),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_operator_prior_cases_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["operator_id"], ["operator.id"], name=op.f("fk_operator_prior_cases_operator_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint(
            "technique IN ('flexible', 'semirigid', 'percutaneous', 'mini_percutaneous', 'combined', 'shock_wave', 'open', 'laparoscopic', 'robotic')",
            name=op.f("ck_operator_prior_cases_technique_listed"),
        ),
        sa.CheckConstraint("cases BETWEEN 0 AND 20000", name=op.f("ck_operator_prior_cases_cases_within")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_operator_prior_cases_created_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "length(created_by) BETWEEN 1 AND 80", name=op.f("ck_operator_prior_cases_created_by_length")
        ),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_operator_prior_cases_changed_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_operator_prior_cases_changed_by_length")
        ),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_operator_prior_cases_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_operator_prior_cases_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("operator_prior_cases")
    op.create_table(
        "patient",
        sa.Column("site_id", WHOLE, nullable=False),
        sa.Column("study_number", TEXT, nullable=False),
        sa.Column("sex", TEXT),
        sa.Column("birth_year", WHOLE),
        sa.Column("stone_history", TEXT),
        sa.Column("research_use", TEXT),
        sa.Column("research_use_since", DAY),
        sa.Column("not_to_be_contacted", TEXT),
        sa.Column("last_known_alive_on", DAY),
        sa.Column("last_known_alive_on_precision", TEXT),
        sa.Column("last_known_alive_source", TEXT),
        sa.Column("died_on", DAY),
        sa.Column("died_on_precision", TEXT),
        sa.Column("death_source", TEXT),
        sa.Column("death_place", TEXT),
        sa.Column("note", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_patient")),
        sa.UniqueConstraint("site_id", "study_number", name=op.f("uq_patient_natural_key")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_patient_site_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_patient_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint("length(study_number) BETWEEN 1 AND 20", name=op.f("ck_patient_study_number_length")),
        sa.CheckConstraint("sex IN ('female', 'male', 'other')", name=op.f("ck_patient_sex_listed")),
        sa.CheckConstraint("birth_year BETWEEN 1880 AND 2200", name=op.f("ck_patient_birth_year_within")),
        sa.CheckConstraint("stone_history IN ('first', 'recurrent')", name=op.f("ck_patient_stone_history_listed")),
        sa.CheckConstraint("research_use IN ('yes', 'no', 'not_asked')", name=op.f("ck_patient_research_use_listed")),
        sa.CheckConstraint(
            "research_use_since BETWEEN '1900-01-01' AND '2200-01-01'",
            name=op.f("ck_patient_research_use_since_within"),
        ),
        sa.CheckConstraint(
            "research_use_since IS NULL OR coalesce(date(research_use_since) = research_use_since, 0)",
            name=op.f("ck_patient_research_use_since_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("not_to_be_contacted IN ('yes', 'no')", name=op.f("ck_patient_not_to_be_contacted_listed")),
        sa.CheckConstraint(
            "last_known_alive_on BETWEEN '1900-01-01' AND '2200-01-01'",
            name=op.f("ck_patient_last_known_alive_on_within"),
        ),
        sa.CheckConstraint(
            "last_known_alive_on IS NULL OR coalesce(date(last_known_alive_on) = last_known_alive_on, 0)",
            name=op.f("ck_patient_last_known_alive_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "last_known_alive_on_precision IS NULL OR last_known_alive_on_precision = 'day' OR (last_known_alive_on_precision = 'month' AND substr(CAST(last_known_alive_on AS TEXT), 9, 2) = '01') OR (last_known_alive_on_precision = 'year' AND substr(CAST(last_known_alive_on AS TEXT), 6, 5) = '01-01')",
            name=op.f("ck_patient_last_known_alive_on_precision_kept"),
        ),
        sa.CheckConstraint(
            "last_known_alive_on_precision IN ('day', 'month', 'year')",
            name=op.f("ck_patient_last_known_alive_on_precision_listed"),
        ),
        sa.CheckConstraint(
            "last_known_alive_source IN ('record', 'other_hospital', 'family_doctor', 'patient', 'relative', 'death_register', 'estimated')",
            name=op.f("ck_patient_last_known_alive_source_listed"),
        ),
        sa.CheckConstraint("died_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_patient_died_on_within")),
        sa.CheckConstraint(
            "died_on IS NULL OR coalesce(date(died_on) = died_on, 0)", name=op.f("ck_patient_died_on_is_date")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "died_on_precision IS NULL OR died_on_precision = 'day' OR (died_on_precision = 'month' AND substr(CAST(died_on AS TEXT), 9, 2) = '01') OR (died_on_precision = 'year' AND substr(CAST(died_on AS TEXT), 6, 5) = '01-01')",
            name=op.f("ck_patient_died_on_precision_kept"),
        ),
        sa.CheckConstraint(
            "died_on_precision IN ('day', 'month', 'year')", name=op.f("ck_patient_died_on_precision_listed")
        ),
        sa.CheckConstraint(
            "death_source IN ('record', 'other_hospital', 'family_doctor', 'patient', 'relative', 'death_register', 'estimated')",
            name=op.f("ck_patient_death_source_listed"),
        ),
        sa.CheckConstraint("death_place IN ('here', 'elsewhere')", name=op.f("ck_patient_death_place_listed")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_patient_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_patient_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_patient_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_patient_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_patient_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_patient_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("patient")
    op.create_table(
        "predisposition",
        sa.Column("patient_id", WHOLE, nullable=False),
        sa.Column("condition", TEXT, nullable=False),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_predisposition")),
        sa.UniqueConstraint("patient_id", "condition", name=op.f("uq_predisposition_natural_key")),
        sa.ForeignKeyConstraint(
            ["patient_id"], ["patient.id"], name=op.f("fk_predisposition_patient_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_predisposition_batch_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint(
            "condition IN ('hypercalciuria', 'hyperoxaluria', 'hypocitraturia', 'hyperuricosuria', 'cystinuria', 'hyperparathyroidism', 'renal_tubular_acidosis', 'medullary_sponge_kidney', 'bowel_disease', 'bariatric_surgery', 'recurrent_infection', 'immobility', 'stone_forming_drug', 'family_history', 'other')",
            name=op.f("ck_predisposition_condition_listed"),
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_predisposition_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_predisposition_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_predisposition_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_predisposition_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_predisposition_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_predisposition_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("predisposition")
    op.create_table(
        "patient_key",
        sa.Column("patient_id", WHOLE, nullable=False),
        sa.Column("wrapped_key", TEXT),
        sa.Column("erased_at", MOMENT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_patient_key")),
        sa.UniqueConstraint("patient_id", name=op.f("uq_patient_key_natural_key")),
        sa.ForeignKeyConstraint(
            ["patient_id"], ["patient.id"], name=op.f("fk_patient_key_patient_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_patient_key_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint(
            "erased_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_patient_key_erased_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_patient_key_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_patient_key_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_patient_key_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_patient_key_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_patient_key_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_patient_key_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("patient_key")
    op.create_table(
        "patient_identity",
        sa.Column("patient_id", WHOLE, nullable=False),
        sa.Column("family_name", TEXT),
        sa.Column("given_names", TEXT),
        sa.Column("birth_date", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_patient_identity")),
        sa.UniqueConstraint("patient_id", name=op.f("uq_patient_identity_natural_key")),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_patient_identity_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["patient_id"], ["patient.id"], name=op.f("fk_patient_identity_patient_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_patient_identity_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_patient_identity_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_patient_identity_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_patient_identity_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_patient_identity_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_patient_identity_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("patient_identity")
    op.create_table(
        "hospital_number",
        sa.Column("site_id", WHOLE, nullable=False),
        sa.Column("patient_id", WHOLE, nullable=False),
        sa.Column("number", TEXT),
        sa.Column("number_index", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hospital_number")),
        sa.UniqueConstraint("site_id", "number_index", name=op.f("uq_hospital_number_natural_key")),
        sa.ForeignKeyConstraint(
            ["patient_id"], ["patient.id"], name=op.f("fk_hospital_number_patient_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_hospital_number_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_hospital_number_site_id"), ondelete="RESTRICT"),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_hospital_number_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_hospital_number_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_hospital_number_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_hospital_number_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_hospital_number_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_hospital_number_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_hospital_number_patient_id"), "hospital_number", ["patient_id"])
    op.bring_back_parked("hospital_number")
    op.create_table(
        "renal_unit",
        sa.Column("patient_id", WHOLE, nullable=False),
        sa.Column("unit", TEXT, nullable=False),
        sa.Column("unit_number", WHOLE, nullable=False),
        sa.Column("anatomy", TEXT),
        sa.Column("solitary", TEXT),
        sa.Column("prior_stone_surgery", TEXT),
        sa.Column("lost_on", DAY),
        sa.Column("lost_on_precision", TEXT),
        sa.Column("loss_reason", TEXT),
        sa.Column("note", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_renal_unit")),
        sa.UniqueConstraint("patient_id", "unit", "unit_number", name=op.f("uq_renal_unit_natural_key")),
        sa.ForeignKeyConstraint(
            ["patient_id"], ["patient.id"], name=op.f("fk_renal_unit_patient_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_renal_unit_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint("unit IN ('left', 'right', 'transplant')", name=op.f("ck_renal_unit_unit_listed")),
        sa.CheckConstraint("unit_number BETWEEN 1 AND 4", name=op.f("ck_renal_unit_unit_number_within")),
        sa.CheckConstraint(
            "anatomy IN ('normal', 'horseshoe', 'pelvic', 'malrotated', 'duplex', 'calyceal_diverticulum', 'junction_obstruction', 'medullary_sponge', 'urinary_diversion', 'transplant', 'other')",
            name=op.f("ck_renal_unit_anatomy_listed"),
        ),
        sa.CheckConstraint("solitary IN ('yes', 'no')", name=op.f("ck_renal_unit_solitary_listed")),
        sa.CheckConstraint(
            "prior_stone_surgery IN ('yes', 'no')", name=op.f("ck_renal_unit_prior_stone_surgery_listed")
        ),
        sa.CheckConstraint("lost_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_renal_unit_lost_on_within")),
        sa.CheckConstraint(
            "lost_on IS NULL OR coalesce(date(lost_on) = lost_on, 0)", name=op.f("ck_renal_unit_lost_on_is_date")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "lost_on_precision IS NULL OR lost_on_precision = 'day' OR (lost_on_precision = 'month' AND substr(CAST(lost_on AS TEXT), 9, 2) = '01') OR (lost_on_precision = 'year' AND substr(CAST(lost_on AS TEXT), 6, 5) = '01-01')",
            name=op.f("ck_renal_unit_lost_on_precision_kept"),
        ),
        sa.CheckConstraint(
            "lost_on_precision IN ('day', 'month', 'year')", name=op.f("ck_renal_unit_lost_on_precision_listed")
        ),
        sa.CheckConstraint(
            "loss_reason IN ('nephrectomy', 'graft_loss', 'no_function')", name=op.f("ck_renal_unit_loss_reason_listed")
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_renal_unit_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_renal_unit_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_renal_unit_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_renal_unit_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_renal_unit_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_renal_unit_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("renal_unit")
    op.create_table(
        "admission",
        sa.Column("patient_id", WHOLE, nullable=False),
        sa.Column("admitted_on", DAY, nullable=False),
        sa.Column("admission_number", WHOLE, nullable=False),
        sa.Column("kind", TEXT),
        sa.Column("unplanned", TEXT),
        sa.Column("place", TEXT),
        sa.Column("discharged_on", DAY),
        sa.Column("stay_after_operation_h", REAL),
        sa.Column("intensive_care_days", REAL),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_admission")),
        sa.UniqueConstraint("patient_id", "admitted_on", "admission_number", name=op.f("uq_admission_natural_key")),
        sa.ForeignKeyConstraint(
            ["patient_id"], ["patient.id"], name=op.f("fk_admission_patient_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_admission_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint(
            "admitted_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_admission_admitted_on_within")
        ),
        sa.CheckConstraint(
            "admitted_on IS NULL OR coalesce(date(admitted_on) = admitted_on, 0)",
            name=op.f("ck_admission_admitted_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("admission_number BETWEEN 1 AND 9", name=op.f("ck_admission_admission_number_within")),
        sa.CheckConstraint("kind IN ('inpatient', 'day_case', 'outpatient')", name=op.f("ck_admission_kind_listed")),
        sa.CheckConstraint("unplanned IN ('yes', 'no')", name=op.f("ck_admission_unplanned_listed")),
        sa.CheckConstraint("place IN ('here', 'elsewhere')", name=op.f("ck_admission_place_listed")),
        sa.CheckConstraint(
            "discharged_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_admission_discharged_on_within")
        ),
        sa.CheckConstraint(
            "discharged_on IS NULL OR coalesce(date(discharged_on) = discharged_on, 0)",
            name=op.f("ck_admission_discharged_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "stay_after_operation_h BETWEEN 0 AND 20000", name=op.f("ck_admission_stay_after_operation_h_within")
        ),
        sa.CheckConstraint(
            "intensive_care_days BETWEEN 0 AND 1000", name=op.f("ck_admission_intensive_care_days_within")
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_admission_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_admission_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_admission_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_admission_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_admission_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_admission_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("admission")


def downgrade() -> None:
    op.park_table("admission")
    op.park_table("renal_unit")
    op.park_table("hospital_number")
    op.park_table("patient_identity")
    op.park_table("patient_key")
    op.park_table("predisposition")
    op.park_table("patient")
    op.park_table("operator_prior_cases")
    op.park_table("operator")
    op.park_table("site")
    op.park_table("batch")
