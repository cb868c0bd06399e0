"""Imputations against what theory and another program say of the same data."""

from __future__ import annotations

import warnings

import numpy as np
import pandas as pd
import pytest
from statsmodels.imputation.mice import MICEData

from analysis.estimators.chained_equations import chained_equations
from analysis.estimators.imputations_needed import imputations_needed
from analysis.estimators.pooled_regression import enough_imputations, pooled_effects, pooled_fit
from analysis.estimators.regression.linear import linear
from analysis.estimators.regression.logistic import logistic


def two_columns(rows: int, seed: int = 1) -> tuple[pd.DataFrame, np.ndarray]:
    """y known, x lacking more often where y is high; and x as it was."""
    draw = np.random.default_rng(seed)
    x = draw.normal(10, 2, rows)
    y = 3 + 0.5 * x + draw.normal(0, 1, rows)
    frame = pd.DataFrame({"x": x, "y": y})
    frame.loc[draw.random(rows) < 1 / (1 + np.exp(-(y - 8))), "x"] = np.nan
    return frame, x


def test_drawn_numbers_have_the_mean_and_spread_that_regression_gives_them() -> None:
    """x given y of a bivariate normal law: mean 10 + (y - 8), variance 2 (beta = 0.5 x 4 / 2 = 1, 4 x (1 - 1/2))."""
    frame, _ = two_columns(20_000)
    found = chained_equations(frame, {"x": "numeric", "y": "numeric"}, seed=2, imputations=20, cycles=1)
    lacking = frame["x"].isna().to_numpy()
    y = frame.loc[lacking, "y"].to_numpy()
    left = found.values["x"] - (10 + (y - 8))
    middle = np.abs(y - 8) < 2  # where donors are near; far out the nearest stand further off
    assert left[:, middle].mean() == pytest.approx(0, abs=0.05)
    assert left[:, middle].std() == pytest.approx(np.sqrt(2), rel=0.03)


def test_the_error_is_that_of_the_known_information_when_an_outcome_lacks() -> None:
    """An outcome missing at random holds nothing of its own: pooled slope and error are the complete case's."""
    draw = np.random.default_rng(5)
    x = draw.normal(size=2000)
    frame = pd.DataFrame({"x": x, "y": 1 + 0.5 * x + draw.normal(size=2000)})
    frame.loc[draw.random(2000) < 0.4, "y"] = np.nan
    found = chained_equations(frame, {"x": "numeric", "y": "numeric"}, seed=1, imputations=200, cycles=1)
    fits = []
    for number in range(200):
        one = found.completed(number)
        fits.append(linear(one["y"], np.column_stack([np.ones(2000), one["x"]]), ("intercept", "x")))
    known = frame.dropna()
    alone = linear(known["y"], np.column_stack([np.ones(len(known)), known["x"]]), ("intercept", "x"))
    slope = pooled_effects(pooled_fit(fits))[1]
    assert slope.effect.estimate == pytest.approx(alone.coefficients[1], abs=0.25 * alone.standard_errors[1])
    assert slope.effect.standard_error == pytest.approx(alone.standard_errors[1], rel=0.1)
    assert slope.pooled.share_missing == pytest.approx(0.4, abs=0.08)


@pytest.mark.parametrize("levels", [2, 3])
def test_drawn_levels_have_the_chances_of_their_model(levels: int) -> None:
    draw = np.random.default_rng(7)
    x = draw.normal(size=20_000)
    at = np.column_stack([np.zeros(len(x)), *(place * 0.8 * x - 0.3 * place for place in range(1, levels))])
    chance = np.exp(at) / np.exp(at).sum(axis=1, keepdims=True)
    level = (draw.random(len(x))[:, None] > np.cumsum(chance, axis=1)).sum(axis=1)
    frame = pd.DataFrame({"x": x, "level": np.array(["a", "b", "c"], dtype=object)[level]})
    lacking = draw.random(len(x)) < 1 / (1 + np.exp(-x))
    frame.loc[lacking, "level"] = None
    kind = "binary" if levels == 2 else "categorical"
    found = chained_equations(frame, {"x": "numeric", "level": kind}, seed=1, imputations=20, cycles=2)  # type: ignore[dict-item]
    for place in range(levels):
        drawn = (found.values["level"] == place).mean(axis=0)
        high = x[lacking] > 0.5
        for part in (high, ~high):
            assert drawn[part].mean() == pytest.approx(chance[lacking, place][part].mean(), abs=0.02)


def test_pooled_slopes_are_those_of_another_program_on_the_same_data() -> None:
    """statsmodels MICE (predictive mean matching as well), to within what seeds do."""
    draw = np.random.default_rng(11)
    z = draw.normal(size=(800, 3))
    frame = pd.DataFrame({"a": z[:, 0], "b": 0.6 * z[:, 0] + z[:, 1], "c": 0.5 * z[:, 1] + z[:, 2]})
    frame["y"] = frame.a - frame.b + 0.5 * frame.c + draw.normal(size=800)
    for name, on in (("a", "y"), ("b", "y"), ("c", "y")):
        frame.loc[draw.random(800) < 0.2 / (1 + np.exp(-frame[on])) * 2, name] = np.nan
    found = chained_equations(frame, dict.fromkeys(frame.columns, "numeric"), seed=3, imputations=30, cycles=5)
    names = ("intercept", "a", "b", "c")

    def fit(one: pd.DataFrame) -> object:
        return linear(one["y"], np.column_stack([np.ones(800), one[["a", "b", "c"]]]), names)

    ours = pooled_effects(pooled_fit([fit(found.completed(number)) for number in range(30)]))  # type: ignore[misc]
    theirs = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its own
        data = MICEData(frame.copy(), k_pmm=5, rng=1)
        data.update_all(10)
        for _ in range(30):
            data.update_all(2)
            theirs.append(fit(data.data))
    other = pooled_effects(pooled_fit(theirs))  # type: ignore[arg-type]
    for one, two in zip(ours, other, strict=True):
        assert one.effect.estimate == pytest.approx(two.effect.estimate, abs=0.35 * one.effect.standard_error)
        assert one.effect.standard_error == pytest.approx(two.effect.standard_error, rel=0.15)


def test_with_the_outcome_imputed_slopes_are_right_where_complete_rows_are_not() -> None:
    """A yes/no outcome, burden lacking by outcome and age: 20,000 rows, truth 0.7 and 0.5."""
    draw = np.random.default_rng(13)
    rows = 20_000
    age = draw.normal(size=rows)
    burden = 0.5 * age + draw.normal(size=rows)
    y = (draw.random(rows) < 1 / (1 + np.exp(-(-1 + 0.7 * burden + 0.5 * age)))).astype(float)
    frame = pd.DataFrame({"age": age, "burden": burden, "y": y})
    frame.loc[draw.random(rows) < np.where((y == 1) & (age > 0), 0.7, 0.1), "burden"] = np.nan
    found = chained_equations(
        frame, {"age": "numeric", "burden": "numeric", "y": "binary"}, seed=1, imputations=6, cycles=2
    )
    names = ("intercept", "burden", "age")

    def fit(one: pd.DataFrame) -> object:
        return logistic(one["y"], np.column_stack([np.ones(len(one)), one[["burden", "age"]]]), names)

    pooled = pooled_fit([fit(found.completed(number)) for number in range(6)])  # type: ignore[misc]
    alone = fit(frame.dropna())
    assert pooled.coefficients[1:] == pytest.approx([0.7, 0.5], abs=0.06)
    assert abs(alone.coefficients[2] - 0.5) > 0.3  # type: ignore[attr-defined]
    assert enough_imputations(pooled).largest_fraction > 0.1


@pytest.mark.parametrize(("fraction", "pilot", "needed"), [(0.0, 20, 2), (0.49, 10**9, 50), (0.29, 10**9, 18)])
def test_how_many_imputations_are_needed(fraction: float, pilot: int, needed: int) -> None:
    """The quadratic rule 1 + (fraction / 0.05)^2 / 2 (von Hippel 2020, from memory): 49.02 and 17.82."""
    assert imputations_needed(fraction, pilot) == needed


def test_a_small_pilot_asks_for_more_and_bad_numbers_are_refused() -> None:
    assert imputations_needed(0.3, 5) > imputations_needed(0.3, 50) > imputations_needed(0.3, 5000)
    for fraction, pilot, spread in ((1.2, 5, 0.05), (0.3, 1, 0.05), (0.3, 5, 0.0)):
        with pytest.raises(ValueError, match="fraction from 0 to 1"):
            imputations_needed(fraction, pilot, spread=spread)
