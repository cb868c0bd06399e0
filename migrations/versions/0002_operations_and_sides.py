"""Operations, courses and treated sides."""

import sqlalchemy as sa
from alembic import op

revision = "0002_operations_and_sides"
down_revision = "0001_people_and_places"
branch_labels = None
depends_on = None

TEXT = sa.Text()
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
REAL = sa.Double().with_variant(sa.REAL(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
MOMENT = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "operation",
        sa.Column("patient_id", WHOLE, nullable=False),
        sa.Column("operated_on", DAY, nullable=False),
        sa.Column("day_number", WHOLE, nullable=False),
        sa.Column("admission_id", WHOLE),
        sa.Column("purpose", TEXT, nullable=False),
        sa.Column("indication", TEXT),
        sa.Column("urgency", TEXT),
        sa.Column("age_years", WHOLE),
        sa.Column("gestation_weeks", WHOLE),
        sa.Column("asa_class", TEXT),
        sa.Column("charlson", WHOLE),
        sa.Column("diabetes", TEXT),
        sa.Column("ischaemic_heart_disease", TEXT),
        sa.Column("chronic_kidney_disease", TEXT),
        sa.Column("immunosuppressed", TEXT),
        sa.Column("neurogenic_bladder", TEXT),
        sa.Column("spinal_disease", TEXT),
        sa.Column("frailty", WHOLE),
        sa.Column("performance_status", WHOLE),
        sa.Column("height_cm", REAL),
        sa.Column("weight_kg", REAL),
        sa.Column("prior_emergency_attendance", TEXT),
        sa.Column("prior_obstructive_infection", TEXT),
        sa.Column("anaesthesia", TEXT),
        sa.Column("position", TEXT),
        sa.Column("prophylaxis", TEXT),
        sa.Column("prophylaxis_before_min", WHOLE),
        sa.Column("prophylaxis_doses", WHOLE),
        sa.Column("anticoagulant", TEXT),
        sa.Column("anticoagulant_handling", TEXT),
        sa.Column("planned_staged", TEXT),
        sa.Column("started_at", MOMENT),
        sa.Column("ended_at", MOMENT),
        sa.Column("operating_min", WHOLE),
        sa.Column("operating_from", TEXT),
        sa.Column("operating_to", TEXT),
        sa.Column("room_min", WHOLE),
        sa.Column("fluoroscopy_s", WHOLE),
        sa.Column("dose_area_product_gy_cm2", REAL),
        sa.Column("signed_off_by", TEXT),
        sa.Column("signed_off_at", MOMENT),
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
        sa.PrimaryKeyConstraint("id", name=op.f("pk_operation")),
        sa.UniqueConstraint("patient_id", "operated_on", "day_number", name=op.f("uq_operation_natural_key")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_operation_batch_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["patient_id"], ["patient.id"], name=op.f("fk_operation_patient_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["admission_id"], ["admission.id"], name=op.f("fk_operation_admission_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint(
            "operated_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_operation_operated_on_within")
        ),
        sa.CheckConstraint(
            "operated_on IS NULL OR coalesce(date(operated_on) = operated_on, 0)",
            name=op.f("ck_operation_operated_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("day_number BETWEEN 1 AND 9", name=op.f("ck_operation_day_number_within")),
        sa.CheckConstraint(
            "purpose IN ('stone_removal', 'drainage', 'stent', 'diagnostic')", name=op.f("ck_operation_purpose_listed")
        ),
        sa.CheckConstraint(
            "indication IN ('pain', 'obstruction', 'infection', 'bleeding', 'growth', 'renal_function', 'patient_choice', 'occupation', 'residual', 'incidental', 'other')",
            name=op.f("ck_operation_indication_listed"),
        ),
        sa.CheckConstraint("urgency IN ('elective', 'urgent', 'emergency')", name=op.f("ck_operation_urgency_listed")),
        sa.CheckConstraint("age_years BETWEEN 0 AND 120", name=op.f("ck_operation_age_years_within")),
        sa.CheckConstraint("gestation_weeks BETWEEN 1 AND 45", name=op.f("ck_operation_gestation_weeks_within")),
        sa.CheckConstraint("asa_class IN ('1', '2', '3', '4', '5')", name=op.f("ck_operation_asa_class_listed")),
        sa.CheckConstraint("charlson BETWEEN 0 AND 37", name=op.f("ck_operation_charlson_within")),
        sa.CheckConstraint("diabetes IN ('yes', 'no')", name=op.f("ck_operation_diabetes_listed")),
        sa.CheckConstraint(
            "ischaemic_heart_disease IN ('yes', 'no')", name=op.f("ck_operation_ischaemic_heart_disease_listed")
        ),
        sa.CheckConstraint(
            "chronic_kidney_disease IN ('yes', 'no')", name=op.f("ck_operation_chronic_kidney_disease_listed")
        ),
        sa.CheckConstraint("immunosuppressed IN ('yes', 'no')", name=op.f("ck_operation_immunosuppressed_listed")),
        sa.CheckConstraint("neurogenic_bladder IN ('yes', 'no')", name=op.f("ck_operation_neurogenic_bladder_listed")),
        sa.CheckConstraint("spinal_disease IN ('yes', 'no')", name=op.f("ck_operation_spinal_disease_listed")),
        sa.CheckConstraint("frailty BETWEEN 1 AND 9", name=op.f("ck_operation_frailty_within")),
        sa.CheckConstraint("performance_status BETWEEN 0 AND 4", name=op.f("ck_operation_performance_status_within")),
        sa.CheckConstraint("height_cm BETWEEN 30 AND 260", name=op.f("ck_operation_height_cm_within")),
        sa.CheckConstraint("weight_kg BETWEEN 1 AND 400", name=op.f("ck_operation_weight_kg_within")),
        sa.CheckConstraint(
            "prior_emergency_attendance IN ('yes', 'no')", name=op.f("ck_operation_prior_emergency_attendance_listed")
        ),
        sa.CheckConstraint(
            "prior_obstructive_infection IN ('yes', 'no')", name=op.f("ck_operation_prior_obstructive_infection_listed")
        ),
        sa.CheckConstraint(
            "anaesthesia IN ('general', 'spinal', 'epidural', 'sedation', 'local', 'none')",
            name=op.f("ck_operation_anaesthesia_listed"),
        ),
        sa.CheckConstraint(
            "position IN ('lithotomy', 'supine', 'prone', 'prone_split_leg', 'lateral', 'modified_supine')",
            name=op.f("ck_operation_position_listed"),
        ),
        sa.CheckConstraint(
            "prophylaxis IN ('none', 'cephalosporin', 'aminoglycoside', 'penicillin', 'fluoroquinolone', 'carbapenem', 'nitrofurantoin', 'trimethoprim', 'fosfomycin', 'glycopeptide', 'combination', 'other')",
            name=op.f("ck_operation_prophylaxis_listed"),
        ),
        sa.CheckConstraint(
            "prophylaxis_before_min BETWEEN -240 AND 2880", name=op.f("ck_operation_prophylaxis_before_min_within")
        ),
        sa.CheckConstraint("prophylaxis_doses BETWEEN 0 AND 50", name=op.f("ck_operation_prophylaxis_doses_within")),
        sa.CheckConstraint(
            "anticoagulant IN ('none', 'aspirin', 'other_antiplatelet', 'vitamin_k_antagonist', 'direct_oral', 'heparin')",
            name=op.f("ck_operation_anticoagulant_listed"),
        ),
        sa.CheckConstraint(
            "anticoagulant_handling IN ('continued', 'stopped', 'bridged')",
            name=op.f("ck_operation_anticoagulant_handling_listed"),
        ),
        sa.CheckConstraint("planned_staged IN ('yes', 'no')", name=op.f("ck_operation_planned_staged_listed")),
        sa.CheckConstraint(
            "started_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_operation_started_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "ended_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_operation_ended_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("operating_min BETWEEN 0 AND 1440", name=op.f("ck_operation_operating_min_within")),
        sa.CheckConstraint(
            "operating_from IN ('first_equipment_in', 'anaesthesia', 'room_entry')",
            name=op.f("ck_operation_operating_from_listed"),
        ),
        sa.CheckConstraint(
            "operating_to IN ('last_drainage_placed', 'last_equipment_out', 'room_exit')",
            name=op.f("ck_operation_operating_to_listed"),
        ),
        sa.CheckConstraint("room_min BETWEEN 0 AND 1440", name=op.f("ck_operation_room_min_within")),
        sa.CheckConstraint("fluoroscopy_s BETWEEN 0 AND 7200", name=op.f("ck_operation_fluoroscopy_s_within")),
        sa.CheckConstraint(
            "dose_area_product_gy_cm2 BETWEEN 0 AND 1000", name=op.f("ck_operation_dose_area_product_gy_cm2_within")
        ),
        sa.CheckConstraint("length(signed_off_by) BETWEEN 1 AND 60", name=op.f("ck_operation_signed_off_by_length")),
        sa.CheckConstraint(
            "signed_off_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_operation_signed_off_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_operation_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_operation_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_operation_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_operation_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_operation_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_operation_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_operation_admission_id"), "operation", ["admission_id"])
    op.bring_back_parked("operation")
    op.create_table(
        "operation_operator",
        sa.Column("operation_id", WHOLE, nullable=False),
        sa.Column("person_number", WHOLE, nullable=False),
        sa.Column("operator_id", WHOLE, nullable=False),
        sa.Column("role", TEXT, nullable=False),
        sa.Column("part", TEXT),
        sa.Column("grade", TEXT),
        sa.Column("supervision", TEXT),
        sa.Column("made_access", TEXT),
        sa.Column("responsible", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_operation_operator")),
        sa.UniqueConstraint("operation_id", "person_number", name=op.f("uq_operation_operator_natural_key")),
        sa.ForeignKeyConstraint(
            ["operator_id"], ["operator.id"], name=op.f("fk_operation_operator_operator_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_operation_operator_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_operation_operator_operation_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("person_number BETWEEN 1 AND 20", name=op.f("ck_operation_operator_person_number_within")),
        sa.CheckConstraint(
            "role IN ('first', 'assistant', 'supervisor', 'access')", name=op.f("ck_operation_operator_role_listed")
        ),
        sa.CheckConstraint(
            "part IN ('whole', 'access', 'lithotripsy', 'left_side', 'right_side', 'part')",
            name=op.f("ck_operation_operator_part_listed"),
        ),
        sa.CheckConstraint(
            "grade IN ('consultant', 'fellow', 'specialist_trainee', 'junior_trainee', 'nurse_practitioner', 'other')",
            name=op.f("ck_operation_operator_grade_listed"),
        ),
        sa.CheckConstraint(
            "supervision IN ('independent', 'supervisor_available', 'supervisor_unscrubbed', 'supervisor_scrubbed')",
            name=op.f("ck_operation_operator_supervision_listed"),
        ),
        sa.CheckConstraint("made_access IN ('yes', 'no')", name=op.f("ck_operation_operator_made_access_listed")),
        sa.CheckConstraint("responsible IN ('yes', 'no')", name=op.f("ck_operation_operator_responsible_listed")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_operation_operator_created_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_operation_operator_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_operation_operator_changed_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_operation_operator_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_operation_operator_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_operation_operator_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_operation_operator_operator_id"), "operation_operator", ["operator_id"])
    op.bring_back_parked("operation_operator")
    op.create_table(
        "course",
        sa.Column("renal_unit_id", WHOLE, nullable=False),
        sa.Column("course_number", WHOLE, nullable=False),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_course")),
        sa.UniqueConstraint("renal_unit_id", "course_number", name=op.f("uq_course_natural_key")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_course_batch_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["renal_unit_id"], ["renal_unit.id"], name=op.f("fk_course_renal_unit_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("course_number BETWEEN 1 AND 99", name=op.f("ck_course_course_number_within")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_course_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_course_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_course_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_course_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_course_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_course_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("course")
    op.create_table(
        "planned_stage",
        sa.Column("course_id", WHOLE, nullable=False),
        sa.Column("stage_number", WHOLE, nullable=False),
        sa.Column("decided_on", DAY, nullable=False),
        sa.Column("kind", TEXT),
        sa.Column("technique", TEXT),
        sa.Column("dropped_on", DAY),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_planned_stage")),
        sa.UniqueConstraint("course_id", "stage_number", name=op.f("uq_planned_stage_natural_key")),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_planned_stage_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["course_id"], ["course.id"], name=op.f("fk_planned_stage_course_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("stage_number BETWEEN 1 AND 20", name=op.f("ck_planned_stage_stage_number_within")),
        sa.CheckConstraint(
            "decided_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_planned_stage_decided_on_within")
        ),
        sa.CheckConstraint(
            "decided_on IS NULL OR coalesce(date(decided_on) = decided_on, 0)",
            name=op.f("ck_planned_stage_decided_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "kind IN ('second_look', 'same_technique', 'other_technique')", name=op.f("ck_planned_stage_kind_listed")
        ),
        sa.CheckConstraint(
            "technique IN ('flexible', 'semirigid', 'percutaneous', 'mini_percutaneous', 'combined', 'shock_wave', 'open', 'laparoscopic', 'robotic')",
            name=op.f("ck_planned_stage_technique_listed"),
        ),
        sa.CheckConstraint(
            "dropped_on BETWEEN '1900-01-01' AND '2200-01-01'", name=op.f("ck_planned_stage_dropped_on_within")
        ),
        sa.CheckConstraint(
            "dropped_on IS NULL OR coalesce(date(dropped_on) = dropped_on, 0)",
            name=op.f("ck_planned_stage_dropped_on_is_date"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_planned_stage_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_planned_stage_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_planned_stage_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_planned_stage_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_planned_stage_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_planned_stage_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("planned_stage")
    op.create_table(
        "treated_side",
        sa.Column("operation_id", WHOLE, nullable=False),
        sa.Column("renal_unit_id", WHOLE, nullable=False),
        sa.Column("intent", TEXT, nullable=False),
        sa.Column("course_id", WHOLE),
        sa.Column("stage_number", WHOLE),
        sa.Column("conduct", TEXT),
        sa.Column("conduct_reason", TEXT),
        sa.Column("hydronephrosis", TEXT),
        sa.Column("pre_stented", TEXT),
        sa.Column("pre_stented_days", WHOLE),
        sa.Column("nephrostomy_before", TEXT),
        sa.Column("infundibulopelvic_angle_deg", WHOLE),
        sa.Column("angle_method", TEXT),
        sa.Column("infundibular_length_mm", REAL),
        sa.Column("infundibular_width_mm", REAL),
        sa.Column("ureter_dilated", TEXT),
        sa.Column("access_gained", TEXT),
        sa.Column("sheath_furthest", TEXT),
        sa.Column("sheath_in_upper_calyx", TEXT),
        sa.Column("sheath_in_middle_calyx", TEXT),
        sa.Column("sheath_in_lower_calyx", TEXT),
        sa.Column("safety_wire", TEXT),
        sa.Column("working_wire", TEXT),
        sa.Column("stone_relocated", TEXT),
        sa.Column("irrigation_drive", TEXT),
        sa.Column("irrigation_height_cm", WHOLE),
        sa.Column("irrigation_set_pressure_mmhg", WHOLE),
        sa.Column("hand_flushes", TEXT),
        sa.Column("irrigation_flow_ml_min", REAL),
        sa.Column("irrigation_in_ml", WHOLE),
        sa.Column("irrigation_out_ml", WHOLE),
        sa.Column("irrigation_temperature_c", REAL),
        sa.Column("suction", TEXT),
        sa.Column("suction_control", TEXT),
        sa.Column("suction_level_kpa", REAL),
        sa.Column("suction_pattern", TEXT),
        sa.Column("collapse_seen", TEXT),
        sa.Column("fragments_washed_out", TEXT),
        sa.Column("fragments_drawn_out", TEXT),
        sa.Column("fragments_retrieved", TEXT),
        sa.Column("fragments_left_to_pass", TEXT),
        sa.Column("pressure_baseline_cmh2o", REAL),
        sa.Column("pressure_mean_cmh2o", REAL),
        sa.Column("pressure_highest_cmh2o", REAL),
        sa.Column("pressure_threshold_cmh2o", REAL),
        sa.Column("pressure_above_threshold_s", WHOLE),
        sa.Column("visibility", TEXT),
        sa.Column("ureteric_lesion", TEXT),
        sa.Column("wall_injury", TEXT),
        sa.Column("satava", TEXT),
        sa.Column("surgeon_judgement", TEXT),
        sa.Column("exit_strategy", TEXT),
        sa.Column("planned_dwell_d", WHOLE),
        sa.Column("lithotripsy_min", REAL),
        sa.Column("side_operating_min", WHOLE),
        sa.Column("side_fluoroscopy_s", WHOLE),
        sa.Column("side_dose_area_product_gy_cm2", REAL),
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
        sa.PrimaryKeyConstraint("id", name=op.f("pk_treated_side")),
        sa.UniqueConstraint("operation_id", "renal_unit_id", name=op.f("uq_treated_side_natural_key")),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_treated_side_operation_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["renal_unit_id"], ["renal_unit.id"], name=op.f("fk_treated_side_renal_unit_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["course_id"], ["course.id"], name=op.f("fk_treated_side_course_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_treated_side_batch_id"), ondelete="RESTRICT"),
        sa.CheckConstraint(
            "intent IN ('stone_removal', 'drainage', 'stent', 'diagnostic')", name=op.f("ck_treated_side_intent_listed")
        ),
        sa.CheckConstraint("stage_number BETWEEN 0 AND 20", name=op.f("ck_treated_side_stage_number_within")),
        sa.CheckConstraint(
            "conduct IN ('completed', 'abandoned', 'not_started', 'no_stone_found')",
            name=op.f("ck_treated_side_conduct_listed"),
        ),
        sa.CheckConstraint(
            "conduct_reason IN ('tight_ureter', 'access_failed', 'stone_not_reached', 'poor_view', 'bleeding', 'ureteric_injury', 'pus', 'equipment_failure', 'anaesthetic', 'time', 'patient', 'other')",
            name=op.f("ck_treated_side_conduct_reason_listed"),
        ),
        sa.CheckConstraint(
            "hydronephrosis IN ('none', 'mild', 'moderate', 'severe')",
            name=op.f("ck_treated_side_hydronephrosis_listed"),
        ),
        sa.CheckConstraint("pre_stented IN ('yes', 'no')", name=op.f("ck_treated_side_pre_stented_listed")),
        sa.CheckConstraint("pre_stented_days BETWEEN 0 AND 3650", name=op.f("ck_treated_side_pre_stented_days_within")),
        sa.CheckConstraint(
            "nephrostomy_before IN ('yes', 'no')", name=op.f("ck_treated_side_nephrostomy_before_listed")
        ),
        sa.CheckConstraint(
            "infundibulopelvic_angle_deg BETWEEN 0 AND 180",
            name=op.f("ck_treated_side_infundibulopelvic_angle_deg_within"),
        ),
        sa.CheckConstraint(
            "angle_method IN ('ureteropelvic_axis', 'pelvis_infundibulum', 'retrograde', 'other')",
            name=op.f("ck_treated_side_angle_method_listed"),
        ),
        sa.CheckConstraint(
            "infundibular_length_mm BETWEEN 1 AND 100", name=op.f("ck_treated_side_infundibular_length_mm_within")
        ),
        sa.CheckConstraint(
            "infundibular_width_mm BETWEEN 0.1 AND 50", name=op.f("ck_treated_side_infundibular_width_mm_within")
        ),
        sa.CheckConstraint("ureter_dilated IN ('yes', 'no')", name=op.f("ck_treated_side_ureter_dilated_listed")),
        sa.CheckConstraint("access_gained IN ('yes', 'no')", name=op.f("ck_treated_side_access_gained_listed")),
        sa.CheckConstraint(
            "sheath_furthest IN ('distal_ureter', 'middle_ureter', 'proximal_ureter', 'junction', 'pelvis', 'calyx')",
            name=op.f("ck_treated_side_sheath_furthest_listed"),
        ),
        sa.CheckConstraint(
            "sheath_in_upper_calyx IN ('yes', 'no')", name=op.f("ck_treated_side_sheath_in_upper_calyx_listed")
        ),
        sa.CheckConstraint(
            "sheath_in_middle_calyx IN ('yes', 'no')", name=op.f("ck_treated_side_sheath_in_middle_calyx_listed")
        ),
        sa.CheckConstraint(
            "sheath_in_lower_calyx IN ('yes', 'no')", name=op.f("ck_treated_side_sheath_in_lower_calyx_listed")
        ),
        sa.CheckConstraint("safety_wire IN ('yes', 'no')", name=op.f("ck_treated_side_safety_wire_listed")),
        sa.CheckConstraint("working_wire IN ('yes', 'no')", name=op.f("ck_treated_side_working_wire_listed")),
        sa.CheckConstraint("stone_relocated IN ('yes', 'no')", name=op.f("ck_treated_side_stone_relocated_listed")),
        sa.CheckConstraint(
            "irrigation_drive IN ('gravity', 'pressure_bag', 'hand_pump', 'automatic_pump')",
            name=op.f("ck_treated_side_irrigation_drive_listed"),
        ),
        sa.CheckConstraint(
            "irrigation_height_cm BETWEEN 0 AND 300", name=op.f("ck_treated_side_irrigation_height_cm_within")
        ),
        sa.CheckConstraint(
            "irrigation_set_pressure_mmhg BETWEEN 0 AND 500",
            name=op.f("ck_treated_side_irrigation_set_pressure_mmhg_within"),
        ),
        sa.CheckConstraint("hand_flushes IN ('yes', 'no')", name=op.f("ck_treated_side_hand_flushes_listed")),
        sa.CheckConstraint(
            "irrigation_flow_ml_min BETWEEN 0 AND 2000", name=op.f("ck_treated_side_irrigation_flow_ml_min_within")
        ),
        sa.CheckConstraint(
            "irrigation_in_ml BETWEEN 0 AND 60000", name=op.f("ck_treated_side_irrigation_in_ml_within")
        ),
        sa.CheckConstraint(
            "irrigation_out_ml BETWEEN 0 AND 60000", name=op.f("ck_treated_side_irrigation_out_ml_within")
        ),
        sa.CheckConstraint(
            "irrigation_temperature_c BETWEEN 0 AND 45", name=op.f("ck_treated_side_irrigation_temperature_c_within")
        ),
        sa.CheckConstraint("suction IN ('none', 'through_sheath')", name=op.f("ck_treated_side_suction_listed")),
        sa.CheckConstraint(
            "suction_control IN ('at_sheath', 'at_canister', 'at_source', 'several')",
            name=op.f("ck_treated_side_suction_control_listed"),
        ),
        sa.CheckConstraint(
            "suction_level_kpa BETWEEN 0 AND 100", name=op.f("ck_treated_side_suction_level_kpa_within")
        ),
        sa.CheckConstraint(
            "suction_pattern IN ('continuous', 'intermittent')", name=op.f("ck_treated_side_suction_pattern_listed")
        ),
        sa.CheckConstraint("collapse_seen IN ('yes', 'no')", name=op.f("ck_treated_side_collapse_seen_listed")),
        sa.CheckConstraint(
            "fragments_washed_out IN ('yes', 'no')", name=op.f("ck_treated_side_fragments_washed_out_listed")
        ),
        sa.CheckConstraint(
            "fragments_drawn_out IN ('yes', 'no')", name=op.f("ck_treated_side_fragments_drawn_out_listed")
        ),
        sa.CheckConstraint(
            "fragments_retrieved IN ('yes', 'no')", name=op.f("ck_treated_side_fragments_retrieved_listed")
        ),
        sa.CheckConstraint(
            "fragments_left_to_pass IN ('yes', 'no')", name=op.f("ck_treated_side_fragments_left_to_pass_listed")
        ),
        sa.CheckConstraint(
            "pressure_baseline_cmh2o BETWEEN -20 AND 500", name=op.f("ck_treated_side_pressure_baseline_cmh2o_within")
        ),
        sa.CheckConstraint(
            "pressure_mean_cmh2o BETWEEN -20 AND 500", name=op.f("ck_treated_side_pressure_mean_cmh2o_within")
        ),
        sa.CheckConstraint(
            "pressure_highest_cmh2o BETWEEN -20 AND 1000", name=op.f("ck_treated_side_pressure_highest_cmh2o_within")
        ),
        sa.CheckConstraint(
            "pressure_threshold_cmh2o BETWEEN 1 AND 500", name=op.f("ck_treated_side_pressure_threshold_cmh2o_within")
        ),
        sa.CheckConstraint(
            "pressure_above_threshold_s BETWEEN 0 AND 86400",
            name=op.f("ck_treated_side_pressure_above_threshold_s_within"),
        ),
        sa.CheckConstraint("visibility IN ('good', 'fair', 'poor')", name=op.f("ck_treated_side_visibility_listed")),
        sa.CheckConstraint(
            "ureteric_lesion IN ('0', '1', '2', '3', '4', '5')", name=op.f("ck_treated_side_ureteric_lesion_listed")
        ),
        sa.CheckConstraint("wall_injury IN ('0', '1', '2', '3', '4')", name=op.f("ck_treated_side_wall_injury_listed")),
        sa.CheckConstraint("satava IN ('0', '1', '2a', '2b', '3')", name=op.f("ck_treated_side_satava_listed")),
        sa.CheckConstraint(
            "surgeon_judgement IN ('nothing', 'dust', 'dust_and_fragments', 'fragments', 'not_judged')",
            name=op.f("ck_treated_side_surgeon_judgement_listed"),
        ),
        sa.CheckConstraint(
            "exit_strategy IN ('none', 'ureteric_catheter', 'stent', 'stent_on_string', 'nephrostomy', 'stent_and_nephrostomy')",
            name=op.f("ck_treated_side_exit_strategy_listed"),
        ),
        sa.CheckConstraint("planned_dwell_d BETWEEN 0 AND 365", name=op.f("ck_treated_side_planned_dwell_d_within")),
        sa.CheckConstraint("lithotripsy_min BETWEEN 0 AND 1440", name=op.f("ck_treated_side_lithotripsy_min_within")),
        sa.CheckConstraint(
            "side_operating_min BETWEEN 0 AND 1440", name=op.f("ck_treated_side_side_operating_min_within")
        ),
        sa.CheckConstraint(
            "side_fluoroscopy_s BETWEEN 0 AND 7200", name=op.f("ck_treated_side_side_fluoroscopy_s_within")
        ),
        sa.CheckConstraint(
            "side_dose_area_product_gy_cm2 BETWEEN 0 AND 1000",
            name=op.f("ck_treated_side_side_dose_area_product_gy_cm2_within"),
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_treated_side_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_treated_side_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_treated_side_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_treated_side_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_treated_side_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_treated_side_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_treated_side_course_id"), "treated_side", ["course_id"])
    op.create_index(op.f("ix_treated_side_renal_unit_id"), "treated_side", ["renal_unit_id"])
    op.bring_back_parked("treated_side")
    op.create_table(
        "side_technique",
        sa.Column("treated_side_id", WHOLE, nullable=False),
        sa.Column("technique", TEXT, nullable=False),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_side_technique")),
        sa.UniqueConstraint("treated_side_id", "technique", name=op.f("uq_side_technique_natural_key")),
        sa.ForeignKeyConstraint(
            ["treated_side_id"],
            ["treated_side.id"],
            name=op.f("fk_side_technique_treated_side_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_side_technique_batch_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint(
            "technique IN ('flexible', 'semirigid', 'percutaneous', 'mini_percutaneous', 'combined', 'shock_wave', 'open', 'laparoscopic', 'robotic')",
            name=op.f("ck_side_technique_technique_listed"),
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_side_technique_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_side_technique_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_side_technique_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_side_technique_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_side_technique_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_side_technique_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("side_technique")
    op.create_table(
        "side_event",
        sa.Column("treated_side_id", WHOLE, nullable=False),
        sa.Column("event_number", WHOLE, nullable=False),
        sa.Column("event", TEXT, nullable=False),
        sa.Column("location", TEXT),
        sa.Column("converted_to", TEXT),
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
        sa.PrimaryKeyConstraint("id", name=op.f("pk_side_event")),
        sa.UniqueConstraint("treated_side_id", "event_number", name=op.f("uq_side_event_natural_key")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_side_event_batch_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["treated_side_id"], ["treated_side.id"], name=op.f("fk_side_event_treated_side_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("event_number BETWEEN 1 AND 50", name=op.f("ck_side_event_event_number_within")),
        sa.CheckConstraint(
            "event IN ('mucosal_injury', 'perforation', 'avulsion', 'false_passage', 'bleeding', 'stone_migration', 'extravasation', 'equipment_failure', 'unable_to_reach', 'conversion', 'adjacent_organ', 'anaesthetic', 'other')",
            name=op.f("ck_side_event_event_listed"),
        ),
        sa.CheckConstraint(
            "location IN ('upper_calyx', 'middle_calyx', 'lower_calyx', 'pelvis', 'junction', 'diverticulum', 'partial_staghorn', 'complete_staghorn', 'proximal_ureter', 'middle_ureter', 'distal_ureter', 'vesicoureteric_junction', 'bladder', 'not_said')",
            name=op.f("ck_side_event_location_listed"),
        ),
        sa.CheckConstraint(
            "converted_to IN ('flexible', 'semirigid', 'percutaneous', 'mini_percutaneous', 'combined', 'shock_wave', 'open', 'laparoscopic', 'robotic')",
            name=op.f("ck_side_event_converted_to_listed"),
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_side_event_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_side_event_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_side_event_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_side_event_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_side_event_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_side_event_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("side_event")
    op.create_table(
        "lithotripsy_setting",
        sa.Column("treated_side_id", WHOLE, nullable=False),
        sa.Column("setting_number", WHOLE, nullable=False),
        sa.Column("energy_source", TEXT, nullable=False),
        sa.Column("pulse_energy_j", REAL),
        sa.Column("frequency_hz", REAL),
        sa.Column("power_w", REAL),
        sa.Column("pulse_mode", TEXT),
        sa.Column("mode", TEXT),
        sa.Column("counted", TEXT),
        sa.Column("total_energy_kj", REAL),
        sa.Column("emission_min", REAL),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lithotripsy_setting")),
        sa.UniqueConstraint("treated_side_id", "setting_number", name=op.f("uq_lithotripsy_setting_natural_key")),
        sa.ForeignKeyConstraint(
            ["treated_side_id"],
            ["treated_side.id"],
            name=op.f("fk_lithotripsy_setting_treated_side_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_lithotripsy_setting_batch_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint(
            "setting_number BETWEEN 1 AND 50", name=op.f("ck_lithotripsy_setting_setting_number_within")
        ),
        sa.CheckConstraint(
            "energy_source IN ('holmium_laser', 'thulium_fibre_laser', 'pulsed_thulium_laser', 'pneumatic', 'ultrasonic', 'combined_pneumatic_ultrasonic', 'electrohydraulic', 'none')",
            name=op.f("ck_lithotripsy_setting_energy_source_listed"),
        ),
        sa.CheckConstraint(
            "pulse_energy_j BETWEEN 0.005 AND 10", name=op.f("ck_lithotripsy_setting_pulse_energy_j_within")
        ),
        sa.CheckConstraint(
            "frequency_hz BETWEEN 0.1 AND 3000", name=op.f("ck_lithotripsy_setting_frequency_hz_within")
        ),
        sa.CheckConstraint("power_w BETWEEN 0.01 AND 300", name=op.f("ck_lithotripsy_setting_power_w_within")),
        sa.CheckConstraint(
            "pulse_mode IN ('short', 'medium', 'long', 'modulated', 'other')",
            name=op.f("ck_lithotripsy_setting_pulse_mode_listed"),
        ),
        sa.CheckConstraint(
            "mode IN ('dusting', 'fragmenting', 'both')", name=op.f("ck_lithotripsy_setting_mode_listed")
        ),
        sa.CheckConstraint("counted IN ('this_setting', 'total')", name=op.f("ck_lithotripsy_setting_counted_listed")),
        sa.CheckConstraint(
            "total_energy_kj BETWEEN 0 AND 500", name=op.f("ck_lithotripsy_setting_total_energy_kj_within")
        ),
        sa.CheckConstraint("emission_min BETWEEN 0 AND 600", name=op.f("ck_lithotripsy_setting_emission_min_within")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_lithotripsy_setting_created_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "length(created_by) BETWEEN 1 AND 80", name=op.f("ck_lithotripsy_setting_created_by_length")
        ),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_lithotripsy_setting_changed_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint(
            "length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_lithotripsy_setting_changed_by_length")
        ),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_lithotripsy_setting_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_lithotripsy_setting_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("lithotripsy_setting")
    op.create_table(
        "shock_wave_session",
        sa.Column("treated_side_id", WHOLE, nullable=False),
        sa.Column("session_number", WHOLE, nullable=False),
        sa.Column("shocks", WHOLE),
        sa.Column("level", REAL),
        sa.Column("rate_per_min", WHOLE),
        sa.Column("ramped", TEXT),
        sa.Column("localisation", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shock_wave_session")),
        sa.UniqueConstraint("treated_side_id", "session_number", name=op.f("uq_shock_wave_session_natural_key")),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_shock_wave_session_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["treated_side_id"],
            ["treated_side.id"],
            name=op.f("fk_shock_wave_session_treated_side_id"),
            ondelete="RESTRICT",
        ),
        sa.CheckConstraint("session_number BETWEEN 1 AND 20", name=op.f("ck_shock_wave_session_session_number_within")),
        sa.CheckConstraint("shocks BETWEEN 0 AND 20000", name=op.f("ck_shock_wave_session_shocks_within")),
        sa.CheckConstraint("level BETWEEN 0 AND 100", name=op.f("ck_shock_wave_session_level_within")),
        sa.CheckConstraint("rate_per_min BETWEEN 10 AND 300", name=op.f("ck_shock_wave_session_rate_per_min_within")),
        sa.CheckConstraint("ramped IN ('yes', 'no')", name=op.f("ck_shock_wave_session_ramped_listed")),
        sa.CheckConstraint(
            "localisation IN ('fluoroscopy', 'ultrasound', 'both')",
            name=op.f("ck_shock_wave_session_localisation_listed"),
        ),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_shock_wave_session_created_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_shock_wave_session_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'",
            name=op.f("ck_shock_wave_session_changed_at_is_moment"),
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_shock_wave_session_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_shock_wave_session_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_shock_wave_session_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("shock_wave_session")
    op.create_table(
        "tract",
        sa.Column("treated_side_id", WHOLE, nullable=False),
        sa.Column("tract_number", WHOLE, nullable=False),
        sa.Column("calyx", TEXT),
        sa.Column("size_tenths_fr", WHOLE),
        sa.Column("guidance", TEXT),
        sa.Column("dilation", TEXT),
        sa.Column("tubeless", TEXT),
        sa.Column("id", WHOLE, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("revision", WHOLE, nullable=False),
        sa.Column("batch_id", WHOLE),
        sa.Column("missing_reasons", TEXT),
        sa.Column("as_typed", TEXT),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tract")),
        sa.UniqueConstraint("treated_side_id", "tract_number", name=op.f("uq_tract_natural_key")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_tract_batch_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["treated_side_id"], ["treated_side.id"], name=op.f("fk_tract_treated_side_id"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("tract_number BETWEEN 1 AND 20", name=op.f("ck_tract_tract_number_within")),
        sa.CheckConstraint(
            "calyx IN ('upper_calyx', 'middle_calyx', 'lower_calyx', 'pelvis', 'junction', 'diverticulum', 'partial_staghorn', 'complete_staghorn', 'proximal_ureter', 'middle_ureter', 'distal_ureter', 'vesicoureteric_junction', 'bladder', 'not_said')",
            name=op.f("ck_tract_calyx_listed"),
        ),
        sa.CheckConstraint("size_tenths_fr BETWEEN 30 AND 400", name=op.f("ck_tract_size_tenths_fr_within")),
        sa.CheckConstraint("guidance IN ('fluoroscopy', 'ultrasound', 'both')", name=op.f("ck_tract_guidance_listed")),
        sa.CheckConstraint("dilation IN ('single_step', 'serial', 'balloon')", name=op.f("ck_tract_dilation_listed")),
        sa.CheckConstraint("tubeless IN ('yes', 'no')", name=op.f("ck_tract_tubeless_listed")),
        sa.CheckConstraint(
            "created_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_tract_created_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(created_by) BETWEEN 1 AND 80", name=op.f("ck_tract_created_by_length")),
        sa.CheckConstraint(
            "changed_at GLOB '????-??-??T??:??:??.??????+00:00'", name=op.f("ck_tract_changed_at_is_moment")
        ).ddl_if(dialect="sqlite"),
        sa.CheckConstraint("length(changed_by) BETWEEN 1 AND 80", name=op.f("ck_tract_changed_by_length")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_tract_revision_within")),
        sa.CheckConstraint(
            "replace(replace(replace(replace(replace(missing_reasons, '=not_done;', ';'), '=not_recorded;', ';'), '=not_applicable;', ';'), '=pending;', ';'), '=refused;', ';') NOT LIKE '%=%'",
            name=op.f("ck_tract_missing_reasons_listed"),
        ),
        sqlite_strict=True,
    )
    op.bring_back_parked("tract")


def downgrade() -> None:
    op.park_table("tract")
    op.park_table("shock_wave_session")
    op.park_table("lithotripsy_setting")
    op.park_table("side_event")
    op.park_table("side_technique")
    op.park_table("treated_side")
    op.park_table("planned_stage")
    op.park_table("course")
    op.park_table("operation_operator")
    op.park_table("operation")
