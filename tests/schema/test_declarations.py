"""Laws that every declaration obeys, whatever it declares."""

from __future__ import annotations

import re

import pytest

from registry.schema.base import model_of
from registry.schema.fields import Code, Day, Number, Reference, Text, Whole, info_of
from registry.schema.sheets import as_typed, folded_into, identity_sheets, sheets
from registry.schema.tables import (
    analysed_tables,
    clinical_tables,
    fields_of,
    links_of,
    metadata,
    natural_key,
    ordered_tables,
    own_columns,
    patient_path,
)

FIELDS = [info for table in ordered_tables() for info in fields_of(table)]


def test_every_constraint_and_index_has_a_name() -> None:
    for table in metadata.tables.values():
        for constraint in [*table.constraints, *table.indexes]:
            assert constraint.name, f"{table.name}: {constraint!r} has no name"
            assert len(str(constraint.name)) <= 63, f"{constraint.name} is longer than PostgreSQL keeps"


def test_every_table_describes_itself_and_is_known_by_a_natural_key() -> None:
    for table in ordered_tables():
        model = model_of(table)
        assert model.label and model.about
        if table.name != "change_history":
            assert natural_key(table.name), f"{table.name} has no natural key"


def test_natural_keys_are_never_missing_in_clinical_tables() -> None:
    for table in clinical_tables():
        for name in model_of(table).key_fields:
            assert not table.columns[name].nullable, f"{table.name}.{name} is part of the key and may be missing"


def test_headings_of_a_sheet_are_unique() -> None:
    for sheet in [*sheets(), *identity_sheets()]:
        assert len(set(sheet.headings)) == len(sheet.headings), sheet.table


def test_every_clinical_field_has_its_column_in_a_sheet() -> None:
    in_sheets = {(column.info.table, column.info.name) for sheet in sheets() for column in sheet.columns}
    for table in clinical_tables():
        for info in fields_of(table):
            if isinstance(info.kind, Reference) or info.companion_of:
                continue
            assert (info.table, info.name) in in_sheets, f"{info.table}.{info.name} is in no sheet"


def test_folded_tables_have_no_sheet_of_their_own() -> None:
    assert {t.name for t in clinical_tables() if folded_into(t)} == {"predisposition", "side_technique", "filled_site"}


def test_second_link_to_a_table_is_named_by_its_link() -> None:
    headings = [part.heading for part in links_of("therapy")["treating_operation_id"]]
    assert headings == ["site", "study_number", "treating_operation.operated_on", "treating_operation.day_number"]


def test_two_links_of_a_row_share_their_renal_unit() -> None:
    shared = {part.heading for part in links_of("stone_aim")["stone_id"] if part.shared}
    assert shared == {"site", "study_number", "unit", "unit_number"}


@pytest.mark.parametrize("info", FIELDS, ids=lambda info: f"{info.table}.{info.name}")
def test_limits_are_in_order_and_plausible_values_within_them(info) -> None:
    low, high = info.limits
    if low is not None and high is not None:
        assert low < high
    plausible = getattr(info.kind, "plausible", None)
    if plausible is not None:
        assert plausible[0] < plausible[1]
        assert low is None or low <= plausible[0]
        assert high is None or plausible[1] <= high


def test_the_unit_stands_in_the_name_of_a_measured_field() -> None:
    words = {
        "mm": "_mm", "mm3": "_mm3", "cm": "_cm", "kg": "_kg", "kJ": "_kj", "J": "_j", "Hz": "_hz", "W": "_w",
        "kPa": "_kpa", "mmHg": "_mmhg", "cm[H2O]": "_cmh2o", "s": "_s", "min": "_min", "d": "_d", "Cel": "_c",
        "0.1 Fr": "_tenths_fr", "um": "_um", "mL": "_ml", "mL/min": "_ml_min", "umol/L": "_umol_l", "g/L": "_g_l",
        "mmol/L": "_mmol_l", "mm[Hg]": "_mmhg", "10*9/L": "_g_l", "Gy cm2": "_gy_cm2", "[hnsf'U]": "_hu", "deg": "_deg",
    }  # fmt: skip
    plain = {"lithotripsy_setting.emission_min", "urine_ml_24h", "pre_stented_days", "intensive_care_days", "minutes"}
    for info in FIELDS:
        if info.unit in words and info.name not in plain:
            assert info.name.endswith(words[info.unit]), f"{info.table}.{info.name} is measured in {info.unit}"


def test_code_lists_have_unique_short_codes_and_a_source() -> None:
    for info in FIELDS:
        if isinstance(info.kind, Code):
            codes = info.kind.list.codes()
            assert len(set(codes)) == len(codes)
            assert all(re.fullmatch(r"[A-Za-z0-9_]+", code) for code in codes), info.kind.list
            assert info.kind.list.source()


def test_dates_that_may_be_imprecise_have_a_field_for_their_precision() -> None:
    for table in ordered_tables():
        for column in own_columns(table):
            kind = info_of(column).kind
            if isinstance(kind, Day) and kind.imprecise:
                assert info_of(table.columns[f"{column.name}_precision"]).companion_of == column.name


def test_nothing_that_names_a_person_may_enter_a_snapshot() -> None:
    for table in analysed_tables():
        assert not model_of(table).identity
        for info in fields_of(table):
            assert not (info.encrypted and info.analysed)


def test_rows_about_a_patient_lead_to_that_patient() -> None:
    assert patient_path("fragment") == ("reading_id", "examination_id", "patient_id")
    assert patient_path("patient") == ()
    assert patient_path("equipment_model") is None


@pytest.mark.parametrize(
    ("table", "field", "stored", "precision", "typed"),
    [
        ("equipment_model", "shaft_tenths_fr", 95, None, 9.5),
        ("equipment_model", "inner_tenths_fr", 100, None, 10),
        ("equipment_model", "wire_thousandths_inch", 35, None, 0.035),
        ("patient", "died_on", "2024-05-01", "month", "2024-05"),
        ("patient", "died_on", "2024-01-01", "year", "2024"),
        ("stone", "length_mm", 12.0, None, 12),
        ("stone", "length_mm", None, None, None),
    ],
)
def test_values_are_shown_as_people_type_them(table, field, stored, precision, typed) -> None:
    assert as_typed(info_of(metadata.tables[table].columns[field]), stored, precision) == typed


def test_kinds_with_limits_have_a_sensible_upper_bound() -> None:
    # A number without an upper limit lets a slipped decimal point through.
    exempt = {"row_count", "row_number", "about_row", "revision"}
    for info in FIELDS:
        if isinstance(info.kind, Whole | Number) and info.name not in exempt:
            assert info.limits[1] is not None, f"{info.table}.{info.name} has no upper limit"
        if isinstance(info.kind, Text):
            assert info.kind.longest <= 2000
