"""A large invented cohort with known potential outcomes: held alike, the ratio's effect is found; crude, it is not.

The wider fit goes where stones are easier here (confounding), so that the crude comparison flatters it. Everybody's
true residual is looked at, so that nothing but the model decides.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest

from analysis.design.terms import Term
from analysis.estimators.regression.standardised_risk import Standardised
from analysis.reports.ratio.effects import contrasts
from analysis.reports.ratio.fitting import fitted, outcome_known
from analysis.reports.ratio.model_file import Adjuster, Model
from analysis.reports.ratio.rows import Rows, tidied
from synthetic_cohort.frames import cohort
from synthetic_cohort.outcome import cut_mm
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.truth import Estimand, Measure, true_value

SEED, SIZE = 20_240_601, 24_000
WIDE, TIGHT = 1.6, 100 / 85
CONFOUNDED = Parameters(confounding=2.0)
HELD = ("burden_mm", "density_hu", "lower_pole", "pre_stented", "suction", "operator", "year")


@cache
def estimates(parameters: Parameters, *, adjusted: bool) -> dict[str, Standardised]:
    """Difference, ratio and odds ratio of the standardised risks, by label."""
    people = cohort(parameters, SIZE, SEED)
    sides = {name: np.asarray(values) for name, values in people.sides.items()}
    chosen = sides["intended"] & (sides["parent"] < 0) & (sides["sheath"] > 0)
    frame = pd.DataFrame({name: sides[name][chosen] for name in ("burden_mm", "density_hu", "year")})
    for name in ("lower_pole", "pre_stented", "suction", "operator"):
        frame[name] = pd.Categorical(sides[name][chosen].astype(int).astype(str))
    frame["sheath_to_scope_ratio"] = sides["ratio"][chosen]
    frame["ratio_state"] = "known"
    frame["study_number"] = sides["patient"][chosen].astype(str)
    frame["outcome"] = (sides["residual_mm"][chosen] <= cut_mm("2")).astype(float)
    frame["outcome_state"] = "known"
    rows = Rows(unit="treated side", kind="yes_no", frame=tidied(frame, "sheath_to_scope_ratio"), label="", measured="")
    terms = [
        Term(column=name, shape="levels" if isinstance(frame[name].dtype, pd.CategoricalDtype) else "linear")
        for name in HELD
    ]
    model = Model(
        name="known truth",
        outcome="stone_free",
        options={},
        exposure=Term(column="sheath_to_scope_ratio", per=0.1),
        adjusters=tuple(Adjuster(term) for term in terms) if adjusted else (),
        place="truth",
    )
    made = fitted(model, rows, outcome_known(rows))
    return {one.label: one for one in contrasts(made, WIDE, TIGHT)}


def off(parameters: Parameters, measure: Measure, label: str, *, adjusted: bool) -> float:
    """How far the estimate is from the truth, in simulation errors (its own and that of the truth)."""
    one = estimates(parameters, adjusted=adjusted)[label]
    asked = Estimand("stone_free", "ratio", measure, "2", WIDE, TIGHT)
    truth = true_value(parameters, asked)
    on_log = label != "risk difference"
    gap = np.log(one.estimate / truth.value) if on_log else one.estimate - truth.value
    error = np.hypot(one.standard_error, truth.error / truth.value if on_log else truth.error)
    return float(gap / error)


MEASURES: tuple[tuple[Measure, str], ...] = (
    ("difference", "risk difference"),
    ("ratio", "risk ratio"),
    ("odds_ratio", "odds ratio of the standardised risks"),
)


@pytest.mark.parametrize(("measure", "label"), MEASURES)
def test_what_is_held_alike_brings_the_truth_back(measure: Measure, label: str) -> None:
    assert abs(off(CONFOUNDED, measure, label, adjusted=True)) < 3


@pytest.mark.parametrize(("measure", "label"), MEASURES)
def test_the_crude_comparison_is_wrong_where_choice_follows_the_stone(measure: Measure, label: str) -> None:
    assert abs(off(CONFOUNDED, measure, label, adjusted=False)) > 3


def test_dealt_out_by_lot_the_crude_comparison_is_right() -> None:
    by_lot = Parameters(confounding=0.0)
    assert abs(off(by_lot, "difference", "risk difference", adjusted=False)) < 3
    assert abs(off(by_lot, "difference", "risk difference", adjusted=True)) < 3
