"""Laws of the days that a recorded date can stand for, and of the wording of a question."""

from __future__ import annotations

import datetime as dt

from hypothesis import given
from hypothesis import strategies as st

from registry.validation.due.day_span import day_span
from registry.validation.questions.wording import Asked, kept, read

days = st.dates(dt.date(1900, 1, 1), dt.date(2199, 12, 31))


@given(days, st.sampled_from([None, "day"]))
def test_a_day_stands_for_itself(day: dt.date, precision: str | None) -> None:
    span = day_span(day, precision)
    assert (span.low, span.high, span.exact, str(span)) == (day, day, True, day.isoformat())


@given(days)
def test_a_month_and_a_year_stand_for_all_of_their_days(day: dt.date) -> None:
    month, year = day_span(day.replace(day=1), "month"), day_span(day.replace(month=1, day=1), "year")
    assert month.low <= day <= month.high and year.low <= day <= year.high
    assert (month.high + dt.timedelta(days=1)).day == 1 and (month.high - month.low).days in range(27, 31)
    assert (year.high + dt.timedelta(days=1)).replace(year=day.year) == year.low
    assert str(month) == f"{day:%Y-%m}" and str(year) == f"{day:%Y}"


@given(st.text(max_size=3000), st.none() | st.text(alphabet="0123456789abcdef", min_size=32, max_size=32))
def test_a_question_is_read_as_it_was_kept(sentence: str, seen: str | None) -> None:
    assert read(kept(Asked(sentence, seen))) == Asked(sentence, seen)


def test_a_persons_own_wording_is_read_as_it_is() -> None:
    assert read("is this right?") == Asked("is this right?")
    assert read('{"other": 1}') == Asked('{"other": 1}')
    assert read(None) == Asked("")
