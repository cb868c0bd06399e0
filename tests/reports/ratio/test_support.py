"""What the data cannot carry is refused in a plain sentence, and its neighbour, which they can, runs."""

from __future__ import annotations

from itertools import cycle
from pathlib import Path
from typing import Any

import pytest

from registry.schema.errors import GravelbookError

from .scoped_unit import ScopedUnit, answer, model_text, of_section

PAIRS = ((95, 100), (85, 100), (75, 100), (75, 110), (75, 120))
"""Ratios 1.05, 1.18, 1.33, 1.47, 1.60."""


def unit_of(counts: tuple[int, ...], *, operators: int = 3, sexes: tuple[str, ...] = ("female", "male")) -> ScopedUnit:
    """A unit with so many sides at each ratio, tightest first; two of three are free, operators and sexes in turn."""
    unit = ScopedUnit()
    sex, who = cycle(sexes), cycle(range(operators))
    for pair, many in zip(PAIRS, counts, strict=False):
        for number in range(many):
            unit.side(pair, number % 3 != 0, operator=f"S{next(who)}", sex=next(sex))
    return unit


def shaped(shape: str, **more: Any) -> str:
    told = "\n".join(f"{name} = {value}" for name, value in more.items())
    return model_text(exposure=f'column = "sheath_to_scope_ratio"\nshape = "{shape}"\n{told}')


def refusal(unit: ScopedUnit, folder: Path, text: str) -> str:
    with pytest.raises(GravelbookError) as fault:
        answer(unit, folder, text)
    return str(fault.value)


def test_one_ratio_answers_nothing_and_two_do(tmp_path: Path) -> None:
    said = refusal(unit_of((0, 0, 60)), tmp_path / "one", shaped("linear"))
    assert "sheath_to_scope_ratio is 1.333 in all 60 treated sides with the outcome known" in said
    assert "cannot say what goes with it" in said
    made, _ = answer(unit_of((0, 60, 60)), tmp_path / "two", shaped("linear"))
    assert made.adjusted is not None
    assert made.adjusted.n == 120


def test_nobody_with_outcome_and_ratio(tmp_path: Path) -> None:
    unit = ScopedUnit()
    unit.several(5, (75, 100), None)
    unit.several(4, (75, 0), True)
    said = refusal(unit, tmp_path, shaped("linear"))
    assert "no treated side has both the outcome and the exposure known" in said
    assert "unknown 5" in said
    assert "not applicable 4" in said


@pytest.mark.parametrize(("ratios", "knots"), [(3, 3), (4, 4), (5, 5)])
def test_a_spline_needs_one_ratio_more_than_knots(tmp_path: Path, ratios: int, knots: int) -> None:
    unit = unit_of((60,) * ratios)
    said = refusal(unit, tmp_path / "curved", shaped("spline", knots=knots))
    assert f"with {knots} knots needs at least {knots + 1} distinct values, and there are {ratios}" in said
    assert "Take it as linear or in categories" in said
    for number, neighbour in enumerate((shaped("linear"), shaped("bands"))):
        made, _ = answer(unit, tmp_path / f"neighbour {number}", neighbour)
        assert made.adjusted is not None


def test_bands_are_held_against_the_loosest_that_occurs(tmp_path: Path) -> None:
    _, rows = answer(unit_of((40, 40, 40)), tmp_path, shaped("bands"))
    assert {row["effect"] for row in of_section(rows, "effect")} == {"0.85 and over against 0.75 to under 0.85"}


@pytest.mark.parametrize(("ratios", "knots"), [(4, 3), (5, 3), (5, 4)])
def test_with_a_ratio_to_spare_a_spline_runs(tmp_path: Path, ratios: int, knots: int) -> None:
    made, rows = answer(unit_of((60,) * ratios), tmp_path, shaped("spline", knots=knots))
    assert made.adjusted is not None
    assert len(made.adjusted.design.knots["sheath_to_scope_ratio"]) == knots
    asked = [row["question"] for row in of_section(rows, "tests")]
    assert "sheath_to_scope_ratio is not a straight line" in asked


def test_eighty_in_a_hundred_at_one_ratio_let_knots_coincide(tmp_path: Path) -> None:
    unit = unit_of((10, 10, 160, 10, 10))
    said = refusal(unit, tmp_path / "curved", shaped("spline", knots=3))
    assert "two of them in one place" in said
    assert "linear or in categories" in said
    made, _ = answer(unit, tmp_path / "linear", shaped("linear"))
    assert made.adjusted is not None
    assert made.adjusted.n == 200


def test_an_operator_with_one_ratio_each_cannot_be_held_alike(tmp_path: Path) -> None:
    unit = ScopedUnit()
    for number, pair in enumerate(PAIRS[1:3]):
        unit.several(40, pair, True, operator=f"S{number}")
        unit.several(20, pair, False, operator=f"S{number}")
    text = model_text(adjust=('column = "operator"',))
    said = refusal(unit, tmp_path / "alone", text)
    assert "no operator used two values of the exposure (S0 1.176, S1 1.333)" in said
    assert "Leave operator out and say that it was" in said
    made, rows = answer(unit, tmp_path / "crude", model_text())
    assert any("Every operator used one value" in said for said in made.support.cautions)
    assert [row["values"] for row in of_section(rows, "operators_by_exposure")] == [1, 1]


def test_one_operator_with_two_ratios_is_enough_to_ask(tmp_path: Path) -> None:
    unit = ScopedUnit()
    for number, pair in enumerate(PAIRS[1:3]):
        for operator, many in ((f"S{number}", 30), ("S9", 15)):
            unit.several(2 * many // 3, pair, True, operator=operator)
            unit.several(many // 3, pair, False, operator=operator)
    made, _ = answer(unit, tmp_path, model_text(adjust=('column = "operator"',)))
    assert made.adjusted is not None
    assert len(made.adjusted.design.levels["operator"]) == 3


def test_an_adjuster_that_never_overlaps_is_refused_by_name(tmp_path: Path) -> None:
    unit = ScopedUnit()
    for sex, pair in (("male", PAIRS[1]), ("female", PAIRS[2])):
        unit.several(30, pair, True, sex=sex)
        unit.several(20, pair, False, sex=sex)
    said = refusal(unit, tmp_path / "apart", model_text(adjust=('column = "sex"',)))
    assert "sex" in said
    assert "cannot be told from what goes with sex" in said
    # Two men at the other ratio, two women at this one, and the two can at least be told apart.
    for free in (True, False):
        unit.side(PAIRS[2], free, sex="male")
        unit.side(PAIRS[1], free, sex="female")
    made, _ = answer(unit, tmp_path / "meeting", model_text(adjust=('column = "sex"',)))
    assert made.adjusted is not None


def test_years_that_do_not_meet_are_refused_with_their_ranges(tmp_path: Path) -> None:
    unit = ScopedUnit()
    for on, pair in ((0, PAIRS[1]), (400, PAIRS[2])):
        unit.several(30, pair, True, on=on)
        unit.several(20, pair, False, on=on)
    unit.rows.add(
        "contact", patient_id=1, contacted_on=unit.rows.tables["operation"][-1]["operated_on"].replace(year=2026)
    )
    said = refusal(unit, tmp_path, model_text(adjust=('column = "year"',)))
    assert "year does not overlap between any two values of sheath_to_scope_ratio: at 1.176 it is 2024 to 2024" in said


def test_two_values_are_not_compared_where_an_adjuster_is_apart(tmp_path: Path) -> None:
    """Three ratios: the outer two share no sex, the middle one has both; the model runs, that comparison does not."""
    unit = ScopedUnit()
    for pair, sexes in ((PAIRS[1], ("male",)), (PAIRS[2], ("male", "female")), (PAIRS[4], ("female",))):
        for sex in sexes:
            unit.several(30, pair, True, sex=sex)
            unit.several(20, pair, False, sex=sex)
    adjust = ('column = "sex"',)
    exposure = 'column = "sheath_to_scope_ratio"\nper = 0.1\ncontrast = [{}]'
    said = refusal(unit, tmp_path / "apart", model_text(exposure=exposure.format("1.6, 1.1765"), adjust=adjust))
    assert "1.6 and 1.176 cannot be compared with sex held alike: at 1.6 it is female; at 1.176 it is male" in said
    made, _ = answer(unit, tmp_path / "near", model_text(exposure=exposure.format("1.6, 1.3333"), adjust=adjust))
    assert made.contrast == (pytest.approx(1.6), pytest.approx(4 / 3))


def test_the_contrast_that_comes_with_the_program_is_let_go_where_the_data_do_not_reach(tmp_path: Path) -> None:
    from dataclasses import replace

    from analysis.reports.ratio.answer import answered
    from analysis.reports.ratio.request import read_request

    unit = unit_of((0, 0, 60, 60))
    asked = unit.asked(tmp_path)
    request = read_request(None, {})
    model = replace(request.model, adjusters=())
    made = answered(model, asked, contrast_asked=request.contrast_asked, show=request.show)
    assert made.contrast is None
    assert "1.2 lies outside what was observed, 1.333 to 1.467" in made.remarks[0]
    with pytest.raises(GravelbookError, match="lies outside what was observed"):
        answered(model, asked, contrast_asked=True, show=request.show)


def test_support_alone_is_shown_without_a_model(tmp_path: Path) -> None:
    unit = unit_of((0, 10, 10))
    made, rows = answer(unit, tmp_path, shaped("spline"), show="rows,support")
    assert made.adjusted is None
    assert {row["section"] for row in rows} == {"rows", "exposure", "operators_by_exposure", "overlap"}


def test_overlap_is_told_by_value_with_the_largest_standardised_difference(tmp_path: Path) -> None:
    """Shares of women 1/2 and 1/5: |0.5 - 0.2| / sqrt((0.25 + 0.16) / 2) = 0.6626."""
    unit = ScopedUnit()
    for pair, women in ((PAIRS[1], 15), (PAIRS[2], 6)):
        unit.several(women, pair, True, sex="female")
        unit.several(30 - women, pair, False, sex="male")
    _, rows = answer(unit, tmp_path, model_text(), show="support")
    (women_row,) = [row for row in of_section(rows, "overlap") if (row["column"], row["level"]) == ("sex", "female")]
    assert women_row["at_1.176"] == pytest.approx(0.5)
    assert women_row["at_1.333"] == pytest.approx(0.2)
    assert women_row["estimate"] == pytest.approx(0.3 / (0.41 / 2) ** 0.5)


def test_more_parameters_than_events_are_refused_with_the_number_carried(tmp_path: Path) -> None:
    unit = unit_of((0, 15, 15))
    text = model_text(adjust=('column = "sex"', 'column = "bilateral"'))
    said = refusal(unit, tmp_path / "vary", text)  # nobody is bilateral
    assert "bilateral is no in all 30 rows" in said
    said = refusal(unit, tmp_path / "many", model_text(adjust=('column = "sex"',)))
    assert "2 parameters are asked of 10 of the rarer outcome, 5.0 for each; at 10 for each the data carry 1" in said
    made, _ = answer(
        unit, tmp_path / "set", model_text(adjust=('column = "sex"',), rest="[fit]\nevents_per_parameter = 5")
    )
    assert made.adjusted is not None
    made, _ = answer(unit, tmp_path / "firth", model_text(adjust=('column = "sex"',), rest='[fit]\nmethod = "firth"'))
    assert made.adjusted is not None


def test_separation_is_named_and_the_penalised_model_runs(tmp_path: Path) -> None:
    unit = ScopedUnit()
    unit.several(30, PAIRS[2], True)
    for pair in PAIRS[:2]:
        unit.several(20, pair, True)
        unit.several(20, pair, False)
    text = model_text(exposure='column = "scope_to_sheath_band"\nshape = "levels"\nreference = "0.85 and over"')
    said = refusal(unit, tmp_path / "plain", text)
    assert "separated by" in said
    assert "penalised model" in said
    made, rows = answer(unit, tmp_path / "firth", text + '[fit]\nmethod = "firth"\n')
    assert made.adjusted is not None
    (effect,) = of_section(rows, "effect")
    assert effect["low"] > 1
    assert effect["high"] < float("inf")


def test_a_category_of_a_few_rows_has_no_effect_of_its_own(tmp_path: Path) -> None:
    unit = unit_of((40, 40, 0, 4))
    text = model_text(exposure='column = "scope_to_sheath_band"\nshape = "levels"\nreference = "0.85 and over"')
    said = refusal(unit, tmp_path / "four", text)
    assert "fewer than 5 treated sides have scope_to_sheath_band under 0.75 (4)" in said
    made, _ = answer(unit, tmp_path / "firth", text + '[fit]\nmethod = "firth"\n')
    assert made.adjusted is not None
    unit.side(PAIRS[3], False)
    unit.side(PAIRS[3], True)
    made, _ = answer(unit, tmp_path / "six", text)
    assert made.adjusted is not None
