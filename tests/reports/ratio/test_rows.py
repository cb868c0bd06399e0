"""Which rows a model has: what is not applicable, missing, both sides at once, refused for research."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.cohort.rows import day

from .scoped_unit import ScopedUnit, answer, model_text, of_section

WIDE, TIGHT = (75, 100), (95, 100)
OF_OPERATION = model_text(outcome='what = "column"\ncolumn = "operating_min"\nkind = "linear"')


def ordinary() -> ScopedUnit:
    """Twelve sides at each of two ratios, two of three free."""
    unit = ScopedUnit()
    for pair in (WIDE, TIGHT):
        unit.several(16, pair, True)
        unit.several(8, pair, False)
    return unit


def flow(rows: list[dict[str, Any]]) -> dict[str, int]:
    return {row["step"]: row["left_out"] for row in of_section(rows, "rows")}


def test_no_sheath_is_not_applicable_and_counted_apart_from_missing_and_impossible(tmp_path: Path) -> None:
    unit = ordinary()
    unit.several(3, (75, 0), True)  # a scope alone
    unit.several(2, None, True)  # nothing recorded
    unit.several(1, (120, 100), True)  # a scope thicker than its sheath
    unit.several(4, WIDE, None)  # never scanned
    made, rows = answer(unit, tmp_path, model_text())
    assert flow(rows) == {
        "treated sides of the cohort": 0,
        "outcome unknown": 4,
        "exposure not applicable (no sheath, or no scope in it)": 3,
        "exposure missing": 2,
        "exposure impossible (a scope thicker than its sheath)": 1,
        "in the model": 0,
    }
    left = [row["n"] for row in of_section(rows, "rows")]
    assert (left[0], left[-1]) == (58, 48)
    assert made.adjusted is not None
    assert made.adjusted.n == 48


def test_steps_of_the_flow_add_up(tmp_path: Path) -> None:
    unit = ordinary()
    unit.several(5, WIDE, True, mm=9.0)
    _, rows = answer(
        unit,
        tmp_path,
        model_text(adjust=('column = "cumulative_mm"',), rest="[fit]\nevents_per_parameter=0"),
        show="rows,support",
    )
    steps = of_section(rows, "rows")
    assert steps[0]["n"] - sum(row["left_out"] for row in steps) == steps[-1]["n"]


def test_a_covariate_that_lacks_leaves_the_row_out_by_its_name(tmp_path: Path) -> None:
    unit = ScopedUnit()
    for pair in (WIDE, TIGHT):
        for number in range(30):
            unit.side(pair, number % 3 != 0, mm=8.0 + number % 7)
        unit.several(2, pair, True)
    _, rows = answer(unit, tmp_path, model_text(adjust=('column = "cumulative_mm"',)))
    assert flow(rows)["cumulative_mm missing"] == 4
    effects = {row["model"]: row["n"] for row in of_section(rows, "effect")}
    assert effects == {"crude, all rows": 64, "crude, the model's rows": 60, "adjusted": 60}


def test_of_both_sides_the_tighter_one_speaks(tmp_path: Path) -> None:
    unit = ordinary()
    operation = unit.both(WIDE, TIGHT)
    _minutes(unit)
    made, rows = answer(unit, tmp_path, OF_OPERATION)
    frame = made.rows.frame.set_index("operation_id")
    assert frame.loc[operation, "sheath_to_scope_ratio"] == pytest.approx(100 / 95)
    assert len(frame) == 49
    sensitivity = {row["model"]: row for row in of_section(rows, "sensitivity")}
    assert sensitivity["operations on both sides left out"]["n"] == 48
    assert sensitivity["as asked"]["n"] == 49


def test_a_side_whose_ratio_is_missing_makes_that_of_the_operation_missing(tmp_path: Path) -> None:
    unit = ordinary()
    doubtful = unit.both(WIDE, None)
    without_sheath = unit.both(WIDE, (75, 0))
    _minutes(unit)
    made, rows = answer(unit, tmp_path, OF_OPERATION)
    frame = made.rows.frame.set_index("operation_id")
    assert frame.loc[doubtful, "exposure_state"] == "missing"
    assert frame.loc[without_sheath, "exposure_state"] == "known"
    assert frame.loc[without_sheath, "sheath_to_scope_ratio"] == pytest.approx(4 / 3)
    assert flow(rows)["exposure missing"] == 1


def test_who_refused_research_use_is_always_out_and_counted(tmp_path: Path) -> None:
    unit = ordinary()
    unit.several(3, WIDE, True, research_use="no")
    made, rows = answer(unit, tmp_path, model_text())
    assert of_section(rows, "rows")[0]["n"] == 48
    assert made.rows.frame["research_use"].eq("no").sum() == 0
    assert made.adjusted is not None
    assert made.adjusted.n == 48


def test_the_unscanned_are_both_bounds_of_the_sensitivity(tmp_path: Path) -> None:
    """At the wide fit 16/24 are free, with 6 unknown 16/30 or 22/30; at the tight one with 3 unknown 16/27 or 19/27."""
    unit = ordinary()
    unit.several(6, WIDE, None)
    unit.several(3, TIGHT, None)
    _, rows = answer(
        unit,
        tmp_path,
        model_text(exposure='column = "scope_to_sheath_band"\nshape = "levels"\nreference = "0.85 and over"'),
    )
    found = {row["model"]: row for row in of_section(rows, "sensitivity")}
    assert found["every unknown side taken as failed"]["estimate"] == pytest.approx((16 / 14) / (16 / 11))
    assert found["every unknown side taken as free"]["estimate"] == pytest.approx((22 / 8) / (19 / 8))
    assert found["as asked"]["estimate"] == pytest.approx(1.0)
    assert found["weighted by the chance that the outcome is known"]["estimate"] == pytest.approx(1.0)


def test_nights_run_from_the_operation_to_the_discharge(tmp_path: Path) -> None:
    unit = ScopedUnit()
    for pair, nights in ((WIDE, (0, 1, 1, 2)), (TIGHT, (1, 2, 3, 4))):
        for stay in nights * 6:
            side = unit.side(pair, None, on=5)
            operation = unit.rows.tables["operation"][unit.rows.operation_of(side) - 1]
            admission = unit.rows.add(
                "admission", patient_id=operation["patient_id"], admission_number=1, admitted_on=day(4),
                discharged_on=day(5 + stay),
            )  # fmt: skip
            operation["admission_id"] = admission
    unit.several(2, WIDE, None)  # without an admission
    exposure = 'column = "sheath_to_scope_ratio"\nper = 0.1\ncontrast = [1.3333, 1.0526]'
    made, rows = answer(unit, tmp_path, model_text(outcome='what = "nights"', exposure=exposure))
    assert flow(rows)["outcome unknown"] == 2
    assert made.adjusted is not None
    (ratio,) = [row for row in of_section(rows, "contrast") if row["model"] == "conditional"]
    assert ratio["estimate"] == pytest.approx(1.0 / 2.5)  # means of 1 and 2.5 nights


def _minutes(unit: ScopedUnit) -> None:
    for number, operation in enumerate(unit.rows.tables["operation"]):
        operation["operating_min"] = 40 + number % 9
