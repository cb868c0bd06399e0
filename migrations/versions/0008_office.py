"""Theatre lists, costs, local fields, settings, questions, accounts."""

import sqlalchemy as sa
from alembic import op

revision = "0008_office"
down_revision = "0007_complications_and_follow_up"
branch_labels = None
depends_on = None

TEXT = sa.Text()
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
REAL = sa.Double().with_variant(sa.REAL(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
MOMENT = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "theatre_list_line",
        sa.Column("site_id", WHOLE, nullable=False),
        sa.Column("listed_on", DAY, nullable=False),
        sa.Column("line_number", WHOLE, nullable=False),
        sa.Column("hospital_number", TEXT),
        sa.Column("hospital_number_index", TEXT),
        sa.Column("wording", TEXT),
        sa.Column("state", TEXT, nullable=False),
        sa.Column("operation_id", WHOLE),
        sa.Column("said_by", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_theatre_list_line")),
        sa.UniqueConstraint("site_id", "listed_on", "line_number", name=op.f("uq_theatre_list_line_natural_key")),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_theatre_list_line_operation_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_theatre_list_line_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["site_id"], ["site.id"], name=op.f("fk_theatre_list_line_site_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint(
            "listed_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_theatre_list_line_listed_on_within")
        ),
        sa.CheckConstraint(
            "listed_on IS NULL OR coalesce(date(listed_on) = listed_on, 0)",
            name=op.f("ck_theatre_list_line_listed_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("line_number BETWEEN 1 AND 999", name=op.f("ck_theatre_list_line_line_number_within")),
        sa.CheckConstraint(
            "state IN ('open', 'matched', 'cancelled', 'not_stone')", name=op.f("ck_theatre_list_line_state_listed")
        ),
        sa.CheckConstraint("length(said_by) BETWEEN 1 AND 60", name=op.f("ck_theatre_list_line_said_by_length")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_theatre_list_line_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_theatre_list_line_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_theatre_list_line_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_theatre_list_line_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_theatre_list_line_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_theatre_list_line_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_theatre_list_line_operation_id"), "theatre_list_line", ["operation_id"])
    op.bring_back_parked("theatre_list_line")
    op.create_table(
        "cost_rate",
        sa.Column("site_id", WHOLE, nullable=False),
        sa.Column("item", TEXT, nullable=False),
        sa.Column("item_detail", TEXT, nullable=False),
        sa.Column("since", DAY, nullable=False),
        sa.Column("amount", REAL, nullable=False),
        sa.Column("currency", TEXT, nullable=False),
        sa.Column("price_year", WHOLE, nullable=False),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cost_rate")),
        sa.UniqueConstraint("site_id", "item", "item_detail", "since", name=op.f("uq_cost_rate_natural_key")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_cost_rate_site_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_cost_rate_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint(
            "item IN ('theatre_minute', 'bed_day', 'intensive_care_day', 'clinic_visit', 'emergency_visit', 'ct', 'ultrasound', 'kub', 'stent_removal', 'reprocessing', 'drug', 'other')",
            name=op.f("ck_cost_rate_item_listed"),
        ),
        sa.CheckConstraint("length(item_detail) BETWEEN 1 AND 60", name=op.f("ck_cost_rate_item_detail_length")),
        sa.CheckConstraint("since BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_cost_rate_since_within")),
        sa.CheckConstraint(
            "since IS NULL OR coalesce(date(since) = since, 0)", name=op.f("ck_cost_rate_since_is_date")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("amount BETWEEN 0 AND 10000000", name=op.f("ck_cost_rate_amount_within")),
        sa.CheckConstraint(
            "currency IN ('EUR', 'GBP', 'USD', 'CHF', 'SEK', 'NOK', 'DKK', 'PLN', 'CZK', 'INR', 'CNY', 'JPY', 'AUD', 'NZD', 'CAD', 'BRL', 'TRY', 'ZAR')",
            name=op.f("ck_cost_rate_currency_listed"),
        ),
        sa.CheckConstraint("price_year BETWEEN 1970 AND 2200", name=op.f("ck_cost_rate_price_year_within")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_cost_rate_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_cost_rate_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_cost_rate_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_cost_rate_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_cost_rate_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_cost_rate_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("cost_rate")
    op.create_table(
        "local_field",
        sa.Column("site_id", WHOLE, nullable=False),
        sa.Column("belongs_to", TEXT, nullable=False),
        sa.Column("field_name", TEXT, nullable=False),
        sa.Column("field_label", TEXT, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("field_unit", TEXT),
        sa.Column("low", REAL),
        sa.Column("high", REAL),
        sa.Column("choices", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_local_field")),
        sa.UniqueConstraint("site_id", "belongs_to", "field_name", name=op.f("uq_local_field_natural_key")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_local_field_site_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_local_field_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint(
            "belongs_to IN ('patient', 'operation', 'treated_side')", name=op.f("ck_local_field_belongs_to_listed")
        ),
        sa.CheckConstraint("length(field_name) BETWEEN 1 AND 60", name=op.f("ck_local_field_field_name_length")),
        sa.CheckConstraint("length(field_label) BETWEEN 1 AND 120", name=op.f("ck_local_field_field_label_length")),
        sa.CheckConstraint(
            "kind IN ('whole', 'number', 'code', 'day', 'text')", name=op.f("ck_local_field_kind_listed")
        ),
        sa.CheckConstraint("length(field_unit) BETWEEN 1 AND 40", name=op.f("ck_local_field_field_unit_length")),
        sa.CheckConstraint("low BETWEEN -1000000000000.0 AND 1000000000000.0", name=op.f("ck_local_field_low_within")),
        sa.CheckConstraint(
            "high BETWEEN -1000000000000.0 AND 1000000000000.0", name=op.f("ck_local_field_high_within")
        ),
        sa.CheckConstraint("length(choices) BETWEEN 1 AND 2000", name=op.f("ck_local_field_choices_length")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_local_field_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_local_field_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_local_field_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_local_field_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_local_field_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_local_field_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("local_field")
    op.create_table(
        "local_patient_value",
        sa.Column("local_field_id", WHOLE, nullable=False),
        sa.Column("patient_id", WHOLE, nullable=False),
        sa.Column("value", TEXT, nullable=False),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_local_patient_value")),
        sa.UniqueConstraint("local_field_id", "patient_id", name=op.f("uq_local_patient_value_natural_key")),
        sa.ForeignKeyConstraint(
            ["local_field_id"],
            ["local_field.id"],
            name=op.f("fk_local_patient_value_local_field_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["patient_id"], ["patient.id"], name=op.f("fk_local_patient_value_patient_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_local_patient_value_batch_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("length(value) BETWEEN 1 AND 200", name=op.f("ck_local_patient_value_value_length")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_local_patient_value_created_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "length(created_by) BETWEEN 1 AND 80", name=op.f("ck_local_patient_value_created_by_length")
        ),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_local_patient_value_changed_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_local_patient_value_changed_by_length")
        ),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_local_patient_value_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_local_patient_value_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_local_patient_value_patient_id"), "local_patient_value", ["patient_id"])
    op.bring_back_parked("local_patient_value")
    op.create_table(
        "local_operation_value",
        sa.Column("local_field_id", WHOLE, nullable=False),
        sa.Column("operation_id", WHOLE, nullable=False),
        sa.Column("value", TEXT, nullable=False),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_local_operation_value")),
        sa.UniqueConstraint("local_field_id", "operation_id", name=op.f("uq_local_operation_value_natural_key")),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_local_operation_value_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["local_field_id"],
            ["local_field.id"],
            name=op.f("fk_local_operation_value_local_field_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_local_operation_value_operation_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("length(value) BETWEEN 1 AND 200", name=op.f("ck_local_operation_value_value_length")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_local_operation_value_created_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "length(created_by) BETWEEN 1 AND 80", name=op.f("ck_local_operation_value_created_by_length")
        ),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_local_operation_value_changed_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_local_operation_value_changed_by_length")
        ),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_local_operation_value_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_local_operation_value_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_local_operation_value_operation_id"), "local_operation_value", ["operation_id"])
    op.bring_back_parked("local_operation_value")
    op.create_table(
        "local_side_value",
        sa.Column("local_field_id", WHOLE, nullable=False),
        sa.Column("treated_side_id", WHOLE, nullable=False),
        sa.Column("value", TEXT, nullable=False),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_local_side_value")),
        sa.UniqueConstraint("local_field_id", "treated_side_id", name=op.f("uq_local_side_value_natural_key")),
        sa.ForeignKeyConstraint(
            ["local_field_id"], ["local_field.id"], name=op.f("fk_local_side_value_local_field_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["treated_side_id"],
            ["treated_side.id"],
            name=op.f("fk_local_side_value_treated_side_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_local_side_value_batch_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("length(value) BETWEEN 1 AND 200", name=op.f("ck_local_side_value_value_length")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_local_side_value_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_local_side_value_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_local_side_value_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_local_side_value_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_local_side_value_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_local_side_value_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_local_side_value_treated_side_id"), "local_side_value", ["treated_side_id"])
    op.bring_back_parked("local_side_value")
    op.create_table(
        "setting",
        sa.Column("site_id", WHOLE, nullable=False),
        sa.Column("setting_name", TEXT, nullable=False),
        sa.Column("since", DAY, nullable=False),
        sa.Column("value", TEXT, nullable=False),
        sa.Column("reason", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_setting")),
        sa.UniqueConstraint("site_id", "setting_name", "since", name=op.f("uq_setting_natural_key")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_setting_batch_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_setting_site_id"), ondelete="RESTRICT"),
        sa.CheckConstraint("length(setting_name) BETWEEN 1 AND 80", name=op.f("ck_setting_setting_name_length")),
        sa.CheckConstraint("since BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_setting_since_within")),
        sa.CheckConstraint(
            "since IS NULL OR coalesce(date(since) = since, 0)", name=op.f("ck_setting_since_is_date")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(value) BETWEEN 1 AND 400", name=op.f("ck_setting_value_length")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_setting_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_setting_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_setting_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_setting_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_setting_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_setting_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("setting")
    op.create_table(
        "waiting_row",
        sa.Column("source_batch_id", WHOLE, nullable=False),
        sa.Column("sheet", TEXT, nullable=False),
        sa.Column("row_number", WHOLE, nullable=False),
        sa.Column("content", TEXT),
        sa.Column("state", TEXT, nullable=False),
        sa.Column("tried_at", MOMENT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_waiting_row")),
        sa.UniqueConstraint("source_batch_id", "sheet", "row_number", name=op.f("uq_waiting_row_natural_key")),
        sa.ForeignKeyConstraint(
            ["source_batch_id"], ["batch.id"], name=op.f("fk_waiting_row_source_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_waiting_row_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint("length(sheet) BETWEEN 1 AND 80", name=op.f("ck_waiting_row_sheet_length")),
        sa.CheckConstraint("row_number >= 1", name=op.f("ck_waiting_row_row_number_within")),
        sa.CheckConstraint("state IN ('waiting', 'placed', 'dropped')", name=op.f("ck_waiting_row_state_listed")),
        sa.CheckConstraint(
            "tried_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_waiting_row_tried_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_waiting_row_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_waiting_row_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_waiting_row_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_waiting_row_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_waiting_row_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_waiting_row_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("waiting_row")
    op.create_table(
        "patient_merge",
        sa.Column("kept_patient_id", WHOLE, nullable=False),
        sa.Column("merged_patient_id", WHOLE, nullable=False),
        sa.Column("merged_at", MOMENT, nullable=False),
        sa.Column("undone_at", MOMENT),
        sa.Column("moved_rows", TEXT),
        sa.Column("reason", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_patient_merge")),
        sa.UniqueConstraint(
            "kept_patient_id", "merged_patient_id", "merged_at", name=op.f("uq_patient_merge_natural_key")
        ),
        sa.ForeignKeyConstraint(
            ["merged_patient_id"], ["patient.id"], name=op.f("fk_patient_merge_merged_patient_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["kept_patient_id"], ["patient.id"], name=op.f("fk_patient_merge_kept_patient_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_patient_merge_batch_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint(
            "merged_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_patient_merge_merged_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "undone_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_patient_merge_undone_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_patient_merge_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_patient_merge_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_patient_merge_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_patient_merge_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_patient_merge_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_patient_merge_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_patient_merge_merged_patient_id"), "patient_merge", ["merged_patient_id"])
    op.bring_back_parked("patient_merge")
    op.create_table(
        "question",
        sa.Column("site_id", WHOLE, nullable=False),
        sa.Column("rule", TEXT, nullable=False),
        sa.Column("about_table", TEXT, nullable=False),
        sa.Column("about_row", WHOLE, nullable=False),
        sa.Column("about_field", TEXT),
        sa.Column("asked_at", MOMENT, nullable=False),
        sa.Column("asked", TEXT),
        sa.Column("asked_of", TEXT),
        sa.Column("state", TEXT, nullable=False),
        sa.Column("answer", TEXT),
        sa.Column("answered_by", TEXT),
        sa.Column("answered_at", MOMENT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_question")),
        sa.UniqueConstraint("rule", "about_table", "about_row", "asked_at", name=op.f("uq_question_natural_key")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_question_batch_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_question_site_id"), ondelete="RESTRICT"),
        sa.CheckConstraint("length(rule) BETWEEN 1 AND 80", name=op.f("ck_question_rule_length")),
        sa.CheckConstraint("length(about_table) BETWEEN 1 AND 60", name=op.f("ck_question_about_table_length")),
        sa.CheckConstraint("about_row >= 1", name=op.f("ck_question_about_row_within")),
        sa.CheckConstraint("length(about_field) BETWEEN 1 AND 60", name=op.f("ck_question_about_field_length")),
        sa.CheckConstraint(
            "asked_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_question_asked_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(asked_of) BETWEEN 1 AND 60", name=op.f("ck_question_asked_of_length")),
        sa.CheckConstraint(
            "state IN ('asked', 'answered', 'stands_as_recorded', 'mended')", name=op.f("ck_question_state_listed")
        ),
        sa.CheckConstraint("length(answered_by) BETWEEN 1 AND 60", name=op.f("ck_question_answered_by_length")),
        sa.CheckConstraint(
            "answered_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_question_answered_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_question_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_question_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_question_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_question_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_question_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_question_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_question_site_id"), "question", ["site_id"])
    op.bring_back_parked("question")
    op.create_table(
        "account",
        sa.Column("account_name", TEXT, nullable=False),
        sa.Column("secret_hash", TEXT),
        sa.Column("operator_id", WHOLE),
        sa.Column("disabled", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_account")),
        sa.UniqueConstraint("account_name", name=op.f("uq_account_natural_key")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_account_batch_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["operator_id"], ["operator.id"], name=op.f("fk_account_operator_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("length(account_name) BETWEEN 1 AND 60", name=op.f("ck_account_account_name_length")),
        sa.CheckConstraint("disabled IN ('yes', 'no')", name=op.f("ck_account_disabled_listed")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_account_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_account_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_account_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_account_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_account_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_account_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_account_operator_id"), "account", ["operator_id"])
    op.bring_back_parked("account")
    op.create_table(
        "role",
        sa.Column("account_id", WHOLE, nullable=False),
        sa.Column("site_id", WHOLE, nullable=False),
        sa.Column("role", TEXT, nullable=False),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_role")),
        sa.UniqueConstraint("account_id", "site_id", "role", name=op.f("uq_role_natural_key")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_role_batch_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(["account_id"], ["account.id"], name=op.f("fk_role_account_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_role_site_id"), ondelete="RESTRICT"),
        sa.CheckConstraint(
            "role IN ('data_manager', 'surgeon', 'research_fellow', 'identity', 'administrator')",
            name=op.f("ck_role_role_listed"),
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_role_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_role_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_role_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_role_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_role_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_role_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_role_site_id"), "role", ["site_id"])
    op.bring_back_parked("role")


def downgrade() -> None:
    op.park_table("role")
    op.park_table("account")
    op.park_table("question")
    op.park_table("patient_merge")
    op.park_table("waiting_row")
    op.park_table("setting")
    op.park_table("local_side_value")
    op.park_table("local_operation_value")
    op.park_table("local_patient_value")
    op.park_table("local_field")
    op.park_table("cost_rate")
    op.park_table("theatre_list_line")
