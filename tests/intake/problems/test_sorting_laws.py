"""Whatever is wrong: every row is either loaded or rejected, none is both, and none is rejected without a reason."""

from __future__ import annotations

import copy
import re
import tempfile
from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from registry.intake.good_rows_keys import unit_of
from registry.intake.good_rows_sorting import WAITS, sort_rows
from registry.intake.source import Source
from registry.store.registry import Registry
from tests.intake.books import CASE, Rows, write_book

TODAY = date(2026, 1, 1)
# A wrong value for some heading of each sheet; the last two name a row that is not there.
WRONG: list[tuple[str, str, Any]] = [
    ("patient", "sex", "x"),
    ("patient", "birth_year", 1760),
    ("renal_unit", "unit", "middle"),
    ("operation", "purpose", None),
    ("operation", "operated_on", "03/05/2024"),
    ("treated_side", "technique", "flexable"),
    ("stone", "length_mm", "twelve"),
    ("equipment_use", "use_number", "one"),
    ("examination", "modality", "telescope"),
    ("reading", "finding", "gone"),
    ("fragment", "diameter_low_mm", -1),
    ("stone", "course_number", 7),
    ("fragment", "stone_number", 9),
]
OF_ALL = ("site", "operator", "equipment_model", "equipment_item")


def three_patients() -> Rows:
    """The rows of the case's first patient three times, under three study numbers."""
    rows: Rows = {table: copy.deepcopy(CASE[table]) for table in OF_ALL}
    for table, lines in CASE.items():
        if table not in OF_ALL:
            own = [line for line in lines if line["study_number"] == "1001"]
            rows[table] = [{**line, "study_number": number} for number in ("1001", "1002", "1003") for line in own]
    return rows


BOOK = three_patients()
planted = st.lists(st.tuples(st.sampled_from(WRONG), st.integers(0, 2)), min_size=1, max_size=5)


@given(planted)
@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_every_row_is_loaded_or_rejected_for_a_reason(
    registry: Registry, mistakes: list[tuple[tuple[str, str, Any], int]]
) -> None:
    rows = copy.deepcopy(BOOK)
    touched = set()
    for (table, heading, value), patient in mistakes:
        rows[table][patient][heading] = value
        touched.add((table, patient + 2))
    with tempfile.TemporaryDirectory() as folder:
        path = write_book(Path(folder) / "b.xlsx", rows)
        found = sort_rows(registry, Source((path,)), today=TODAY)

    assert not found.refused
    assert found.plan.findings.errors == 0
    everything = {unit_of(sheet, n): sheet.sheet.table for sheet in found.sheets for n in range(len(sheet))}
    assert len(everything) == sum(map(len, rows.values()))
    assert set(found.reasons) <= set(everything)
    rejected = Counter(everything[unit] for unit in found.reasons)
    for table, lines in rows.items():  # what is not rejected is planned, row by row
        assert len(found.plan.new.get(table, [])) == len(lines) - rejected[table], table

    wrong = {(everything[unit], unit[2]) for unit, why in found.reasons.items() if why[0].rule != WAITS}
    assert touched <= wrong
    for unit, why in found.reasons.items():
        assert why
        assert all(reason.why for reason in why)
        if why[0].rule == WAITS:
            number, sheet = re.findall(r"row (\d+) of sheet ([^,]+),", why[0].why)[0]
            assert (unit[0], sheet, int(number)) in found.reasons
    # Some sheets hold several rows of a patient, so that the number in the row says whose it is.
    patients = {int(rows[table][row]["study_number"]) for (table, *_), row in mistakes}
    for unit in found.reasons:  # a patient without a mistake is loaded whole
        sheet = next(s for s in found.sheets if s.title == unit[1])
        number = sheet.cells["study_number"][sheet.numbers.index(unit[2])]
        assert int(str(number)) in patients


def test_a_wrong_site_takes_everything_with_it(registry: Registry, tmp_path: Path) -> None:
    rows = copy.deepcopy(BOOK)
    rows["site"][0]["time_zone"] = "Nowhere/Land"
    found = sort_rows(registry, Source((write_book(tmp_path / "b.xlsx", rows),)), today=TODAY)
    assert found.plan.new_rows == 0
    assert len(found.reasons) == sum(map(len, rows.values()))
