"""The ordered logistic model against another library, and draws that stay within what was seen."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analysis.estimators.imperfect_study import ImperfectKind
from analysis.estimators.ordered_imputation import FULLY_SEEN, NOTHING_SEEN, impute_classes
from analysis.estimators.ordered_logit import class_chances, fit_ordered_logit


def drawn_rows(n: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Covariates, and classes 0 to 3 by a proportional odds model."""
    rng = np.random.default_rng(seed)
    x = rng.normal(size=(n, 2))
    latent = x @ [1.0, -0.5] + rng.logistic(size=n)
    return x, np.digitize(latent, [0.0, 0.7, 1.5])


def test_exact_classes_give_the_maximum_likelihood_fit_of_another_library():
    from statsmodels.miscmodels.ordinal_model import OrderedModel

    x, y = drawn_rows(500, 1)
    ours = fit_ordered_logit(y, y, x, 4, prior_sd=np.inf, prior_rows=0)
    theirs = OrderedModel(y, x, distr="logit").fit(method="newton", maxiter=100, disp=0)
    assert ours.converged
    assert ours.slopes == pytest.approx(theirs.params[:2], abs=1e-6)
    assert ours.cuts == pytest.approx(theirs.model.transform_threshold_params(theirs.params)[1:-1], abs=1e-6)
    assert np.sqrt(np.diag(ours.covariance))[3:] == pytest.approx(theirs.bse[:2], rel=1e-4)


def test_the_default_prior_moves_a_fit_by_little():
    x, y = drawn_rows(500, 1)
    bare, held = fit_ordered_logit(y, y, x, 4, prior_sd=np.inf, prior_rows=0), fit_ordered_logit(y, y, x, 4)
    assert held.slopes == pytest.approx(bare.slopes, abs=0.01)
    assert held.cuts == pytest.approx(bare.cuts, abs=0.01)


def test_two_classes_are_an_ordinary_logistic_regression():
    from statsmodels.discrete.discrete_model import Logit

    x, y = drawn_rows(300, 2)
    y = (y > 1).astype(int)
    ours = fit_ordered_logit(y, y, x, 2, prior_sd=np.inf, prior_rows=0)
    theirs = Logit(y, np.column_stack([np.ones(300), x])).fit(disp=0)
    assert [-ours.cuts[0], *ours.slopes] == pytest.approx(theirs.params, abs=1e-6)


def test_times_count_a_row_as_if_repeated():
    x, y = drawn_rows(60, 3)
    times = np.random.default_rng(0).integers(0, 4, 60)
    weighed = fit_ordered_logit(y, y, x, 4, times=times.astype(float))
    again = np.repeat(np.arange(60), times)
    repeated = fit_ordered_logit(y[again], y[again], x[again], 4)
    assert weighed.slopes == pytest.approx(repeated.slopes, abs=1e-8)


def test_a_range_says_what_it_says_and_no_more():
    """Fragments without a size, class 1 or more: dropping them would make class 0 too common."""
    x, y = drawn_rows(6000, 4)
    hidden = (np.random.default_rng(0).random(6000) < 0.6) & (y > 0)
    low, high = np.where(hidden, 1, y), np.where(hidden, 3, y)
    true = np.bincount(y, minlength=4) / 6000
    ranged = fit_ordered_logit(low, high, x, 4)
    dropped = fit_ordered_logit(y[~hidden], y[~hidden], x[~hidden], 4)
    ours, theirs = (class_chances(fit.cuts, fit.slopes, x).mean(axis=0) for fit in (ranged, dropped))
    assert ours == pytest.approx(true, abs=0.015)
    assert theirs[0] > true[0] + 0.1


def test_separation_leaves_finite_coefficients():
    x = np.linspace(-1, 1, 40)[:, None]
    fit = fit_ordered_logit(np.where(x[:, 0] > 0, 3, 0), np.where(x[:, 0] > 0, 3, 0), x, 4)
    assert fit.converged
    assert np.isfinite(fit.slopes).all()
    assert (np.diff(fit.cuts) > 0).all()


def given(n: int = 400, seed: int = 6, **changes: Any) -> dict[str, Any]:
    """Rows with every class known."""
    x, y = drawn_rows(n, seed)
    made: dict[str, Any] = {
        "lowest": y,
        "highest": y,
        "shown_highest": y,
        "seen": np.full(n, FULLY_SEEN),
        "left_out": np.zeros(n, dtype=bool),
        "cluster": np.arange(n),
        "covariates": x,
        "names": ("a", "b"),
        "classes": 4,
    }
    return made | changes


def test_nothing_open_needs_no_model():
    made = impute_classes(**given())
    assert (made.drawn, made.reason) == (0, None)
    assert (made.classes == given()["lowest"]).all()


def test_draws_stay_within_what_was_seen_and_the_certain_never_move():
    base = given()
    y = base["lowest"]
    rng = np.random.default_rng(1)
    kind = rng.integers(0, 4, 400)  # known; no study; a study that cannot clear; a size not told
    low = np.select([kind == 1, kind == 2, kind == 3], [0, np.where(rng.random(400) < 0.5, y, 0), y > 0], default=y)
    high = np.where(kind == 0, y, np.where((kind == 3) & (y == 0), 0, 3))
    seen = np.select([kind == 1, kind == 2], [NOTHING_SEEN, 0], default=FULLY_SEEN)
    shown = np.where(kind == 2, low, high)
    made = impute_classes(**given(lowest=low, highest=high, shown_highest=shown, seen=seen), seed=9)
    assert made.reason is None
    assert made.drawn == (low < high).sum()
    assert ((made.classes >= low) & (made.classes <= high)).all()
    assert (made.classes[:, (kind == 2) & (low > 0)] == low[(kind == 2) & (low > 0)]).all()
    open_ = made.classes[:, kind == 1]
    assert (open_.min(), open_.max()) == (0, 3)


def test_the_unseen_get_the_shares_of_their_like():
    base = given(n=4000)
    missing = np.random.default_rng(2).random(4000) < 1 / (1 + np.exp(-base["covariates"][:, 0]))
    low, high = np.where(missing, 0, base["lowest"]), np.where(missing, 3, base["lowest"])
    made = impute_classes(
        **(base | {"lowest": low, "highest": high, "seen": np.where(missing, NOTHING_SEEN, FULLY_SEEN)}), seed=2
    )
    assert made.classes is not None
    shares = np.bincount(made.classes[:, missing].ravel(), minlength=4) / made.classes[:, missing].size
    true = np.bincount(base["lowest"][missing], minlength=4) / missing.sum()
    assert shares == pytest.approx(true, abs=0.03)


def test_how_often_a_study_overlooks_is_found_from_what_it_shows():
    chances = np.tile([0.5, 0.2, 0.2, 0.1], (4000, 1))
    rng = np.random.default_rng(3)
    y = rng.choice(4, 4000, p=chances[0])
    low = np.where(rng.random(4000) < 0.6, y, 0)
    kind = ImperfectKind(chances, low, np.full(4000, 3), low)
    hidden = ((y > 0) & (low == 0)).sum()
    assert kind.overlooked == pytest.approx(hidden, rel=0.12)
    weights = kind.weights(chances, rng)
    blank = weights[low == 0][0] / weights[low == 0][0].sum()
    # 0.5 free, and 0.4 of the other half overlooked: 0.5 / 0.7 of those shown nothing are free.
    assert blank[0] == pytest.approx(0.5 / 0.7, abs=0.03)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            {"seen": np.full(400, NOTHING_SEEN), "lowest": np.zeros(400, int), "highest": np.full(400, 3)},
            "nothing to learn",
        ),
        (
            {
                "seen": np.where(np.arange(400) < 5, FULLY_SEEN, NOTHING_SEEN),
                "lowest": np.zeros(400, int),
                "highest": np.where(np.arange(400) < 5, 0, 3),
            },
            "5 units with a known size class are too few",
        ),
    ],
)
def test_too_little_to_learn_from_is_said(change: dict[str, Any], said: str):
    made = impute_classes(**given(**change))
    assert made.classes is None
    assert said in (made.reason or "")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"highest": np.full(400, 4)}, "within 0 to 3"),
        ({"imputations": 1}, "at least 2"),
        ({"covariates": np.full((400, 2), np.nan)}, "missing or infinite"),
    ],
)
def test_what_cannot_be_imputed_is_refused(change: dict[str, Any], said: str):
    with pytest.raises(ValueError, match=said):
        impute_classes(**given(**change))
