"""A number is given only where laminar theory can answer; else none, with the reason."""

from __future__ import annotations

import pytest

from analysis.outcomes.fit.concentric import conductance, highest_velocity
from analysis.outcomes.fit.eccentric import eccentric_conductance
from analysis.outcomes.fit.outflow import Conditions, entrance_length, outflow, relative
from analysis.outcomes.fit.pair import Pair
from analysis.outcomes.fit.size import of_tenths_fr


def pair(scope: int, inner: int) -> Pair:
    return Pair(of_tenths_fr(scope), of_tenths_fr(inner))


REFERENCE = pair(75, 100)


def test_above_2000_the_flow_is_withheld_but_the_pressure_for_the_references_flow_is_not():
    given = Conditions()
    wide = outflow(pair(75, 120), 1.0, given)
    assert wide.reynolds > 2000
    assert (wide.ml_min, wide.velocity) == (None, None)
    assert wide.reason is not None and "above 2,000" in wide.reason
    found = relative(wide, outflow(REFERENCE, 1.0, given), given)
    assert found.outflow is None and found.outflow_reason == wide.reason
    # At the reference's gentler flow the wide gap is laminar.
    assert found.pressure == pytest.approx(0.157, abs=5e-4)
    assert found.reynolds < 2000


def test_just_within_and_just_beyond_the_limit():
    low, high = (
        outflow(REFERENCE, 0.0, Conditions(pressure=3922.66 * 2000 / 221.0456 * times)) for times in (0.99, 1.01)
    )
    assert low.ml_min is not None and low.reynolds < 2000
    assert high.ml_min is None and high.reynolds > 2000


def test_a_reference_beyond_the_limit_leaves_nothing_to_compare_with():
    given = Conditions(pressure=60_000)
    found = relative(outflow(pair(85, 100), 0.0, given), outflow(REFERENCE, 0.0, given), given)
    assert (found.outflow, found.pressure) == (None, None)
    assert found.outflow_reason is not None and "the reference, 7.5 in 10 Fr, is outside" in found.outflow_reason


def test_an_entrance_as_long_as_the_sheath_is_withheld():
    long, short = (
        outflow(pair(75, 120), 0.0, Conditions(length=length, pressure=6000 * length)) for length in (1, 0.05)
    )
    assert long.ml_min is not None
    assert short.reynolds == pytest.approx(long.reynolds)
    assert short.ml_min is None
    assert short.reason is not None and "no shorter than the sheath, 5 cm" in short.reason


def test_the_entrance_is_0_06_re_dh():
    # 7.5 in 10 Fr: hydraulic diameter is the difference of the diameters, 2.5/3 mm.
    assert entrance_length(REFERENCE, 221.0) == pytest.approx(0.06 * 221.0 * 2.5 / 3 / 1000)


def test_the_share_of_the_entrance_grows_with_pressure():
    shares = [outflow(REFERENCE, 0.0, Conditions(pressure=pressure)).entrance_share for pressure in (100, 1000, 4000)]
    assert shares == sorted(shares)
    # 2.3 x 1000 kg/m3 x (0.18303 m/s)^2 / 2 over 3922.66 Pa.
    one = outflow(REFERENCE, 0.0, Conditions())
    assert one.entrance_share == pytest.approx(2.3 * 1000 * 0.183026**2 / 2 / 3922.66, rel=1e-4)


@pytest.mark.parametrize("kappa", [0.0, 1.0, -0.2, 1.5])
def test_outside_0_to_1_there_is_no_annulus(kappa: float):
    with pytest.raises(ValueError, match="between 0 and 1"):
        conductance(kappa)
    with pytest.raises(ValueError, match="between 0 and 1"):
        eccentric_conductance(kappa, 0.5)
    with pytest.raises(ValueError, match="between 0 and 1"):
        highest_velocity(pressure=1, radius=1, length=1, viscosity=1, kappa=kappa)


@pytest.mark.parametrize("eccentricity", [-0.1, 1.01])
def test_a_scope_cannot_lie_beyond_the_wall(eccentricity: float):
    with pytest.raises(ValueError, match="eccentricity"):
        eccentric_conductance(0.75, eccentricity)


@pytest.mark.parametrize("name", ["length", "viscosity", "density", "pressure"])
def test_conditions_are_above_0(name: str):
    with pytest.raises(ValueError, match="above 0"):
        Conditions(**{name: 0.0})


def test_pairs_compare_at_their_own_sizes_not_by_ratio_alone():
    # One ratio, 0.75: 9 in 12 Fr has 1.2^4 the outflow of 7.5 in 10 Fr.
    given = Conditions()
    found = relative(outflow(pair(90, 120), 0.0, given), outflow(REFERENCE, 0.0, given), given)
    assert found.outflow == pytest.approx(1.2**4)
