"""Laws of sizes, bands and idealised outflow."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.outcomes.fit.bands import BANDS, SPLIT, band_of, split_of
from analysis.outcomes.fit.concentric import conductance, flow
from analysis.outcomes.fit.eccentric import eccentric_conductance, gain
from analysis.outcomes.fit.outflow import Conditions, outflow, relative
from analysis.outcomes.fit.pair import Pair
from analysis.outcomes.fit.pressure import PASCAL_IN, from_pascal, to_pascal
from analysis.outcomes.fit.size import MM_IN, of_number, of_tenths_fr, of_thousandths_inch

law = settings(deadline=None, max_examples=100)
kappas = st.floats(0.02, 0.9899)
positions = st.floats(0, 1)
pairs = st.integers(41, 240).flatmap(
    lambda inner: st.tuples(st.integers(40, inner - 1), st.just(inner)).map(
        lambda tenths: Pair(of_tenths_fr(tenths[0]), of_tenths_fr(tenths[1]))
    )
)
gentle = Conditions(pressure=1.0)
"""So little pressure that no pair leaves laminar flow."""


@law
@given(kappas, st.floats(1e-4, 0.1))
def test_a_tighter_gap_lets_less_through(kappa: float, more: float):
    tighter = min(kappa + more, 0.9999)
    assert 0 < conductance(tighter) < conductance(kappa) < 1


@law
@given(kappas, positions, st.floats(1e-4, 0.5))
def test_off_the_axis_never_less_and_farther_off_never_less(kappa: float, position: float, more: float):
    farther = min(1.0, position + more)
    assert 1 - 1e-9 <= gain(kappa, position) <= gain(kappa, farther) * (1 + 1e-9)
    assert gain(kappa, 1.0) < 2.5 + 1e-6


@law
@given(kappas)
def test_near_the_axis_the_eccentric_solution_is_the_concentric_one(kappa: float):
    for position, off in ((1e-2, 2e-4), (1e-4, 1e-7), (1e-6, 1e-8)):
        assert eccentric_conductance(kappa, position) == pytest.approx(conductance(kappa), rel=off)


@law
@given(kappas, st.floats(0.5, 5), st.floats(1.01, 4))
def test_flow_grows_with_the_fourth_power_of_the_radius_at_one_ratio(kappa: float, radius: float, times: float):
    one = {"pressure": 10.0, "length": 0.45, "viscosity": 1e-3, "share": conductance(kappa)}
    assert flow(radius=radius * times, **one) == pytest.approx(times**4 * flow(radius=radius, **one), rel=1e-12)


@law
@given(pairs, positions)
def test_the_reference_against_itself_is_one(pair: Pair, position: float):
    one = outflow(pair, position, gentle)
    found = relative(one, one, gentle)
    assert (found.outflow, found.pressure) == (1.0, 1.0)


@law
@given(pairs, pairs, positions)
def test_relative_outflow_and_relative_pressure_are_reciprocal(one: Pair, other: Pair, position: float):
    first, second = outflow(one, position, gentle), outflow(other, position, gentle)
    there, back = relative(first, second, gentle), relative(second, first, gentle)
    assert there.outflow is not None and there.pressure is not None and back.outflow is not None
    assert there.outflow * there.pressure == pytest.approx(1)
    assert there.pressure == pytest.approx(back.outflow)
    assert there.outflow == pytest.approx((first.ml_min or 0) / (second.ml_min or 1), rel=1e-9)


@law
@given(st.integers(1, 400), st.integers(1, 100))
def test_conversions_come_back_exactly(tenths: int, thousandths: int):
    assert of_tenths_fr(tenths).tenths_fr == tenths
    assert of_tenths_fr(tenths).mm == Fraction(tenths, 30)
    assert of_thousandths_inch(thousandths).thousandths_inch == thousandths
    for unit in MM_IN:
        assert of_number(f"{tenths}.25", unit).mm / MM_IN[unit] == Fraction(tenths) + Fraction(1, 4)


@law
@given(st.floats(0.01, 1e4), st.sampled_from(sorted(PASCAL_IN)), st.sampled_from(sorted(PASCAL_IN)))
def test_pressures_come_back(value: float, unit: str, other: str):
    through = from_pascal(to_pascal(value, unit), other)
    assert from_pascal(to_pascal(through, other), unit) == pytest.approx(value, rel=1e-12)


@law
@given(pairs, st.integers(1, 9))
def test_bands_depend_on_the_ratio_alone(pair: Pair, times: int):
    scope, sheath = pair.scope.tenths_fr, pair.sheath.tenths_fr
    assert scope is not None and sheath is not None
    assert band_of(scope * times, sheath * times) == pair.band
    assert split_of(scope * times, sheath * times) == pair.split


@law
@given(pairs, st.integers(1, 40))
def test_a_wider_sheath_never_has_a_tighter_band(pair: Pair, wider: int):
    scope, sheath = pair.scope.tenths_fr, pair.sheath.tenths_fr
    assert scope is not None and sheath is not None
    assert BANDS.index(band_of(scope, sheath + wider)) <= BANDS.index(pair.band)
    assert SPLIT.index(split_of(scope, sheath + wider)) <= SPLIT.index(pair.split)


@law
@given(pairs)
def test_upper_part_of_the_split_lies_in_the_upper_band(pair: Pair):
    assert pair.split == SPLIT[0] or pair.band == BANDS[-1]
    assert (pair.band == BANDS[-1] and pair.split == SPLIT[0]) == (pair.scope_to_sheath == Fraction(85, 100))
