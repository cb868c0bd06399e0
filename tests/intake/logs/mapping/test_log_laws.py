"""Laws of reading: what is written in a declared form is read back, whatever the values."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from registry.intake.dates import NotReadError
from registry.intake.log_cells import LogCell
from registry.intake.log_mapping import ValueForm
from registry.intake.log_mapping_targets import Target, find_target
from registry.intake.log_patterns import PatternError, compile_pattern, match_first
from registry.intake.log_values import translate
from registry.intake.log_values_dates import FULL_MONTHS, MONTHS, FormError, date_form, read_in_forms
from registry.intake.log_values_numbers import clock_cell, point_for_comma
from registry.intake.values import parse

LENGTH = Target("stone", "length_mm")
days = st.dates(date(1930, 1, 1), date(2029, 12, 31))
sizes = st.integers(5, 1999).map(lambda tenths: Decimal(tenths) / 10)
PARTS = {
    "dd.mm.yyyy": "{d:02}.{m:02}.{y}",
    "d.m.yyyy": "{d}.{m}.{y}",
    "dd/mm/yy": "{d:02}/{m:02}/{yy:02}",
    "m/d/yyyy": "{m}/{d}/{y}",
    "mm-dd-yy": "{m:02}-{d:02}-{yy:02}",
    "yyyymmdd": "{y}{m:02}{d:02}",
    "yyyy/m/d": "{y}/{m}/{d}",
    "d mmm yyyy": "{d} {mon} {y}",
    "dd-mmm-yy": "{d:02}-{mon}-{yy:02}",
    "mmmm d, yyyy": "{month} {d}, {y}",
    "ddmmyy": "{d:02}{m:02}{yy:02}",
}


def written(form: str, day: date) -> str:
    """A day in one of the forms."""
    names = {"mon": MONTHS[day.month - 1].title(), "month": FULL_MONTHS[day.month - 1].title()}
    return PARTS[form].format(d=day.day, m=day.month, y=day.year, yy=day.year % 100, **names)


@given(days, st.sampled_from(sorted(PARTS)))
def test_a_date_in_its_declared_form_is_read_back(day: date, form: str) -> None:
    assert read_in_forms(written(form, day), (form,), 1930) == day


@given(days, st.times())
def test_a_moment_is_read_back_to_the_minute(day: date, clock: time) -> None:
    text = f"{day.day:02}.{day.month:02}.{day.year} {clock.hour:02}:{clock.minute:02}"
    moment = datetime(day.year, day.month, day.day, clock.hour, clock.minute)
    assert read_in_forms(text, ("dd.mm.yyyy hh:mi",), 1930) == moment


@given(days)
def test_two_forms_that_differ_are_refused_and_swapped_days_told(day: date) -> None:
    text = f"{day.day}/{day.month}/{day.year}"
    if day.day > 12:
        assert read_in_forms(text, ("d/m/yyyy", "m/d/yyyy"), 1930) == day
        with pytest.raises(NotReadError) as refused:
            read_in_forms(text, ("m/d/yyyy",), 1930)
        assert refused.value.rule == "swapped" and refused.value.right == str(day)
    elif day.day != day.month:
        with pytest.raises(NotReadError, match="could be"):
            read_in_forms(text, ("d/m/yyyy", "m/d/yyyy"), 1930)


@pytest.mark.parametrize("form", ["", "dd.mm", "dd.yyyy", "dd.mm.yyyy dd", "x.mm.yyyy", "hh", "dd.mm.jjjj"])
def test_a_form_that_is_none_is_refused(form: str) -> None:
    with pytest.raises(FormError):
        date_form(form)


@given(st.integers(-(10**9), 10**9), st.integers(1, 4))
def test_a_decimal_comma_is_a_point(digits: int, places: int) -> None:
    number = Decimal(digits).scaleb(-places)
    text = f"{number:.{places}f}"
    assert Decimal(point_for_comma(text.replace(".", ","))) == number
    grouped = f"{number:,.{places}f}".translate(str.maketrans(",.", ".,"))
    assert Decimal(point_for_comma(grouped)) == number


@given(st.integers(0, 60), st.integers(0, 59))
def test_hours_and_minutes(hours: int, minutes: int) -> None:
    cell = clock_cell(LogCell(f"{hours}:{minutes:02}", f"{hours}:{minutes:02}"), "h:mm")
    length = Target("operation", "operating_min").info
    assume(hours * 60 + minutes <= 1440)
    assert parse(length, cell).value == hours * 60 + minutes
    span = timedelta(hours=hours, minutes=minutes)
    assert clock_cell(LogCell("", span), "h:mm") == cell


@given(
    sizes, sizes, st.none() | sizes, st.sampled_from(["LP", "mid calyx", "pelvis"]), st.none() | st.integers(1, 3000)
)
def test_a_pattern_gives_back_what_was_written(
    length: Decimal, width: Decimal, depth: Decimal | None, place: str, attenuation: int | None
) -> None:
    pattern = compile_pattern(
        "{stone.length_mm}x{stone.width_mm}[x{stone.depth_mm}] {stone.location}[, {stone.attenuation_hu}HU]",
        find_target,
        lambda target: {"lp", "mid calyx", "pelvis"} if target.heading == "location" else (),
    )
    text = f"{length}x{width}"
    text += f"x{depth}" if depth is not None else ""
    text += f" {place}"
    text += f", {attenuation}HU" if attenuation is not None else ""
    found = match_first((pattern,), text)
    assert found is not None
    expected = {"length_mm": length, "width_mm": width, "depth_mm": depth, "attenuation_hu": attenuation}
    named = {piece.target.heading: value for piece, value in found}
    assert named.pop("location") == place
    assert {h: Fraction(v) for h, v in named.items()} == {h: Fraction(v) for h, v in expected.items() if v is not None}


@pytest.mark.parametrize(
    ("pattern", "said"),
    [
        ("{stone.lenght_mm}", "perhaps stone.length_mm"),
        ("[{stone.length_mm}", r"'\[' without its '\]'"),
        ("{stone.length_mm}]", r"']' without its '\['"),
        ("{stone.length_mm", r"a '\{' too many"),
        ("LP", "names no field"),
    ],
)
def test_a_pattern_that_cannot_be_used(pattern: str, said: str) -> None:
    with pytest.raises(PatternError, match=said):
        compile_pattern(pattern, find_target, lambda target: ())


@given(sizes)
def test_a_bare_number_takes_the_unit_of_its_column_and_a_typed_unit_wins(size: Decimal) -> None:
    form = ValueForm(unit="cm")
    number = translate(LogCell(str(size), float(size)), LENGTH, form).cell
    text = translate(LogCell(str(size), str(size)), LENGTH, form).cell
    assert isinstance(number, str) and isinstance(text, str)
    assert parse(LENGTH.info, number).value == parse(LENGTH.info, text).value or parse(LENGTH.info, text).failed
    typed = translate(LogCell(f"{size} mm", f"{size} mm"), LENGTH, form).cell
    assert parse(LENGTH.info, typed).value == float(size)


def test_marks_of_missing_values_count_by_declaration_only() -> None:
    form = ValueForm(missing=frozenset({"999", "?"}))
    assert translate(LogCell("999", 999.0), LENGTH, form).cell is None
    assert translate(LogCell("999.00", 999.0), LENGTH, form).cell is None
    assert translate(LogCell("999", 999.0), LENGTH, ValueForm()).cell == 999.0
    assert translate(LogCell("?", "?"), LENGTH, ValueForm()).cell == "?"


def test_a_translation_speaks_first() -> None:
    form = ValueForm(missing=frozenset({"nil"}), values={"": {"nil": "missing: not_recorded", "": "no", "y": "yes"}})
    target = Target("treated_side", "pre_stented")
    assert translate(LogCell("NIL ", "NIL "), target, form).cell == "missing: not_recorded"
    assert translate(LogCell("", None), target, form).cell == "no"
    assert translate(LogCell("No", "No"), target, form).cell == "No"  # the field's own word needs no translation
    problem = translate(LogCell("maybe", "maybe"), target, form).problem
    assert problem is not None and problem.rule == "treated_side.pre_stented.translated"
