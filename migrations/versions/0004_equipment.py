"""The equipment catalogue, items, uses and drainage."""

import sqlalchemy as sa
from alembic import op

revision = "0004_equipment"
down_revision = "0003_stones"
branch_labels = None
depends_on = None

TEXT = sa.Text()
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
REAL = sa.Double().with_variant(sa.REAL(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
MOMENT = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "equipment_model",
        sa.Column("site_id", WHOLE, nullable=False),
        sa.Column("model_code", TEXT, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("description", TEXT),
        sa.Column("tip_tenths_fr", WHOLE),
        sa.Column("shaft_tenths_fr", WHOLE),
        sa.Column("inner_tenths_fr", WHOLE),
        sa.Column("outer_tenths_fr", WHOLE),
        sa.Column("length_cm", REAL),
        sa.Column("channel_tenths_fr", WHOLE),
        sa.Column("wire_thousandths_inch", WHOLE),
        sa.Column("fibre_core_um", WHOLE),
        sa.Column("single_use", TEXT),
        sa.Column("suction", TEXT),
        sa.Column("steerable_tip", TEXT),
        sa.Column("device_identifier", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_equipment_model")),
        sa.UniqueConstraint("site_id", "model_code", name=op.f("uq_equipment_model_natural_key")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_equipment_model_site_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_equipment_model_batch_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("length(model_code) BETWEEN 1 AND 40", name=op.f("ck_equipment_model_model_code_length")),
        sa.CheckConstraint(
            "kind IN ('scope', 'semirigid_scope', 'nephroscope', 'access_sheath', 'percutaneous_sheath', 'guidewire', 'retrieval_device', 'laser_fibre', 'energy_generator', 'irrigation', 'suction_source', 'dilator', 'stent', 'shock_wave_source', 'pressure_sensor', 'other')",
            name=op.f("ck_equipment_model_kind_listed"),
        ),
        sa.CheckConstraint("length(description) BETWEEN 1 AND 120", name=op.f("ck_equipment_model_description_length")),
        sa.CheckConstraint("tip_tenths_fr BETWEEN 5 AND 400", name=op.f("ck_equipment_model_tip_tenths_fr_within")),
        sa.CheckConstraint("shaft_tenths_fr BETWEEN 5 AND 400", name=op.f("ck_equipment_model_shaft_tenths_fr_within")),
        sa.CheckConstraint("inner_tenths_fr BETWEEN 5 AND 400", name=op.f("ck_equipment_model_inner_tenths_fr_within")),
        sa.CheckConstraint("outer_tenths_fr BETWEEN 5 AND 400", name=op.f("ck_equipment_model_outer_tenths_fr_within")),
        sa.CheckConstraint("length_cm BETWEEN 1 AND 400", name=op.f("ck_equipment_model_length_cm_within")),
        sa.CheckConstraint(
            "channel_tenths_fr BETWEEN 5 AND 200", name=op.f("ck_equipment_model_channel_tenths_fr_within")
        ),
        sa.CheckConstraint(
            "wire_thousandths_inch BETWEEN 5 AND 80", name=op.f("ck_equipment_model_wire_thousandths_inch_within")
        ),
        sa.CheckConstraint("fibre_core_um BETWEEN 50 AND 1500", name=op.f("ck_equipment_model_fibre_core_um_within")),
        sa.CheckConstraint("single_use IN ('yes', 'no')", name=op.f("ck_equipment_model_single_use_listed")),
        sa.CheckConstraint("suction IN ('yes', 'no')", name=op.f("ck_equipment_model_suction_listed")),
        sa.CheckConstraint("steerable_tip IN ('yes', 'no')", name=op.f("ck_equipment_model_steerable_tip_listed")),
        sa.CheckConstraint(
            "length(device_identifier) BETWEEN 1 AND 60", name=op.f("ck_equipment_model_device_identifier_length")
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_equipment_model_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_equipment_model_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_equipment_model_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_equipment_model_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_equipment_model_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_equipment_model_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("equipment_model")
    op.create_table(
        "equipment_price",
        sa.Column("equipment_model_id", WHOLE, nullable=False),
        sa.Column("since", DAY, nullable=False),
        sa.Column("price", REAL, nullable=False),
        sa.Column("currency", TEXT, nullable=False),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_equipment_price")),
        sa.UniqueConstraint("equipment_model_id", "since", name=op.f("uq_equipment_price_natural_key")),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_equipment_price_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["equipment_model_id"],
            ["equipment_model.id"],
            name=op.f("fk_equipment_price_equipment_model_id"),
            ondelete="RESTRICT",
        ),
        sa.CheckConstraint("since BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_equipment_price_since_within")),
        sa.CheckConstraint(
            "since IS NULL OR coalesce(date(since) = since, 0)", name=op.f("ck_equipment_price_since_is_date")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("price BETWEEN 0 AND 10000000", name=op.f("ck_equipment_price_price_within")),
        sa.CheckConstraint(
            "currency IN ('EUR', 'GBP', 'USD', 'CHF', 'SEK', 'NOK', 'DKK', 'PLN', 'CZK', 'INR', 'CNY', 'JPY', 'AUD', 'NZD', 'CAD', 'BRL', 'TRY', 'ZAR')",
            name=op.f("ck_equipment_price_currency_listed"),
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_equipment_price_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_equipment_price_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_equipment_price_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_equipment_price_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_equipment_price_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_equipment_price_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("equipment_price")
    op.create_table(
        "equipment_item",
        sa.Column("equipment_model_id", WHOLE, nullable=False),
        sa.Column("serial", TEXT, nullable=False),
        sa.Column("acquired_on", DAY),
        sa.Column("retired_on", DAY),
        sa.Column("uses_before", WHOLE),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_equipment_item")),
        sa.UniqueConstraint("equipment_model_id", "serial", name=op.f("uq_equipment_item_natural_key")),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_equipment_item_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["equipment_model_id"],
            ["equipment_model.id"],
            name=op.f("fk_equipment_item_equipment_model_id"),
            ondelete="RESTRICT",
        ),
        sa.CheckConstraint("length(serial) BETWEEN 1 AND 60", name=op.f("ck_equipment_item_serial_length")),
        sa.CheckConstraint(
            "acquired_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_equipment_item_acquired_on_within")
        ),
        sa.CheckConstraint(
            "acquired_on IS NULL OR coalesce(date(acquired_on) = acquired_on, 0)",
            name=op.f("ck_equipment_item_acquired_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "retired_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_equipment_item_retired_on_within")
        ),
        sa.CheckConstraint(
            "retired_on IS NULL OR coalesce(date(retired_on) = retired_on, 0)",
            name=op.f("ck_equipment_item_retired_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("uses_before BETWEEN 0 AND 10000", name=op.f("ck_equipment_item_uses_before_within")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_equipment_item_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_equipment_item_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_equipment_item_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_equipment_item_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_equipment_item_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_equipment_item_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("equipment_item")
    op.create_table(
        "repair",
        sa.Column("equipment_item_id", WHOLE, nullable=False),
        sa.Column("repair_number", WHOLE, nullable=False),
        sa.Column("repaired_on", DAY, nullable=False),
        sa.Column("cost", REAL),
        sa.Column("currency", TEXT),
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
        sa.PrimaryKeyConstraint("id", name=op.f("pk_repair")),
        sa.UniqueConstraint("equipment_item_id", "repair_number", name=op.f("uq_repair_natural_key")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_repair_batch_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["equipment_item_id"], ["equipment_item.id"], name=op.f("fk_repair_equipment_item_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("repair_number BETWEEN 1 AND 999", name=op.f("ck_repair_repair_number_within")),
        sa.CheckConstraint(
            "repaired_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_repair_repaired_on_within")
        ),
        sa.CheckConstraint(
            "repaired_on IS NULL OR coalesce(date(repaired_on) = repaired_on, 0)",
            name=op.f("ck_repair_repaired_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("cost BETWEEN 0 AND 10000000", name=op.f("ck_repair_cost_within")),
        sa.CheckConstraint(
            "currency IN ('EUR', 'GBP', 'USD', 'CHF', 'SEK', 'NOK', 'DKK', 'PLN', 'CZK', 'INR', 'CNY', 'JPY', 'AUD', 'NZD', 'CAD', 'BRL', 'TRY', 'ZAR')",
            name=op.f("ck_repair_currency_listed"),
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_repair_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_repair_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_repair_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_repair_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_repair_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_repair_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("repair")
    op.create_table(
        "equipment_use",
        sa.Column("treated_side_id", WHOLE, nullable=False),
        sa.Column("use_number", WHOLE, nullable=False),
        sa.Column("equipment_model_id", WHOLE, nullable=False),
        sa.Column("equipment_item_id", WHOLE),
        sa.Column("first_intended", TEXT),
        sa.Column("result", TEXT),
        sa.Column("reason", TEXT),
        sa.Column("most_of_lithotripsy", TEXT),
        sa.Column("replaces_use", WHOLE),
        sa.Column("lot", TEXT),
        sa.Column("serial_as_scanned", TEXT),
        sa.Column("udi", TEXT),
        sa.Column("minutes", REAL),
        sa.Column("failure_stage", TEXT),
        sa.Column("failure_mode", TEXT),
        sa.Column("failure_consequence", TEXT),
        sa.Column("delay_min", WHOLE),
        sa.Column("reportable", TEXT),
        sa.Column("reported_to", TEXT),
        sa.Column("reported_on", DAY),
        sa.Column("retained", TEXT),
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
        sa.PrimaryKeyConstraint("id", name=op.f("pk_equipment_use")),
        sa.UniqueConstraint("treated_side_id", "use_number", name=op.f("uq_equipment_use_natural_key")),
        sa.ForeignKeyConstraint(
            ["treated_side_id"], ["treated_side.id"], name=op.f("fk_equipment_use_treated_side_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["equipment_item_id"],
            ["equipment_item.id"],
            name=op.f("fk_equipment_use_equipment_item_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["equipment_model_id"],
            ["equipment_model.id"],
            name=op.f("fk_equipment_use_equipment_model_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_equipment_use_batch_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("use_number BETWEEN 1 AND 99", name=op.f("ck_equipment_use_use_number_within")),
        sa.CheckConstraint("first_intended IN ('yes', 'no')", name=op.f("ck_equipment_use_first_intended_listed")),
        sa.CheckConstraint(
            "result IN ('passed', 'failed', 'exchanged', 'withdrawn')", name=op.f("ck_equipment_use_result_listed")
        ),
        sa.CheckConstraint(
            "reason IN ('tight_ureter', 'too_large', 'too_small', 'too_short', 'broken', 'poor_image', 'blocked', 'injury', 'surgeon_choice', 'other')",
            name=op.f("ck_equipment_use_reason_listed"),
        ),
        sa.CheckConstraint(
            "most_of_lithotripsy IN ('yes', 'no')", name=op.f("ck_equipment_use_most_of_lithotripsy_listed")
        ),
        sa.CheckConstraint("replaces_use BETWEEN 1 AND 99", name=op.f("ck_equipment_use_replaces_use_within")),
        sa.CheckConstraint("length(lot) BETWEEN 1 AND 40", name=op.f("ck_equipment_use_lot_length")),
        sa.CheckConstraint(
            "length(serial_as_scanned) BETWEEN 1 AND 40", name=op.f("ck_equipment_use_serial_as_scanned_length")
        ),
        sa.CheckConstraint("length(udi) BETWEEN 1 AND 200", name=op.f("ck_equipment_use_udi_length")),
        sa.CheckConstraint("minutes BETWEEN 0 AND 1440", name=op.f("ck_equipment_use_minutes_within")),
        sa.CheckConstraint(
            "failure_stage IN ('out_of_box', 'set_up', 'in_operation', 'withdrawal', 'reprocessing')",
            name=op.f("ck_equipment_use_failure_stage_listed"),
        ),
        sa.CheckConstraint(
            "failure_mode IN ('no_image', 'image_lost', 'deflection_lost', 'deflection_stuck', 'channel_leak', 'fibre_damage', 'light', 'shaft_fracture', 'packaging', 'connection', 'other')",
            name=op.f("ck_equipment_use_failure_mode_listed"),
        ),
        sa.CheckConstraint(
            "failure_consequence IN ('none', 'delay', 'replaced_same', 'replaced_other', 'abandoned', 'injury')",
            name=op.f("ck_equipment_use_failure_consequence_listed"),
        ),
        sa.CheckConstraint("delay_min BETWEEN 0 AND 1440", name=op.f("ck_equipment_use_delay_min_within")),
        sa.CheckConstraint("reportable IN ('yes', 'no', 'unsure')", name=op.f("ck_equipment_use_reportable_listed")),
        sa.CheckConstraint("length(reported_to) BETWEEN 1 AND 80", name=op.f("ck_equipment_use_reported_to_length")),
        sa.CheckConstraint(
            "reported_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_equipment_use_reported_on_within")
        ),
        sa.CheckConstraint(
            "reported_on IS NULL OR coalesce(date(reported_on) = reported_on, 0)",
            name=op.f("ck_equipment_use_reported_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("retained IN ('yes', 'no')", name=op.f("ck_equipment_use_retained_listed")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_equipment_use_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_equipment_use_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_equipment_use_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_equipment_use_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_equipment_use_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_equipment_use_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_equipment_use_equipment_item_id"), "equipment_use", ["equipment_item_id"])
    op.create_index(op.f("ix_equipment_use_equipment_model_id"), "equipment_use", ["equipment_model_id"])
    op.bring_back_parked("equipment_use")
    op.create_table(
        "drain",
        sa.Column("renal_unit_id", WHOLE, nullable=False),
        sa.Column("placed_on", DAY, nullable=False),
        sa.Column("placed_on_precision", TEXT),
        sa.Column("drain_number", WHOLE, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("placed_where", TEXT),
        sa.Column("operation_id", WHOLE),
        sa.Column("size_tenths_fr", WHOLE),
        sa.Column("on_string", TEXT),
        sa.Column("planned_removal_on", DAY),
        sa.Column("removed_on", DAY),
        sa.Column("removed_on_precision", TEXT),
        sa.Column("removed_where", TEXT),
        sa.Column("changed", TEXT),
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
        sa.PrimaryKeyConstraint("id", name=op.f("pk_drain")),
        sa.UniqueConstraint("renal_unit_id", "placed_on", "drain_number", name=op.f("uq_drain_natural_key")),
        sa.ForeignKeyConstraint(
            ["renal_unit_id"], ["renal_unit.id"], name=op.f("fk_drain_renal_unit_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_drain_batch_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_drain_operation_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("placed_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_drain_placed_on_within")),
        sa.CheckConstraint(
            "placed_on IS NULL OR coalesce(date(placed_on) = placed_on, 0)", name=op.f("ck_drain_placed_on_is_date")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "placed_on_precision IS NULL OR placed_on_precision = 'day' OR (placed_on_precision = 'month' AND substr(CAST(placed_on AS TEXT), 9, 2) = '01') OR (placed_on_precision = 'year' AND substr(CAST(placed_on AS TEXT), 6, 5) = '01-01')",
            name=op.f("ck_drain_placed_on_precision_kept"),
        ),
        sa.CheckConstraint(
            "placed_on_precision IN ('day', 'month', 'year')", name=op.f("ck_drain_placed_on_precision_listed")
        ),
        sa.CheckConstraint("drain_number BETWEEN 1 AND 9", name=op.f("ck_drain_drain_number_within")),
        sa.CheckConstraint("kind IN ('stent', 'nephrostomy', 'ureteric_catheter')", name=op.f("ck_drain_kind_listed")),
        sa.CheckConstraint("placed_where IN ('here', 'elsewhere')", name=op.f("ck_drain_placed_where_listed")),
        sa.CheckConstraint("size_tenths_fr BETWEEN 20 AND 300", name=op.f("ck_drain_size_tenths_fr_within")),
        sa.CheckConstraint("on_string IN ('yes', 'no')", name=op.f("ck_drain_on_string_listed")),
        sa.CheckConstraint(
            "planned_removal_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_drain_planned_removal_on_within")
        ),
        sa.CheckConstraint(
            "planned_removal_on IS NULL OR coalesce(date(planned_removal_on) = planned_removal_on, 0)",
            name=op.f("ck_drain_planned_removal_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("removed_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_drain_removed_on_within")),
        sa.CheckConstraint(
            "removed_on IS NULL OR coalesce(date(removed_on) = removed_on, 0)", name=op.f("ck_drain_removed_on_is_date")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "removed_on_precision IS NULL OR removed_on_precision = 'day' OR (removed_on_precision = 'month' AND substr(CAST(removed_on AS TEXT), 9, 2) = '01') OR (removed_on_precision = 'year' AND substr(CAST(removed_on AS TEXT), 6, 5) = '01-01')",
            name=op.f("ck_drain_removed_on_precision_kept"),
        ),
        sa.CheckConstraint(
            "removed_on_precision IN ('day', 'month', 'year')", name=op.f("ck_drain_removed_on_precision_listed")
        ),
        sa.CheckConstraint(
            "removed_where IN ('theatre', 'clinic', 'ward', 'home', 'elsewhere')",
            name=op.f("ck_drain_removed_where_listed"),
        ),
        sa.CheckConstraint("changed IN ('yes', 'no')", name=op.f("ck_drain_changed_listed")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_drain_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_drain_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_drain_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_drain_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_drain_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_drain_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_drain_operation_id"), "drain", ["operation_id"])
    op.bring_back_parked("drain")


def downgrade() -> None:
    op.park_table("drain")
    op.park_table("equipment_use")
    op.park_table("repair")
    op.park_table("equipment_item")
    op.park_table("equipment_price")
    op.park_table("equipment_model")
