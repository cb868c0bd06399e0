"""Sizes are kept exactly, and pressures convert by the published factors."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from analysis.outcomes.fit.channel import channel_with
from analysis.outcomes.fit.pair import Pair
from analysis.outcomes.fit.pressure import from_pascal, to_pascal
from analysis.outcomes.fit.size import Size, of_number, of_tenths_fr, of_thousandths_inch


def test_a_french_is_exactly_a_third_of_a_millimetre():
    assert of_tenths_fr(10).mm == Fraction(1, 3)
    millimetres = {75: 2.500, 95: 3.167, 100: 3.333, 110: 3.667, 120: 4.000, 130: 4.333, 140: 4.667}
    for tenths, mm in millimetres.items():
        assert float(of_tenths_fr(tenths).mm) == pytest.approx(mm, abs=5e-4)


def test_wires_in_thousandths_of_an_inch():
    millimetres = {18: "0.4572", 25: "0.635", 35: "0.889", 38: "0.9652"}
    for thousandths, mm in millimetres.items():
        assert of_thousandths_inch(thousandths).mm == Fraction(mm)
    assert float(of_thousandths_inch(35).fr) == pytest.approx(2.667, abs=5e-4)
    assert float(of_thousandths_inch(38).fr) == pytest.approx(2.896, abs=5e-4)


def test_the_same_size_in_any_unit_is_the_same():
    assert of_number("7.5", "Fr") == of_number("2.5", "mm") == of_number("2500", "um") == of_tenths_fr(75)
    assert of_thousandths_inch(35).tenths_fr is None
    assert of_tenths_fr(75).thousandths_inch is None


def test_a_size_is_above_0():
    with pytest.raises(ValueError, match="above 0"):
        Size(Fraction(0))


# Common practice, no source.
@pytest.mark.parametrize(("inner", "ratio"), [(100, "0.87"), (110, "0.79"), (120, "0.725")])
def test_a_scope_of_8_7_in_common_sheaths(inner: int, ratio: str):
    found = Pair(of_tenths_fr(87), of_tenths_fr(inner)).scope_to_sheath
    assert round(float(found), len(ratio) - 2) == float(ratio)


# Common practice, no source.
def test_a_common_working_channel_with_a_retrieval_device():
    channel, device = of_number("1.2", "mm"), of_number("1.9", "Fr")
    assert channel.tenths_fr == 36
    assert of_thousandths_inch(35).in_fr() == "2.67"
    found = channel_with(channel, device)
    assert found.passes
    # pi/4 (1.2^2 - (1.9/3)^2) mm2, worked by hand.
    assert found.free_mm2 == pytest.approx(0.81594, abs=5e-5)
    assert found.free_share == pytest.approx(1 - (1.9 / 3.6) ** 2)
    assert found.free_mm2 == pytest.approx(math.pi / 4 * 1.2**2 * (found.free_share or 0))


@pytest.mark.parametrize("tenths", [36, 40])
def test_what_does_not_pass_leaves_no_free_area(tenths: int):
    found = channel_with(of_tenths_fr(36), of_tenths_fr(tenths))
    assert (found.passes, found.free_mm2, found.free_share) == (False, None, None)
    assert found.reason is not None and "does not pass" in found.reason


# Conventional units: 1 mmHg = 133.322 Pa, 1 cmH2O = 98.0665 Pa; the others follow.
def test_pressures():
    assert from_pascal(to_pascal(1, "mmHg"), "cmH2O") == pytest.approx(1.35951, abs=5e-6)
    assert from_pascal(to_pascal(30, "mmHg"), "cmH2O") == pytest.approx(40.79, abs=5e-3)
    assert from_pascal(to_pascal(40, "cmH2O"), "mmHg") == pytest.approx(29.42, abs=5e-3)
    assert to_pascal(40, "cmH2O") == pytest.approx(3922.66)
    assert to_pascal(1, "kPa") == 1000
