"""A form that is proposed reads every date back as it was meant, by the loader's own reader."""

from __future__ import annotations

from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from registry.intake.log_cells import LogCell, LogSheet
from registry.intake.log_values_dates import read_in_forms
from registry.intake.map_dates import read_dates
from registry.intake.map_profile import profile
from registry.intake.map_units import unit_spellings
from registry.intake.map_words import read_heading

FORMS = ("%d/%m/%Y", "%m/%d/%Y", "%d.%m.%y", "%m-%d-%y", "%Y-%m-%d", "%d %b %Y", "%d-%b-%y", "%Y%m%d", "%d. %m. %Y")
days = st.dates(date(1995, 1, 1), date(2024, 12, 31))


def dates_of(texts: list[str]) -> tuple[list[str], list[str]]:
    rows = [[LogCell(text, text)] for text in texts]
    sheet = LogSheet("log.csv", "", ["Date"], ["A"], list(range(2, len(rows) + 2)), rows)
    found = read_dates(profile(sheet, 0, read_heading("Date", unit_spellings())), date(2025, 1, 1))
    return found.forms, found.either


@given(st.lists(days, min_size=1, max_size=12), st.sampled_from(FORMS))
def test_one_form_means_the_days_that_were_written_and_several_include_it(meant: list[date], written: str) -> None:
    texts = [f"{day:{written}}" for day in meant]
    forms, either = dates_of(texts)
    if forms:
        assert [read_in_forms(text, tuple(forms), 1930) for text in texts] == meant
    else:
        readings = [[read_in_forms(text, (form,), 1930) for text in texts] for form in either]
        assert meant in readings
        assert len(readings) > 1
