"""The Cox model: laws, agreement with a library, likelihoods without a maximum, refusals."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.estimators.regression.fitted import NotEstimable, effects
from analysis.estimators.survival.cox import cox
from analysis.estimators.survival.proportional_hazards_test import GLOBAL, proportional_hazards

from .drawn import followed

NAMES = ["group", "size"]


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("strata", [False, True])
def test_it_is_that_of_statsmodels(seed: int, strata: bool) -> None:
    from statsmodels.duration.hazard_regression import PHReg

    data = followed(seed)
    layer = data.pair % 3 if strata else None
    ours = cox(data.time, data.event, data.x, NAMES, strata=layer)
    other = PHReg(data.time, data.x, status=data.event.astype(int), ties="efron", strata=layer).fit()
    assert ours.coefficients == pytest.approx(other.params, rel=1e-6)
    assert ours.standard_errors == pytest.approx(other.bse, rel=1e-6)
    assert ours.log_likelihood == pytest.approx(other.llf, rel=1e-9)
    assert (ours.extra["strata"], ours.extra["concordance"] is None) == (3 if strata else 1, strata)


def test_clusters_without_ties_are_those_of_statsmodels() -> None:
    from statsmodels.duration.hazard_regression import PHReg

    data = followed(1, ties=100_000)
    ours = cox(data.time, data.event, data.x, NAMES, cluster=data.pair, correction="CR0")
    other = PHReg(data.time, data.x, status=data.event.astype(int)).fit(groups=data.pair)
    assert ours.standard_errors == pytest.approx(np.sqrt(np.diag(other.cov_params())), rel=1e-6)
    times = cox(data.time, data.event, data.x, NAMES, cluster=data.pair).covariance / ours.covariance
    assert times == pytest.approx(60 / 59)


def test_copies_of_rows_do_not_shrink_the_error_in_clusters() -> None:
    data = followed(2, ties=100_000)
    once = cox(data.time, data.event, data.x, NAMES, cluster=np.arange(120), correction="CR0")
    strata = np.repeat([0, 1], 120)  # a copy in a stratum of its own leaves every risk set as it was
    twice = cox(
        np.tile(data.time, 2), np.tile(data.event, 2), np.tile(data.x, (2, 1)), NAMES, strata=strata,
        cluster=np.tile(np.arange(120), 2), correction="CR0",
    )  # fmt: skip
    assert twice.coefficients == pytest.approx(once.coefficients, rel=1e-8)
    assert twice.standard_errors == pytest.approx(once.standard_errors, rel=1e-8)


def test_units_are_of_no_matter() -> None:
    data = followed(3)
    fit = cox(data.time, data.event, data.x, NAMES)
    other = cox(data.time**2, data.event, data.x * [1, 0.001] + [7, 1e3], NAMES)  # only the order of times counts
    assert other.coefficients * [1, 0.001] == pytest.approx(fit.coefficients, rel=1e-7)
    assert other.log_likelihood == pytest.approx(fit.log_likelihood, rel=1e-10)
    (first, _) = effects(fit)
    assert first.scale == "hazard ratio" and first.estimate == pytest.approx(np.exp(fit.coefficients[0]))


def test_a_level_in_which_nobody_has_the_event_is_named_and_its_neighbour_runs() -> None:
    data = followed(4)
    event = data.event & (data.x[:, 0] == 0)
    with pytest.raises(NotEstimable, match="The likelihood has no maximum in group:"):
        cox(data.time, event, data.x, NAMES)
    event[np.flatnonzero(data.x[:, 0] == 1)[0]] = True
    time = np.where(event & (data.x[:, 0] == 1), 1.0, data.time)
    assert np.isfinite(cox(time, event, data.x, NAMES).coefficients).all()


def test_an_order_of_events_by_a_column_has_no_maximum() -> None:
    with pytest.raises(NotEstimable, match="no maximum in size"):
        cox(np.arange(1, 41), np.ones(40), -np.arange(40.0)[:, None], ["size"])
    swapped = -np.arange(40.0)
    swapped[[3, 20]] = swapped[[20, 3]]
    assert np.isfinite(cox(np.arange(1, 41), np.ones(40), swapped[:, None], ["size"]).coefficients).all()


@pytest.mark.parametrize("place", [0, 250, 499])
@pytest.mark.parametrize("strata", [1, 3])
def test_a_row_far_from_all_others_does_not_spoil_the_sums(place: int, strata: int) -> None:
    """Risks then differ by many powers of ten: the slope, summed row by row, has to be nothing at the answer."""
    rng = np.random.default_rng(0)
    x = rng.normal(size=(500, 1))
    order = np.argsort(rng.exponential(np.exp(-0.5 * x[:, 0])))
    time = np.empty(500)
    time[order] = np.arange(1, 501)
    early = order[place]
    x[early] = 200
    time[early] = 0.5
    fit = cox(time, np.ones(500), x, ["size"], strata=np.arange(500) % strata if strata > 1 else None)
    b, residual = fit.coefficients[0], 0.0
    for at in range(500):
        rest = x[(time >= time[at]) & (np.arange(500) % strata == at % strata), 0]
        weight = np.exp(b * (rest - rest.max()))
        residual += x[at, 0] - float(weight @ rest / weight.sum())
    assert residual == pytest.approx(0, abs=1e-4)
    assert 0 < fit.standard_errors[0] < 0.2


def test_what_is_refused() -> None:
    data = followed(5)
    with pytest.raises(NotEstimable, match="none of 120 had the event"):
        cox(data.time, np.zeros(120), data.x, NAMES)
    with pytest.raises(NotEstimable, match="A Cox model takes no intercept"):
        cox(data.time, data.event, np.ones((120, 1)), ["intercept"])
    with pytest.raises(NotEstimable, match="say the same"):
        cox(data.time, data.event, data.x[:, [1, 1]], NAMES)
    with pytest.raises(NotEstimable, match="one cluster"):
        cox(data.time, data.event, data.x, NAMES, cluster=np.zeros(120))
    with pytest.raises(NotEstimable, match=r"2 parameters are asked of \d+ events"):
        cox(data.time[:30], data.event[:30], data.x[:30], NAMES)
    forced = cox(data.time[:30], data.event[:30], data.x[:30], NAMES, force=True)
    assert "read the estimates with that in mind" in forced.remarks[0]
    with pytest.raises(ValueError, match=r"shape \(120, 2\)"):
        cox(data.time, data.event, data.x[:, :1], NAMES)


def test_hazards_that_cross_are_seen_and_columns_can_be_tested_together() -> None:
    rng = np.random.default_rng(1)
    group = np.repeat([0.0, 1.0], 300)
    time = np.where(group == 1, rng.weibull(3, 600), rng.weibull(0.7, 600))
    x = np.column_stack([group, rng.normal(size=600)])
    fit = cox(time, np.ones(600), x, NAMES)
    found = {one.label: one for one in proportional_hazards(fit, time, np.ones(600), x, together=[("both", (0, 1))])}
    assert found["group"].p < 1e-6 < 0.001 < found["size"].p
    assert (found["both"].df, found["both"].statistic) == (2, found[GLOBAL].statistic)
    with pytest.raises(ValueError, match="it is one of km, rank"):
        proportional_hazards(fit, time, np.ones(600), x, transform="sqrt")  # type: ignore[arg-type]


def test_the_test_of_proportional_hazards_is_seldom_wrong_where_they_are() -> None:
    rng = np.random.default_rng(2)
    found = []
    for _ in range(300):
        x = np.column_stack([rng.integers(0, 2, 150), rng.normal(size=150)]).astype(float)
        time, end = rng.exponential(np.exp(-0.6 * x[:, 0] + 0.3 * x[:, 1])), rng.exponential(2, 150)
        seen, event = np.minimum(time, end), time <= end
        fit = cox(seen, event, x, NAMES)
        found.append(proportional_hazards(fit, seen, event, x)[-1].p < 0.05)
    assert abs(np.mean(found) - 0.05) < 3 * np.sqrt(0.05 * 0.95 / 300)
