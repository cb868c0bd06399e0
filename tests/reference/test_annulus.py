"""Laminar flow through an annulus: values of the published formulas, and an independent numerical solution.

The values of G and of the gain were worked out once from the formulas of Bird, Stewart and Lightfoot (Transport
Phenomena, section 2.4) and of Piercy, Hooper and Winny (1933, as White prints it); here they are also met by solving
the equation of motion without either formula.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest

from analysis.outcomes.fit.concentric import conductance, highest_velocity, mean_velocity, narrow_gap
from analysis.outcomes.fit.eccentric import eccentric_conductance, gain, narrow_gap_gain
from analysis.outcomes.fit.outflow import Conditions, outflow
from analysis.outcomes.fit.pair import Pair
from analysis.outcomes.fit.size import of_tenths_fr

# kappa, G to 6 decimals, pressure for the same flow in the same sheath relative to kappa 0.75
CONCENTRIC = [
    (0.50, 0.125984, 0.145),
    (0.60, 0.068561, 0.266),
    (0.65, 0.047307, 0.386),
    (0.70, 0.030665, 0.595),
    (0.75, 0.018254, 1.000),
    (0.80, 0.009608, 1.900),
    (0.85, 0.004164, 4.383),
    (0.90, 0.001267, 14.4),
]
# flow over that of a centred core, to 4 decimals, by kappa and eccentricity
POSITIONS = (0.25, 0.50, 0.75, 0.90, 0.99, 0.999)
ECCENTRIC = {
    0.50: (1.0880, 1.3476, 1.7658, 2.0847, 2.2977, 2.3198),
    0.625: (1.0910, 1.3617, 1.8053, 2.1500, 2.3837, 2.4081),
    0.75: (1.0927, 1.3698, 1.8287, 2.1894, 2.4360, 2.4619),
}
NARROW = (1.0938, 1.3750, 1.8438, 2.2150, 2.4701, 2.4970)


@pytest.mark.parametrize(("kappa", "share", "pressure"), CONCENTRIC)
def test_the_concentric_annulus(kappa: float, share: float, pressure: float):
    assert conductance(kappa) == pytest.approx(share, abs=5e-7)
    digits = 0.05 if pressure > 10 else 0.0005
    assert conductance(0.75) / conductance(kappa) == pytest.approx(pressure, abs=digits + 1e-9)


@pytest.mark.parametrize(
    ("kappa", "eccentricity", "expected"),
    [(kappa, each, value) for kappa, row in ECCENTRIC.items() for each, value in zip(POSITIONS, row, strict=True)],
)
def test_the_eccentric_annulus(kappa: float, eccentricity: float, expected: float):
    assert gain(kappa, eccentricity) == pytest.approx(expected, abs=5e-5)


def test_the_approximation_of_a_narrow_gap():
    for eccentricity, expected in zip(POSITIONS, NARROW, strict=True):
        assert narrow_gap_gain(eccentricity) == pytest.approx(expected, abs=5.1e-5)
        assert gain(0.98, eccentricity) == pytest.approx(expected, rel=3e-4)
        assert gain(0.75, eccentricity) < expected


# 7.5 in 10 Fr and in 12 Fr, 45 cm, 0.69 mPa s, 40 cmH2O (3922.66 Pa), level, 1000 kg/m3: worked from the same formulas.
@pytest.mark.parametrize(("inner", "ml_min", "reynolds", "off"), [(100, 41.9, 221, 0.5), (120, 273, 1290, 5)])
def test_the_worked_example(inner: int, ml_min: float, reynolds: float, off: float):
    found = outflow(Pair(of_tenths_fr(75), of_tenths_fr(inner)), 0.0, Conditions())
    assert found.ml_min == pytest.approx(ml_min, abs=0.1 if ml_min < 100 else 0.5)
    assert found.reynolds == pytest.approx(reynolds, abs=off)


def solved(kappa: float, eccentricity: float, terms: int = 48) -> float:
    """G by boundary collocation: harmonic functions fitted to no slip on both circles, then integrated.

    Velocity is -r^2/4 plus a constant, a logarithm about the inner circle's centre, powers about the outer's and
    inverse powers about the inner's; the coefficients come from least squares on both walls.
    """
    centre = eccentricity * (1 - kappa)

    def basis(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        outer, inner = x + 1j * y, x - centre + 1j * y
        columns = [np.ones_like(x), np.log(np.abs(inner))]
        columns += [np.real(outer**n) for n in range(1, terms + 1)]
        columns += [np.real((kappa / inner) ** n) for n in range(1, terms + 1)]
        return np.column_stack(columns)

    angle = np.linspace(0, np.pi, 12 * terms)
    x = np.concatenate([np.cos(angle), centre + kappa * np.cos(angle)])
    y = np.concatenate([np.sin(angle), kappa * np.sin(angle)])
    weights, *_ = np.linalg.lstsq(basis(x, y), (x**2 + y**2) / 4, rcond=None)
    # From the inner circle outwards along each direction to where the outer wall is.
    around = (np.arange(400) + 0.5) * np.pi / 400
    reach = -centre * np.cos(around) + np.sqrt(1 - (centre * np.sin(around)) ** 2)
    node, heft = np.polynomial.legendre.leggauss(40)
    radius = kappa + (reach[:, None] - kappa) * (node + 1) / 2
    x, y = centre + radius * np.cos(around)[:, None], radius * np.sin(around)[:, None]
    speed = (basis(x.ravel(), y.ravel()) @ weights - (x.ravel() ** 2 + y.ravel() ** 2) / 4).reshape(x.shape)
    along = (speed * radius * heft).sum(axis=1) * (reach - kappa) / 2
    return float(2 * along.sum() * np.pi / 400 / (np.pi / 8))


@pytest.mark.parametrize("kappa", [0.5, 0.625, 0.75, 0.85])
@pytest.mark.parametrize("eccentricity", [0.0, 0.25, 0.5, 0.75, 0.9])
def test_the_equation_of_motion_solved_numerically(kappa: float, eccentricity: float):
    assert eccentric_conductance(kappa, eccentricity) == pytest.approx(solved(kappa, eccentricity), rel=2e-5)


@pytest.mark.parametrize("kappa", [0.05, 0.3, 0.625, 0.75, 0.9, 0.985])
def test_on_the_wall_the_closed_value_is_what_the_series_tends_to(kappa: float):
    near = [eccentric_conductance(kappa, 1 - step) for step in (4e-5, 2e-5, 1e-5)]
    touching = eccentric_conductance(kappa, 1.0)
    # Linear in the distance from the wall: two steps give the limit.
    assert 2 * near[2] - near[1] == pytest.approx(touching, rel=1e-8)
    assert 2 * near[1] - near[0] == pytest.approx(touching, rel=1e-7)


def test_on_the_wall_a_known_trigamma():
    # kappa 1/2: trigamma(2) = pi^2 / 6 - 1, so G = 15/16 - (pi^2 / 6 - 1).
    assert eccentric_conductance(0.5, 1.0) == pytest.approx(15 / 16 - (math.pi**2 / 6 - 1), rel=1e-12)


def test_the_narrow_gap_meets_the_formula_where_it_takes_over():
    for kappa in (0.985, 0.9899):
        assert conductance(kappa) == pytest.approx(narrow_gap(kappa), rel=1e-5)
        assert eccentric_conductance(kappa, 0.7) == pytest.approx(narrow_gap(kappa) * narrow_gap_gain(0.7), rel=1e-4)
    assert conductance(0.9900001) == pytest.approx(conductance(0.9899999), rel=1e-4)


@pytest.mark.parametrize("kappa", [0.2, 0.5, 0.75, 0.9, 0.995])
def test_mean_and_highest_velocity_follow_from_the_profile(kappa: float):
    """The profile of Bird, Stewart and Lightfoot 2.4, integrated and searched numerically; R, dP, mu, L all 1."""
    r = np.linspace(kappa, 1, 200_001)
    profile = (1 - r**2 - (1 - kappa**2) / np.log(1 / kappa) * np.log(1 / r)) / 4
    volume = float(np.trapezoid(2 * np.pi * r * profile, r))
    assert math.pi / 8 * conductance(kappa) == pytest.approx(volume, rel=1e-4)
    assert mean_velocity(volume, 1.0, kappa) == pytest.approx(volume / (math.pi * (1 - kappa**2)))
    top = highest_velocity(pressure=1, radius=1, length=1, viscosity=1, kappa=kappa)
    assert top == pytest.approx(float(profile.max()), rel=1e-4)
    assert top > mean_velocity(volume, 1.0, kappa)


# Areas and ratios of common sizes, worked out: share open is 1 - (scope / sheath)^2.
@pytest.mark.parametrize(
    ("scope", "inner", "ratio", "open_share"),
    [
        (75, 100, "0.75", 0.4375),
        (75, 110, "0.6818", 0.5351),
        (75, 120, "0.625", 0.6094),
        (85, 100, "0.85", 0.2775),
        (85, 120, "0.7083", 0.4983),
        (95, 120, "0.7917", 0.3733),
    ],
)
def test_ratio_and_open_share(scope: int, inner: int, ratio: str, open_share: float):
    pair = Pair(of_tenths_fr(scope), of_tenths_fr(inner))
    assert float(pair.scope_to_sheath) == pytest.approx(float(ratio), abs=5e-5)
    assert pair.sheath_to_scope == 1 / pair.scope_to_sheath == Fraction(inner, scope)
    assert pair.open_share == pytest.approx(open_share, abs=5e-5)
    assert pair.free_mm2 == pytest.approx(math.pi / 4 * float(pair.sheath.mm) ** 2 * pair.open_share)
