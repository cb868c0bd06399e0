"""Equipment is chosen by case mix, or by lot when confounding is switched off."""

from __future__ import annotations

import math

import numpy as np
import pytest

from synthetic_cohort.frames import cohort
from synthetic_cohort.parameters import Parameters

PEOPLE = 40_000


def correlations(confounding):
    drawn = cohort(Parameters(confounding=confounding, share_sheath_fails=0), PEOPLE, 41)
    sides = drawn.sides
    sheathed = sides["sheath"] > 0
    found = {
        name: np.corrcoef(sides[name][sheathed], sides["sheath"][sheathed])[0, 1]
        for name in ("age", "burden_mm", "female", "pre_stented", "operator")
    }
    return found, 4 / math.sqrt(sheathed.sum())


def test_by_lot_the_sheath_is_unrelated_to_the_case():
    found, limit = correlations(0)
    assert all(abs(value) < limit for value in found.values())


def test_otherwise_larger_burdens_get_wider_sheaths_and_women_narrower_ones():
    found, limit = correlations(1)
    assert found["burden_mm"] > 2 * limit
    assert found["female"] < -limit
    assert found["age"] > limit


def test_shares_hold_at_the_reference():
    drawn = cohort(Parameters(confounding=0, share_sheath_fails=0), PEOPLE, 42)
    sheath = drawn.sides["sheath"][drawn.sides["sheath"] > 0]
    assert (sheath == 100).mean() == pytest.approx(0.40, abs=0.015)
    assert (sheath == 120).mean() == pytest.approx(0.35, abs=0.015)


def test_a_sheath_that_fails_is_followed_by_the_narrowest():
    sides = cohort(Parameters(), 5000, 43).sides
    changed = sides["sheath"] != sides["sheath_first"]
    assert changed.sum() > 50
    assert (sides["sheath"][changed] == 100).all()


def test_only_flexible_ureteroscopy_has_a_ratio():
    sides = cohort(Parameters(), 5000, 44).sides
    with_ratio = ~np.isnan(sides["ratio"])
    assert (sides["technique"][with_ratio] == 0).all()
    assert (sides["sheath"][with_ratio] / sides["scope"][with_ratio] == sides["ratio"][with_ratio]).all()
    assert sides["ratio"][with_ratio].min() > 1
