"""Each style ships with a mapping that speaks of every column, in valid TOML."""

from __future__ import annotations

import tomllib

import pytest

from registry.schema.sheets import identity_sheets, sheets
from synthetic_cohort.logs.make_log import STYLES
from tests.synthetic_cohort.logs.conftest import Maker


@pytest.mark.parametrize("style", STYLES)
def test_mapping_speaks_of_every_heading_and_of_no_other(style: str, log: Maker) -> None:
    made = log(style)
    mapping = tomllib.loads(made.mapping().decode())
    mapped = {
        entry["heading"].replace("{n}", str(n))
        for entry in (*mapping["column"], *mapping["ignore"])
        for n in entry.get("each", [0])
    }
    headings = {
        f"{column.over} / {column.heading}" if column.over else column.heading
        for table in made.style.tables
        for column in table.columns
    }
    # What nothing is read from but must not be overlooked either: remarks, computed columns.
    assert mapped == headings


@pytest.mark.parametrize("style", STYLES)
def test_mapping_aims_at_headings_of_the_intake_workbook(style: str, log: Maker) -> None:
    known = {f"{sheet.table}.{name}" for sheet in (*sheets(), *identity_sheets()) for name in sheet.headings}
    mapping = tomllib.loads(log(style).mapping().decode())
    for entry in (*mapping["column"], *mapping["constant"]):
        aims = entry.get("to", [])
        assert {aims} <= known if isinstance(aims, str) else set(aims) <= known, entry
