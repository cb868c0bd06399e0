"""A registry small enough to be worked by hand: crude and adjusted odds ratios, risks, intervals; tables from papers.

Of women 40 of 60 are free at the wider fit and 20 of 40 at the tighter one, odds 2 and 1; of men 10 of 20 and 20 of
60, odds 1 and 1/2. In both the odds ratio is 2, so that the adjusted one is exactly 2; together it is
(50/30)/(40/60) = 2.5.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from tests.cohort.rows import day
from tests.reports.ratio.scoped_unit import ScopedUnit, answer, model_text, of_section

WIDE, TIGHT = (75, 100), (85, 100)
EXPOSURE = 'column = "sheath_to_scope_ratio"\nper = 0.1\ncontrast = [1.3333, 1.1765]'
Section = list[dict[str, Any]]


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, Any]]:
    unit = ScopedUnit()
    for sex, wide, tight in (("female", (40, 20), (20, 20)), ("male", (10, 10), (20, 40))):
        for pair, (free, failed) in ((WIDE, wide), (TIGHT, tight)):
            unit.several(free, pair, True, sex=sex)
            unit.several(failed, pair, False, sex=sex)
    text = model_text(exposure=EXPOSURE, adjust=('column = "sex"',))
    _, rows = answer(unit, tmp_path_factory.mktemp("hand"), text)
    return rows


def named(rows: Section, **values: Any) -> dict[str, Any]:
    held = [row for row in rows if all(row[key] == value for key, value in values.items())]
    assert len(held) == 1
    return held[0]


def test_the_crude_odds_ratio_and_its_interval(found: Section) -> None:
    """(50/30)/(40/60) = 2.5; of a saturated model the robust error is Woolf's, times sqrt(G/(G-1)), G 180 patients."""
    step = 0.1 / (100 / 75 - 100 / 85)
    row = named(of_section(found, "effect"), model="crude, all rows")
    error = math.sqrt(1 / 50 + 1 / 30 + 1 / 40 + 1 / 60) * math.sqrt(180 / 179)
    assert row["estimate"] == pytest.approx(2.5**step, rel=1e-9)
    assert row["low"] == pytest.approx(math.exp(step * (math.log(2.5) - 1.959963984540054 * error)), rel=1e-8)
    assert row["high"] == pytest.approx(math.exp(step * (math.log(2.5) + 1.959963984540054 * error)), rel=1e-8)
    assert (row["n"], row["events"]) == (180, 90)


def test_the_adjusted_odds_ratio_is_that_of_both_strata(found: Section) -> None:
    row = named(of_section(found, "contrast"), model="conditional")
    assert row["estimate"] == pytest.approx(2.0, rel=1e-6)


def test_risks_are_standardised_over_all(found: Section) -> None:
    """100 women and 80 men: (100 x 2/3 + 80 x 1/2)/180 against (100 x 1/2 + 80 x 1/3)/180, a sixth apart."""
    wide, tight = (100 * 2 / 3 + 80 / 2) / 180, (100 / 2 + 80 / 3) / 180
    risks = {row["value"]: row for row in of_section(found, "risk")}
    assert risks["1.333"]["estimate"] == pytest.approx(wide, rel=1e-7)
    assert risks["1.176"]["estimate"] == pytest.approx(tight, rel=1e-7)
    contrast = of_section(found, "contrast")
    assert named(contrast, measure="risk difference")["estimate"] == pytest.approx(1 / 6, rel=1e-6)
    assert named(contrast, measure="risk ratio")["estimate"] == pytest.approx(wide / tight, rel=1e-7)


def test_the_e_value_is_of_the_standardised_risk_ratio(found: Section) -> None:
    """RR + sqrt(RR (RR - 1)): VanderWeele TJ, Ding P, Ann Intern Med 2017;167:268-274."""
    ratio = ((100 * 2 / 3 + 80 / 2) / 180) / ((100 / 2 + 80 / 3) / 180)
    row = named(of_section(found, "sensitivity"), model="E-value, to explain the estimate")
    assert row["estimate"] == pytest.approx(ratio + math.sqrt(ratio * (ratio - 1)), rel=1e-6)


def test_size_turns_the_comparison_of_1986_round(tmp_path: Path) -> None:
    """Charig CR et al, Br Med J 1986;292:879-882, by size in Julious SA, Mullee MA, BMJ 1994;309:1480-1481: open
    192/263 and 81/87, percutaneous 55/80 and 234/270 (20 mm and over, under). Mantel-Haenszel by hand: (55 x 71/343 +
    234 x 6/357)/(25 x 192/343 + 36 x 81/357) = 0.691; crude (289/61)/(273/77) = 1.336."""
    unit = ScopedUnit()
    counts = {("open", 25.0): (192, 263), ("open", 10.0): (81, 87), ("percutaneous", 25.0): (55, 80)}
    counts["percutaneous", 10.0] = (234, 270)
    for (technique, mm), (free, n) in counts.items():
        unit.several(free, None, True, technique=technique, mm=mm)
        unit.several(n - free, None, False, technique=technique, mm=mm)
    text = model_text(
        outcome='what = "stone_free"\nthreshold = "lt2"',
        exposure='column = "technique"\nshape = "levels"\nreference = "open"\ncontrast = ["percutaneous", "open"]',
        adjust=('column = "largest_mm"\nshape = "bands"\ncuts = [20]',),
    )
    _, rows = answer(unit, tmp_path, text)
    effects = {row["model"]: row for row in of_section(rows, "effect")}
    assert effects["crude, all rows"]["estimate"] == pytest.approx((289 / 61) / (273 / 77), rel=1e-7)
    adjusted = effects["adjusted"]
    by_hand = (55 * 71 / 343 + 234 * 6 / 357) / (25 * 192 / 343 + 36 * 81 / 357)
    # Two estimators of one odds ratio: maximum likelihood and Mantel-Haenszel differ in the third digit.
    assert adjusted["estimate"] == pytest.approx(by_hand, rel=0.02)
    assert effects["crude, all rows"]["estimate"] > 1 > adjusted["estimate"]
    assert adjusted["n"] == 700


def test_infection_by_band_as_it_was_published(tmp_path: Path) -> None:
    """Two-centre series of 243, J Endourol 2026, doi 10.1177/08927790261451791: infection in 1/39, 5/108 and 14/96 by
    scope over sheath under 0.75, 0.75 to under 0.85, 0.85 and over; published p of trend 0.009 (by another model), and
    14/96 against 6/147 p = 0.007 (Fisher's; worked again here by the section's own table of two)."""
    unit = ScopedUnit()
    for pair, events, n in (((75, 120), 1, 39), ((75, 100), 5, 108), ((95, 100), 14, 96)):
        for number in range(n):
            side = unit.side(pair, None)
            operation = unit.rows.operation_of(side)
            patient = unit.rows.tables["operation"][operation - 1]["patient_id"]
            unit.rows.add("contact", patient_id=patient, contacted_on=day(40))
            if number < events:
                unit.rows.add(
                    "complication",
                    operation_id=operation,
                    complication_number=1,
                    what="febrile_urinary_infection",
                    onset_on=day(2),
                )
    exposure = 'column = "sheath_to_scope_ratio"\nshape = "bands"'
    outcome = 'what = "infection"\ndefinition = "recorded-febrile"'
    text = model_text(outcome=outcome, exposure=exposure, rest='[fit]\nmethod = "exact"')
    _, rows = answer(unit, tmp_path, text)
    exact = of_section(rows, "exact")
    shares = {row["of"]: (row["events"], row["n"]) for row in exact if row["what"] == "share"}
    assert shares == {"under 0.75": (1, 39), "0.75 to under 0.85": (5, 108), "0.85 and over": (14, 96)}
    tests = {row["of"]: row["p"] for row in exact if row["what"] == "test"}
    # By hand: sum of x (a - n p) = 8.3086, its variance p q (492 - 300^2/243) = 9.1866, so that z = 2.741.
    assert tests["Cochran-Armitage trend"] == pytest.approx(0.00612, abs=0.00002)
    assert tests["Freeman-Halton exact"] < 0.02
    split = 'column = "scope_to_sheath_split"\nshape = "levels"\nreference = "0.85 and under"'
    text = model_text(outcome=outcome, exposure=split, rest='[fit]\nmethod = "exact"')
    _, rows = answer(unit, tmp_path / "split", text)
    (ratio,) = [row for row in of_section(rows, "exact") if row["what"] == "odds ratio"]
    assert ratio["p"] == pytest.approx(0.007, abs=0.0005)  # as printed
    assert ratio["low"] < (14 / 82) / (6 / 141) < ratio["high"]
