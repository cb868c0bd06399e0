"""Complications, gradings and what happened later."""

import sqlalchemy as sa
from alembic import op

revision = "0007_complications_and_follow_up"
down_revision = "0006_imaging"
branch_labels = None
depends_on = None

TEXT = sa.Text()
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
REAL = sa.Double().with_variant(sa.REAL(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
MOMENT = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "complication",
        sa.Column("operation_id", WHOLE, nullable=False),
        sa.Column("complication_number", WHOLE, nullable=False),
        sa.Column("renal_unit_id", WHOLE),
        sa.Column("what", TEXT, nullable=False),
        sa.Column("onset_on", DAY),
        sa.Column("onset_on_precision", TEXT),
        sa.Column("equipment_related", TEXT),
        sa.Column("organs_failing", WHOLE),
        sa.Column("present_at_discharge", TEXT),
        sa.Column("died_of_it", TEXT),
        sa.Column("place", TEXT),
        sa.Column("readmission_id", WHOLE),
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
        sa.PrimaryKeyConstraint("id", name=op.f("pk_complication")),
        sa.UniqueConstraint("operation_id", "complication_number", name=op.f("uq_complication_natural_key")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_complication_batch_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["renal_unit_id"], ["renal_unit.id"], name=op.f("fk_complication_renal_unit_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["readmission_id"], ["admission.id"], name=op.f("fk_complication_readmission_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_complication_operation_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint(
            "complication_number BETWEEN 1 AND 50", name=op.f("ck_complication_complication_number_within")
        ),
        sa.CheckConstraint(
            "what IN ('fever', 'urinary_infection', 'febrile_urinary_infection', 'sepsis', 'septic_shock', 'bleeding', 'clot_retention', 'haematoma', 'colic', 'obstruction', 'steinstrasse', 'stent_symptoms', 'stent_migration', 'urinary_retention', 'ureteric_injury', 'urinoma', 'adjacent_organ', 'acute_kidney_injury', 'thrombosis', 'pulmonary_embolism', 'cardiac', 'cerebrovascular', 'pulmonary', 'drug_reaction', 'wound', 'other')",
            name=op.f("ck_complication_what_listed"),
        ),
        sa.CheckConstraint(
            "onset_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_complication_onset_on_within")
        ),
        sa.CheckConstraint(
            "onset_on IS NULL OR coalesce(date(onset_on) = onset_on, 0)", name=op.f("ck_complication_onset_on_is_date")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "onset_on_precision IS NULL OR onset_on_precision = 'day' OR (onset_on_precision = 'month' AND substr(CAST(onset_on AS TEXT), 9, 2) = '01') OR (onset_on_precision = 'year' AND substr(CAST(onset_on AS TEXT), 6, 5) = '01-01')",
            name=op.f("ck_complication_onset_on_precision_kept"),
        ),
        sa.CheckConstraint(
            "onset_on_precision IN ('day', 'month', 'year')", name=op.f("ck_complication_onset_on_precision_listed")
        ),
        sa.CheckConstraint("equipment_related IN ('yes', 'no')", name=op.f("ck_complication_equipment_related_listed")),
        sa.CheckConstraint("organs_failing BETWEEN 0 AND 6", name=op.f("ck_complication_organs_failing_within")),
        sa.CheckConstraint(
            "present_at_discharge IN ('yes', 'no')", name=op.f("ck_complication_present_at_discharge_listed")
        ),
        sa.CheckConstraint("died_of_it IN ('yes', 'no')", name=op.f("ck_complication_died_of_it_listed")),
        sa.CheckConstraint("place IN ('here', 'elsewhere')", name=op.f("ck_complication_place_listed")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_complication_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_complication_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_complication_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_complication_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_complication_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_complication_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_complication_readmission_id"), "complication", ["readmission_id"])
    op.create_index(op.f("ix_complication_renal_unit_id"), "complication", ["renal_unit_id"])
    op.bring_back_parked("complication")
    op.create_table(
        "complication_also_after",
        sa.Column("complication_id", WHOLE, nullable=False),
        sa.Column("operation_id", WHOLE, nullable=False),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_complication_also_after")),
        sa.UniqueConstraint("complication_id", "operation_id", name=op.f("uq_complication_also_after_natural_key")),
        sa.ForeignKeyConstraint(
            ["complication_id"],
            ["complication.id"],
            name=op.f("fk_complication_also_after_complication_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["operation_id"],
            ["operation.id"],
            name=op.f("fk_complication_also_after_operation_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_complication_also_after_batch_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_complication_also_after_created_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "length(created_by) BETWEEN 1 AND 80", name=op.f("ck_complication_also_after_created_by_length")
        ),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_complication_also_after_changed_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_complication_also_after_changed_by_length")
        ),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_complication_also_after_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_complication_also_after_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_complication_also_after_operation_id"), "complication_also_after", ["operation_id"])
    op.bring_back_parked("complication_also_after")
    op.create_table(
        "therapy",
        sa.Column("complication_id", WHOLE, nullable=False),
        sa.Column("therapy_number", WHOLE, nullable=False),
        sa.Column("what", TEXT, nullable=False),
        sa.Column("given_on", DAY),
        sa.Column("anaesthesia", TEXT),
        sa.Column("treating_operation_id", WHOLE),
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
        sa.PrimaryKeyConstraint("id", name=op.f("pk_therapy")),
        sa.UniqueConstraint("complication_id", "therapy_number", name=op.f("uq_therapy_natural_key")),
        sa.ForeignKeyConstraint(
            ["complication_id"], ["complication.id"], name=op.f("fk_therapy_complication_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_therapy_batch_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["treating_operation_id"],
            ["operation.id"],
            name=op.f("fk_therapy_treating_operation_id"),
            ondelete="RESTRICT",
        ),
        sa.CheckConstraint("therapy_number BETWEEN 1 AND 50", name=op.f("ck_therapy_therapy_number_within")),
        sa.CheckConstraint(
            "what IN ('none', 'antiemetic', 'antipyretic', 'analgesic', 'diuretic', 'fluids', 'physiotherapy', 'bedside_wound', 'urethral_catheter', 'antibiotic', 'prolonged_prophylaxis', 'alpha_blocker', 'anticoagulant', 'vasopressor', 'other_drug', 'transfusion', 'parenteral_nutrition', 'stent_placed', 'nephrostomy_placed', 'ureteroscopy', 'clot_evacuation', 'embolisation', 'drainage', 'laparoscopy', 'open_surgery', 'other_intervention', 'intermediate_care', 'intensive_care', 'ventilation', 'dialysis')",
            name=op.f("ck_therapy_what_listed"),
        ),
        sa.CheckConstraint("given_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_therapy_given_on_within")),
        sa.CheckConstraint(
            "given_on IS NULL OR coalesce(date(given_on) = given_on, 0)", name=op.f("ck_therapy_given_on_is_date")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "anaesthesia IN ('none', 'local', 'sedation', 'regional', 'general')",
            name=op.f("ck_therapy_anaesthesia_listed"),
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_therapy_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_therapy_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_therapy_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_therapy_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_therapy_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_therapy_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_therapy_treating_operation_id"), "therapy", ["treating_operation_id"])
    op.bring_back_parked("therapy")
    op.create_table(
        "grading",
        sa.Column("complication_id", WHOLE, nullable=False),
        sa.Column("grading_number", WHOLE, nullable=False),
        sa.Column("grader", TEXT, nullable=False),
        sa.Column("grader_code", TEXT),
        sa.Column("grade", TEXT, nullable=False),
        sa.Column("suffix_d", TEXT),
        sa.Column("rule_version", TEXT),
        sa.Column("graded_on", DAY),
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
        sa.PrimaryKeyConstraint("id", name=op.f("pk_grading")),
        sa.UniqueConstraint("complication_id", "grading_number", name=op.f("uq_grading_natural_key")),
        sa.ForeignKeyConstraint(
            ["complication_id"], ["complication.id"], name=op.f("fk_grading_complication_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_grading_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint("grading_number BETWEEN 1 AND 20", name=op.f("ck_grading_grading_number_within")),
        sa.CheckConstraint("grader IN ('first', 'second', 'agreed')", name=op.f("ck_grading_grader_listed")),
        sa.CheckConstraint("length(grader_code) BETWEEN 1 AND 20", name=op.f("ck_grading_grader_code_length")),
        sa.CheckConstraint(
            "grade IN ('I', 'II', 'IIIa', 'IIIb', 'IVa', 'IVb', 'V')", name=op.f("ck_grading_grade_listed")
        ),
        sa.CheckConstraint("suffix_d IN ('yes', 'no')", name=op.f("ck_grading_suffix_d_listed")),
        sa.CheckConstraint("length(rule_version) BETWEEN 1 AND 40", name=op.f("ck_grading_rule_version_length")),
        sa.CheckConstraint("graded_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_grading_graded_on_within")),
        sa.CheckConstraint(
            "graded_on IS NULL OR coalesce(date(graded_on) = graded_on, 0)", name=op.f("ck_grading_graded_on_is_date")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_grading_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_grading_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_grading_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_grading_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_grading_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_grading_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("grading")
    op.create_table(
        "later_entry",
        sa.Column("patient_id", WHOLE, nullable=False),
        sa.Column("occurred_on", DAY, nullable=False),
        sa.Column("occurred_on_precision", TEXT),
        sa.Column("entry_number", WHOLE, nullable=False),
        sa.Column("what", TEXT, nullable=False),
        sa.Column("renal_unit_id", WHOLE),
        sa.Column("place", TEXT),
        sa.Column("technique", TEXT),
        sa.Column("planned_stage_id", WHOLE),
        sa.Column("size_mm", REAL),
        sa.Column("source", TEXT),
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
        sa.PrimaryKeyConstraint("id", name=op.f("pk_later_entry")),
        sa.UniqueConstraint("patient_id", "occurred_on", "entry_number", name=op.f("uq_later_entry_natural_key")),
        sa.ForeignKeyConstraint(
            ["planned_stage_id"],
            ["planned_stage.id"],
            name=op.f("fk_later_entry_planned_stage_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["patient_id"], ["patient.id"], name=op.f("fk_later_entry_patient_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["renal_unit_id"], ["renal_unit.id"], name=op.f("fk_later_entry_renal_unit_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_later_entry_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint(
            "occurred_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_later_entry_occurred_on_within")
        ),
        sa.CheckConstraint(
            "occurred_on IS NULL OR coalesce(date(occurred_on) = occurred_on, 0)",
            name=op.f("ck_later_entry_occurred_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "occurred_on_precision IS NULL OR occurred_on_precision = 'day' OR (occurred_on_precision = 'month' AND substr(CAST(occurred_on AS TEXT), 9, 2) = '01') OR (occurred_on_precision = 'year' AND substr(CAST(occurred_on AS TEXT), 6, 5) = '01-01')",
            name=op.f("ck_later_entry_occurred_on_precision_kept"),
        ),
        sa.CheckConstraint(
            "occurred_on_precision IN ('day', 'month', 'year')",
            name=op.f("ck_later_entry_occurred_on_precision_listed"),
        ),
        sa.CheckConstraint("entry_number BETWEEN 1 AND 20", name=op.f("ck_later_entry_entry_number_within")),
        sa.CheckConstraint(
            "what IN ('unplanned_attendance', 'stone_episode', 'fragment_passed', 'retreatment', 'regrowth', 'new_stone', 'stricture', 'loss_of_kidney', 'lost_to_follow_up', 'other')",
            name=op.f("ck_later_entry_what_listed"),
        ),
        sa.CheckConstraint("place IN ('here', 'elsewhere')", name=op.f("ck_later_entry_place_listed")),
        sa.CheckConstraint(
            "technique IN ('flexible', 'semirigid', 'percutaneous', 'mini_percutaneous', 'combined', 'shock_wave', 'open', 'laparoscopic', 'robotic')",
            name=op.f("ck_later_entry_technique_listed"),
        ),
        sa.CheckConstraint("size_mm BETWEEN 0.1 AND 200", name=op.f("ck_later_entry_size_mm_within")),
        sa.CheckConstraint(
            "source IN ('record', 'other_hospital', 'family_doctor', 'patient', 'relative', 'death_register', 'estimated')",
            name=op.f("ck_later_entry_source_listed"),
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_later_entry_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_later_entry_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_later_entry_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_later_entry_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_later_entry_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_later_entry_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_later_entry_planned_stage_id"), "later_entry", ["planned_stage_id"])
    op.create_index(op.f("ix_later_entry_renal_unit_id"), "later_entry", ["renal_unit_id"])
    op.bring_back_parked("later_entry")
    op.create_table(
        "contact",
        sa.Column("patient_id", WHOLE, nullable=False),
        sa.Column("contacted_on", DAY, nullable=False),
        sa.Column("contact_number", WHOLE, nullable=False),
        sa.Column("method", TEXT),
        sa.Column("complications_known_to", DAY),
        sa.Column("stone_events_known_to", DAY),
        sa.Column("stent_symptoms", WHOLE),
        sa.Column("quality_of_life", WHOLE),
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
        sa.PrimaryKeyConstraint("id", name=op.f("pk_contact")),
        sa.UniqueConstraint("patient_id", "contacted_on", "contact_number", name=op.f("uq_contact_natural_key")),
        sa.ForeignKeyConstraint(
            ["patient_id"], ["patient.id"], name=op.f("fk_contact_patient_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_contact_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint(
            "contacted_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_contact_contacted_on_within")
        ),
        sa.CheckConstraint(
            "contacted_on IS NULL OR coalesce(date(contacted_on) = contacted_on, 0)",
            name=op.f("ck_contact_contacted_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("contact_number BETWEEN 1 AND 9", name=op.f("ck_contact_contact_number_within")),
        sa.CheckConstraint(
            "method IN ('record_review', 'clinic', 'telephone', 'letter')", name=op.f("ck_contact_method_listed")
        ),
        sa.CheckConstraint(
            "complications_known_to BETWEEN '1900-01-01' AND '2200-01-01'",
            name=op.f("ck_contact_complications_known_to_within"),
        ),
        sa.CheckConstraint(
            "complications_known_to IS NULL OR coalesce(date(complications_known_to) = complications_known_to, 0)",
            name=op.f("ck_contact_complications_known_to_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "stone_events_known_to BETWEEN '1900-01-01' AND '2200-01-01'",
            name=op.f("ck_contact_stone_events_known_to_within"),
        ),
        sa.CheckConstraint(
            "stone_events_known_to IS NULL OR coalesce(date(stone_events_known_to) = stone_events_known_to, 0)",
            name=op.f("ck_contact_stone_events_known_to_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("stent_symptoms BETWEEN 0 AND 10", name=op.f("ck_contact_stent_symptoms_within")),
        sa.CheckConstraint("quality_of_life BETWEEN 0 AND 100", name=op.f("ck_contact_quality_of_life_within")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_contact_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_contact_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_contact_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_contact_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_contact_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_contact_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("contact")


def downgrade() -> None:
    op.park_table("contact")
    op.park_table("later_entry")
    op.park_table("grading")
    op.park_table("therapy")
    op.park_table("complication_also_after")
    op.park_table("complication")
