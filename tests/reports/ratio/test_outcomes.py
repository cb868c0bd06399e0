"""Other outcomes on the ratio: complications, grades, infection, minutes; each against numbers worked by hand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from registry.schema.errors import GravelbookError
from tests.reports.complications.ward import complication, grading, reviewed

from .scoped_unit import ScopedUnit, answer, model_text, of_section

WIDE, TIGHT = (75, 100), (95, 100)
BANDS = 'column = "scope_to_sheath_band"\nshape = "levels"\nreference = "0.75 to under 0.85"'
ADJUSTED_LEVEL = "0.85 and over against 0.75 to under 0.85"


def graded_unit() -> ScopedUnit:
    """Of 40 wide operations 8 had a grade I and 4 a IIIb, of 40 tight ones 12 a grade I and 8 a IIIb; all reviewed.

    Four more tight ones were never reviewed, one of them with a known IIIb.
    """
    unit = ScopedUnit()
    for pair, grades in (
        (WIDE, ("I",) * 8 + ("IIIb",) * 4 + (None,) * 28),
        (TIGHT, ("I",) * 12 + ("IIIb",) * 8 + (None,) * 20),
    ):
        for grade in grades:
            _operated(unit, pair, grade, seen=True)
    for grade in ("IIIb", None, None, None):
        _operated(unit, TIGHT, grade, seen=False)
    return unit


def _operated(unit: ScopedUnit, pair: tuple[int, int], grade: str | None, *, seen: bool) -> None:
    operation = unit.rows.operation_of(unit.side(pair, None))
    if seen:
        reviewed(unit.rows, operation, 100)
    if grade:
        made = complication(unit.rows, operation, "fever" if grade == "I" else "bleeding", 3, [])
        grading(unit.rows, made, "first", grade)


def found(unit: ScopedUnit, folder: Path, text: str) -> tuple[Any, dict[str, Any], list[dict[str, Any]]]:
    made, rows = answer(unit, folder, text)
    return made, {row["model"]: row for row in of_section(rows, "effect")}, rows


def test_any_complication_among_the_reviewed(tmp_path: Path) -> None:
    """(20/20)/(12/28); the four never reviewed stand in the bounds: with 21 of 44 at least, 24 of 44 at most."""
    made, effects, rows = found(graded_unit(), tmp_path, model_text(outcome='what = "complication"', exposure=BANDS))
    assert made.adjusted.n == 80
    assert effects["crude, all rows"]["estimate"] == pytest.approx((20 / 20) / (12 / 28))
    bounds = {row["model"]: row["estimate"] for row in of_section(rows, "sensitivity")}
    assert bounds["every unknown outcome taken as no"] == pytest.approx((21 / 23) / (12 / 28))
    assert bounds["every unknown outcome taken as yes"] == pytest.approx((24 / 20) / (12 / 28))
    assert [row["left_out"] for row in of_section(rows, "rows") if row["step"] == "outcome unknown"] == [4]


def test_a_complication_of_at_least_a_grade(tmp_path: Path) -> None:
    text = model_text(
        outcome='what = "complication"\nat_least = "IIIa"', exposure=BANDS, rest="[fit]\nevents_per_parameter = 5"
    )
    made, effects, _ = found(graded_unit(), tmp_path, text)
    assert made.adjusted.events == 12
    assert effects["crude, all rows"]["estimate"] == pytest.approx((8 / 32) / (4 / 36))


def test_the_worst_grade_has_one_odds_ratio_tested_for_being_one(tmp_path: Path) -> None:
    """Between its cuts' own odds ratios, (20/20)/(12/28) = 2.33 and (8/32)/(4/36) = 2.25, lies the common one."""
    made, effects, rows = found(graded_unit(), tmp_path, model_text(outcome='what = "worst_grade"', exposure=BANDS))
    assert made.adjusted.levels == ("none", "I", "III")
    assert 2.2 < effects["crude, all rows"]["estimate"] < 2.4
    asked = [row["question"] for row in of_section(rows, "tests")]
    assert "odds not proportional over the grades: scope_to_sheath_band" in asked
    risks = {(row["value"], row["measure"]) for row in of_section(rows, "risk")}
    assert ("0.85 and over", "at least III") in risks
    joined = model_text(outcome='what = "worst_grade"\nhighest = "II"', exposure=BANDS)
    made, _, _ = found(graded_unit(), tmp_path / "joined", joined)
    assert made.adjusted.levels == ("none", "I", "II or worse")


def test_recorded_infection_by_its_definition(tmp_path: Path) -> None:
    unit = ScopedUnit()
    for pair, events in ((WIDE, 5), (TIGHT, 12)):
        for number in range(40):
            operation = unit.rows.operation_of(unit.side(pair, None))
            reviewed(unit.rows, operation, 60)
            if number < events:
                complication(unit.rows, operation, "febrile_urinary_infection", 2, ["antibiotic"])
    outcome = 'what = "infection"\ndefinition = "recorded-febrile"'
    made, effects, _ = found(unit, tmp_path, model_text(outcome=outcome, exposure=BANDS))
    assert made.rows.definition["id"] == "recorded-febrile-urinary-infection"
    assert effects["crude, all rows"]["estimate"] == pytest.approx((12 / 28) / (5 / 35))


def minutes_unit(**more: Any) -> ScopedUnit:
    """Wide operations take 40, 50 and 60 minutes in turn, tight ones half as long again."""
    unit = ScopedUnit()
    for pair, times in ((WIDE, 1.0), (TIGHT, 1.5)):
        for number in range(30):
            side = unit.side(pair, None, operator=f"S{number % 3}", **more)
            operation = unit.rows.tables["operation"][unit.rows.operation_of(side) - 1]
            operation["operating_min"] = int((40 + 10 * (number % 3)) * times)
    return unit


def test_minutes_are_compared_as_a_ratio_of_means(tmp_path: Path) -> None:
    made, effects, rows = found(minutes_unit(), tmp_path, model_text(outcome='what = "operating_min"', exposure=BANDS))
    assert effects["crude, all rows"]["measure"] == "ratio of means"
    assert effects["crude, all rows"]["estimate"] == pytest.approx(1.5)
    means = {row["value"]: row["estimate"] for row in of_section(rows, "risk")}
    assert means == {"0.75 to under 0.85": pytest.approx(50), "0.85 and over": pytest.approx(75)}
    assert made.checks is None
    assert of_section(rows, "checks")  # there are some all the same


def test_a_column_may_be_linear_and_then_differs(tmp_path: Path) -> None:
    outcome = 'what = "column"\ncolumn = "operating_min"'
    _, effects, _ = found(minutes_unit(), tmp_path, model_text(outcome=outcome, exposure=BANDS))
    assert effects["crude, all rows"]["measure"] == "difference of means"
    assert effects["crude, all rows"]["estimate"] == pytest.approx(25)


def yes_no_unit() -> ScopedUnit:
    """Six operators, two ratios; at the wide fit 3 of 4 are free, at the tight one 2 of 4; sizes known but for some."""
    unit = ScopedUnit()
    for operator in range(6):
        for pair, free in ((WIDE, 3), (TIGHT, 2)):
            for number in range(16):
                mm = None if number % 8 == 7 else 6.0 + (number * 5 + operator) % 9
                unit.side(pair, (number % 4) < free, operator=f"S{operator}", mm=mm)
    return unit


CONTRAST = 'column = "sheath_to_scope_ratio"\nper = 0.1\ncontrast = [1.3333, 1.0526]'


@pytest.mark.parametrize("method", ["equations", "mixed"])
def test_equations_and_intercepts_for_clusters(tmp_path: Path, method: str) -> None:
    """All operators are alike, so that every method gives (3/1)/(2/2) = 3."""
    text = model_text(exposure=CONTRAST, rest=f'[cluster]\nby = "operator"\nmethod = "{method}"')
    made, _, rows = found(yes_no_unit(), tmp_path, text)
    contrast = {row["model"]: row["estimate"] for row in of_section(rows, "contrast")}
    assert contrast["conditional"] == pytest.approx(3.0, rel=1e-3)
    assert made.adjusted.fit.clusters == 6
    if method == "mixed":
        assert of_section(rows, "risk") == []  # of the whole cohort none is told by it
    else:
        assert of_section(rows, "risk")


def test_one_cluster_is_refused(tmp_path: Path) -> None:
    text = model_text(exposure=CONTRAST, rest='[cluster]\nby = "site"')
    with pytest.raises(GravelbookError, match="All 192 rows are of one site"):
        answer(yes_no_unit(), tmp_path, text)


def test_few_clusters_are_said(tmp_path: Path) -> None:
    made, _ = answer(yes_no_unit(), tmp_path, model_text(exposure=CONTRAST, rest='[cluster]\nby = "operator"'))
    assert made.adjusted is not None
    assert any(
        "There are 6 clusters; below about 40 robust errors come out too small" in one for one in made.adjusted.remarks
    )


def test_imputed_covariates_keep_every_row_and_are_pooled(tmp_path: Path) -> None:
    adjust = ('column = "cumulative_mm"',)
    complete, _ = answer(yes_no_unit(), tmp_path / "complete", model_text(exposure=CONTRAST, adjust=adjust))
    imputing = model_text(exposure=CONTRAST, adjust=adjust, rest='[missing]\ncovariates = "imputed"\nimputations = 8')
    made, rows = answer(yes_no_unit(), tmp_path / "imputed", imputing)
    assert complete.adjusted is not None
    assert made.adjusted is not None
    assert (complete.adjusted.n, made.adjusted.n) == (168, 192)
    assert len(made.adjusted.imputed) == 8
    pooled = made.adjusted.pooled
    assert pooled is not None
    assert pooled.between[2, 2] > 0  # the size's coefficient differs between imputations
    assert {row["what"] for row in of_section(rows, "missing")} >= {"cumulative_mm missing"}
    again, _ = answer(yes_no_unit(), tmp_path / "again", imputing)
    assert again.adjusted is not None
    assert list(again.adjusted.fit.coefficients) == list(made.adjusted.fit.coefficients)
    other, _ = answer(yes_no_unit(), tmp_path / "other", imputing, seed="2")
    assert other.adjusted is not None
    assert list(other.adjusted.fit.coefficients) != list(made.adjusted.fit.coefficients)


def test_with_nothing_to_impute_the_model_is_the_plain_one(tmp_path: Path) -> None:
    plain, _ = answer(yes_no_unit(), tmp_path / "plain", model_text(exposure=CONTRAST))
    asked, _ = answer(
        yes_no_unit(), tmp_path / "asked", model_text(exposure=CONTRAST, rest='[missing]\ncovariates = "imputed"')
    )
    assert plain.adjusted is not None
    assert asked.adjusted is not None
    assert asked.imputed is None
    assert list(plain.adjusted.fit.coefficients) == list(asked.adjusted.fit.coefficients)


def test_operators_who_are_alike_have_no_spread(tmp_path: Path) -> None:
    _, rows = answer(yes_no_unit(), tmp_path, model_text(exposure=CONTRAST))
    assert of_section(rows, "operators") == []


def test_an_operator_who_does_otherwise_makes_a_spread(tmp_path: Path) -> None:
    unit = yes_no_unit()
    for number, operator in enumerate(("S0", "S1", "S5")):
        unit.several(24, WIDE, number == 2, operator=operator)
    _, rows = answer(unit, tmp_path, model_text(exposure=CONTRAST))
    share = {row["measure"]: row for row in of_section(rows, "operators")}["share of the variance"]
    assert 0 < share["low"] < share["estimate"] < share["high"] < 1
    assert share["operators"] == 6


def test_the_effect_may_differ_by_a_product(tmp_path: Path) -> None:
    """Odds ratio of the wide fit 3 of women and 1 of men: the test of the product is asked, and risks average both."""
    unit = ScopedUnit()
    for sex, wide in (("female", 30), ("male", 20)):
        unit.several(wide, WIDE, True, sex=sex)
        unit.several(40 - wide, WIDE, False, sex=sex)
        unit.several(20, TIGHT, True, sex=sex)
        unit.several(20, TIGHT, False, sex=sex)
    product = '[[interaction]]\nfirst = "sheath_to_scope_ratio"\nsecond = "sex"'
    _, rows = answer(unit, tmp_path, model_text(exposure=CONTRAST, adjust=('column = "sex"',), rest=product))
    asked = {row["question"]: row["p"] for row in of_section(rows, "tests")}
    assert asked["the effect of sheath_to_scope_ratio differs with sex"] < 0.1
    risks = {row["value"]: row["estimate"] for row in of_section(rows, "risk")}
    assert risks["1.333"] == pytest.approx((0.75 + 0.5) / 2)


def test_own_bands_are_told_by_the_band_with_all_its_rows(tmp_path: Path) -> None:
    exposure = 'column = "sheath_to_scope_ratio"\nshape = "bands"\ncuts = [1.2]'
    _, rows = answer(yes_no_unit(), tmp_path, model_text(exposure=exposure))
    risks = {row["value"]: (row["rows_at"], row["estimate"]) for row in of_section(rows, "risk")}
    assert risks == {"under 1.2": (96, pytest.approx(0.5)), "1.2 and over": (96, pytest.approx(0.75))}
