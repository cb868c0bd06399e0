"""Cells to values: what is typed is read back, for every field of the schema."""

from __future__ import annotations

from datetime import date, datetime
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.intake.existing_rows import pairs_of, reasons_in
from registry.intake.registry_rows import shown_cell
from registry.intake.units import accepted_units, converted
from registry.intake.values import parse
from registry.intake.wordings import read_text, reason_in, typed_text
from registry.schema.fields import Code, Day, FieldInfo, Moment, Note, Number, Reference, Secret, Text, Whole, info_of
from registry.schema.lists_common import MissingReason
from registry.schema.sheets import as_typed, identity_sheets, sheets
from registry.schema.tables import clinical_tables, fields_of, metadata
from registry.store.values import stored_value
from registry.validation.field_rules import rules_of
from registry.validation.findings import Severity

TODAY = date(2026, 1, 1)
FIELDS = [info for table in clinical_tables() for info in fields_of(table)]
MEASURED = [info for info in FIELDS if isinstance(info.kind, Whole | Number)]
DAYS = [info for info in FIELDS if isinstance(info.kind, Day)]
WORDED = [info for info in FIELDS if isinstance(info.kind, Text | Note)]


def field(table: str, name: str) -> FieldInfo:
    return info_of(metadata.tables[table].columns[name])


def within(info: FieldInfo) -> st.SearchStrategy[Any]:
    low, high = info.limits
    assert not isinstance(low, date)
    assert not isinstance(high, date)
    if isinstance(info.kind, Whole):
        return st.integers(int(-(10**9) if low is None else low), int(10**9 if high is None else high))
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


@given(st.data())
def test_a_number_is_read_back_as_it_was_stored(data: st.DataObject) -> None:
    info = data.draw(st.sampled_from(MEASURED))
    stored = data.draw(within(info))
    for typed in (as_typed(info, stored), repr(as_typed(info, stored))):
        parsed = parse(info, typed, TODAY)
        assert not parsed.failed, parsed.problems
        assert parsed.value == stored
        assert type(parsed.value) is (int if isinstance(info.kind, Whole) else float)
        assert parsed.typed is None


@given(st.data())
def test_a_code_is_read_by_code_and_by_label_in_any_case(data: st.DataObject) -> None:
    info = data.draw(st.sampled_from([i for i in FIELDS if isinstance(i.kind, Code)]))
    assert isinstance(info.kind, Code)
    member = data.draw(st.sampled_from(list(info.kind.list)))
    for typed in (member.value, member.value.upper(), member.label, member.label.lower(), f"  {member.value}\u00a0"):
        assert parse(info, typed, TODAY).value == member.value


@given(st.data())
def test_a_date_is_read_back_with_its_precision(data: st.DataObject) -> None:
    info = data.draw(st.sampled_from(DAYS))
    assert isinstance(info.kind, Day)
    day = data.draw(st.dates(date(1900, 1, 1), TODAY))
    assert parse(info, day, TODAY).value == day
    assert parse(info, datetime(day.year, day.month, day.day), TODAY).value == day
    assert parse(info, day.isoformat(), TODAY).value == day
    for precision, first in (("month", day.replace(day=1)), ("year", day.replace(month=1, day=1))):
        parsed = parse(info, as_typed(info, first, precision), TODAY)
        assert (parsed.value, parsed.precision) == ((first, precision) if info.kind.imprecise else (None, None))
        assert parsed.failed is not info.kind.imprecise


@given(st.sampled_from(DAYS), st.integers(1, 12), st.integers(1, 31), st.integers(1990, 2025), st.sampled_from("/.- "))
def test_no_date_with_the_year_last_is_ever_guessed(
    info: FieldInfo, month: int, day: int, year: int, mark: str
) -> None:
    for first, second in ((month, day), (day, month)):
        assert parse(info, f"{first:02}{mark}{second:02}{mark}{year}", TODAY).value is None


@given(st.sampled_from(WORDED), st.text(max_size=20))
def test_any_wording_is_read_back_letter_by_letter(info: FieldInfo, wording: str) -> None:
    parsed = parse(info, typed_text(wording), TODAY)
    if parsed.failed:
        assert isinstance(info.kind, Text) or "\x00" in wording
    elif wording or isinstance(info.kind, Note):
        assert parsed.value == wording
        assert parsed.reason is None


@given(st.text(max_size=12), st.integers(0, 4))
def test_quotes_around_a_wording_are_kept_or_given_back(wording: str, quotes: int) -> None:
    layered = '"' * quotes + wording + '"' * quotes
    assert read_text(typed_text(layered)) == layered
    assert reason_in(typed_text(layered)) is None


@pytest.mark.parametrize("reason", MissingReason)
def test_every_reason_is_read_in_every_field_that_may_be_missing(reason: MissingReason) -> None:
    for info in FIELDS:
        if info.required or info.companion_of or isinstance(info.kind, Reference):
            continue
        parsed = parse(info, f"missing: {reason.label}", TODAY)
        assert (parsed.value, parsed.reason) == (None, reason.value)
        if not isinstance(info.kind, Code):
            assert parse(info, reason.label.upper(), TODAY).reason == reason.value


def test_a_code_of_the_fields_own_list_is_a_value_and_no_reason() -> None:
    assert parse(field("examination", "not_done"), "refused").value == "refused"
    assert parse(field("examination", "not_done"), "missing: refused").reason == "refused"


@given(st.data())
def test_a_value_in_another_unit_is_converted_exactly_and_kept_as_typed(data: st.DataObject) -> None:
    info = data.draw(
        st.sampled_from([i for i in MEASURED if isinstance(i.kind, Number) and len(accepted_units(i)) > 1])
    )
    unit, step = data.draw(st.sampled_from(sorted(accepted_units(info).items(), key=lambda item: item[0])))
    number = data.draw(st.decimals(0, 500, places=2))
    parsed = parse(info, f"{number} {unit}", TODAY)
    assert parsed.value == float(Fraction(number) * step.factor + step.offset)
    other = step.factor != 1 or step.offset != 0
    assert parsed.typed == (f"{number} {unit}" if other else None)
    if parsed.typed:
        assert parse(info, parsed.typed, TODAY).value == parsed.value
        assert reasons_in(pairs_of({info.name: parsed.typed})) == {info.name: parsed.typed}


@given(st.data())
def test_a_unit_and_its_inverse_cancel(data: st.DataObject) -> None:
    info = data.draw(st.sampled_from([i for i in MEASURED if len(accepted_units(i)) > 1]))
    unit, step = data.draw(st.sampled_from(sorted(accepted_units(info).items(), key=lambda item: item[0])))
    number = data.draw(st.fractions(0, 1000, max_denominator=1000))
    there = converted(info, number, unit)
    assert there is not None
    assert (there - step.offset) / step.factor == number


@pytest.mark.parametrize(
    ("table", "name", "typed", "stored"),
    [
        ("equipment_model", "shaft_tenths_fr", "9.5", 95),
        ("equipment_model", "shaft_tenths_fr", "9,5 Fr", 95),
        ("equipment_model", "shaft_tenths_fr", "3.33 mm", 100),
        ("equipment_model", "shaft_tenths_fr", "3.17 mm", 95),
        ("equipment_model", "shaft_tenths_fr", "4 mm", 120),
        ("equipment_model", "wire_thousandths_inch", 0.035, 35),
        ("equipment_model", "wire_thousandths_inch", '0.035"', 35),
        ("equipment_model", "wire_thousandths_inch", "0.89 mm", 35),
        ("treated_side", "pressure_mean_cmh2o", "40 mmHg", 54.38040),
        ("treated_side", "suction_level_kpa", "150 mmHg", 19.99836),
        ("treated_side", "irrigation_set_pressure_mmhg", "100 cmH2O", 74),
        ("observation_set", "creatinine_umol_l", "1.4 mg/dL", 123.76),
        ("observation_set", "bilirubin_umol_l", "2 mg/dl", 34.2),
        ("observation_set", "lactate_mmol_l", "18 mg/dL", 1.998),
        ("observation_set", "haemoglobin_g_l", "13.2 g/dL", 132.0),
        ("observation_set", "temperature_c", "101.3 °F", 38.5),
        ("observation_set", "white_cells_g_l", "7500 /µL", 7.5),
        ("observation_set", "white_cells_g_l", "7.5 x10^9/L", 7.5),
        ("observation_set", "pao2_fio2_mmhg", "40 kPa", 300.0247),
        ("operation", "operating_min", "2 h", 120),
        ("operation", "operating_min", "90 s", 2),
        ("operation", "fluoroscopy_s", "1.5 min", 90),
        ("operation", "dose_area_product_gy_cm2", "250 µGy·m²", 2.5),
        ("operation", "dose_area_product_gy_cm2", "250 cGy cm2", 2.5),
        ("operation", "weight_kg", "154 lb", 69.85322),
        ("operation", "height_cm", "1.80 m", 180.0),
        ("stone", "volume_mm3", "1.5 mL", 1500.0),
        ("stone", "attenuation_hu", "950 HU", 950),
        ("lithotripsy_setting", "pulse_energy_j", "500 mJ", 0.5),
        ("lithotripsy_setting", "frequency_hz", "600 1/min", 10.0),
    ],
)
def test_known_conversions(table: str, name: str, typed: Any, stored: float) -> None:
    parsed = parse(field(table, name), typed, TODAY)
    assert not parsed.failed, parsed.problems
    assert parsed.value == pytest.approx(stored, rel=1e-6)


@pytest.mark.parametrize("typed", ["1 2", "5 (6)", "5 ±1", "5 +1", "1e" + "9" * 5000, "9" * 5000, "1.2.3", "12 mm 13"])
def test_more_or_less_than_one_number_is_refused(typed: str) -> None:
    assert parse(field("stone", "length_mm"), typed).failed


@pytest.mark.parametrize("typed", ["3.35 mm", "9.55 Fr", "9.55", "3.4 in"])
def test_a_calibre_between_two_tenths_is_refused(typed: str) -> None:
    assert parse(field("equipment_model", "shaft_tenths_fr"), typed).failed


@given(st.data())
def test_the_shown_cell_is_read_back(data: st.DataObject) -> None:
    info = data.draw(st.sampled_from([i for i in FIELDS if isinstance(i.kind, Code | Whole | Number)]))
    if isinstance(info.kind, Code):
        stored: Any = data.draw(st.sampled_from(info.kind.list.codes()))
    else:
        stored = data.draw(within(info))
    assert parse(info, shown_cell(info, stored), TODAY).value == stored


def test_limits_refuse_on_both_sides_and_the_plausible_range_asks() -> None:
    for info in MEASURED:
        low, high = info.limits
        for limit, beyond in ((low, -1), (high, 1)):
            if limit is None:
                continue
            assert not isinstance(limit, date)
            assert not parse(info, as_typed(info, limit), TODAY).failed
            assert parse(info, info.typed(limit + beyond), TODAY).failed
        plausible = info.kind.plausible  # type: ignore[union-attr]
        if plausible and high is not None and plausible[1] < high:  # type: ignore[operator]
            asked = parse(info, as_typed(info, high), TODAY).problems
            assert [p.severity for p in asked] == [Severity.QUESTION]


def test_every_field_that_people_type_says_its_rules() -> None:
    for sheet in (*sheets(), *identity_sheets()):
        for column in sheet.columns:
            for rule in rules_of(column.info, TODAY):
                assert rule.id.startswith(f"{column.info.table}.{column.info.name}.")
                assert column.info.label in rule.sentence
            if not isinstance(column.info.kind, Secret):
                assert parse(column.info, None, TODAY).value is None


CELLS = st.one_of(
    st.text(max_size=30),
    st.from_regex(r"[+-]?\d{1,4}[.,]?\d{0,4}(e\d{1,4})? ?[a-zA-Z/%°µ0-9]{0,6}", fullmatch=True),
    st.floats(),
    st.integers(-(10**20), 10**20),
    st.booleans(),
    st.dates(),
    st.datetimes(),
    st.times(),
    st.timedeltas(),
)


@settings(max_examples=400)
@given(st.data(), CELLS)
def test_whatever_a_cell_holds_it_is_read_or_explained(data: st.DataObject, cell: Any) -> None:
    info = data.draw(st.sampled_from([i for i in FIELDS if not isinstance(i.kind, Reference)]))
    parsed = parse(info, cell, TODAY)
    if parsed.failed:
        assert all(problem.why and problem.rule.startswith(f"{info.table}.{info.name}.") for problem in parsed.problems)
    elif parsed.value is not None and not isinstance(info.kind, Moment):
        # What the intake accepts, the store accepts too.
        stored_value(info, parsed.value)
