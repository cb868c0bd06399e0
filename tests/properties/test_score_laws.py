"""Laws of complexity scores on any side, and of the area under the curve and calibration on any rows."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.estimators.calibration import calibration
from analysis.estimators.discrimination import auc, auc_difference, auc_of_counts
from analysis.outcomes.burden import area_mm2, ellipsoid_mm3
from analysis.outcomes.scores.all_scores import SCORES
from analysis.outcomes.scores.case import ALL_SITES, Case, Stone, possible_sites
from analysis.outcomes.scores.score import scored
from analysis.outcomes.scores.ureteroscopy_model import probability_free
from registry.schema.lists_common import Severity
from registry.schema.lists_people import Anatomy
from registry.schema.lists_stone import StoneLocation

law = settings(deadline=None, max_examples=120)
codes = st.sampled_from(sorted(SCORES))
IN_KIDNEY = [
    place.value
    for place in StoneLocation
    if place.value not in ("bladder", "vesicoureteric_junction", "not_said") and not place.value.endswith("_ureter")
]
HARDER = {"length_mm": 1, "width_mm": 1, "attenuation_hu": 1, "skin_to_stone_mm": 1}


def known_stones() -> st.SearchStrategy[Stone]:
    """A stone with everything recorded, its sites too."""
    return st.builds(
        Stone,
        location=st.sampled_from(IN_KIDNEY),
        face=st.sampled_from([None, "anterior", "posterior"]),
        sites=st.integers(1, ALL_SITES),
        length_mm=st.sampled_from([4.0, 10.0, 10.5, 20.0, 21.0, 45.0]),
        width_mm=st.sampled_from([3.0, 10.0, 20.0, 40.0]),
        attenuation_hu=st.sampled_from([500.0, 950.0, 951.0, 1000.0, 1400.0]),
        skin_to_stone_mm=st.sampled_from([80.0, 100.0, 101.0]),
    )


def known_sides() -> st.SearchStrategy[Case]:
    return st.builds(
        Case,
        stones=st.lists(known_stones(), min_size=1, max_size=3).map(tuple),
        anatomy=st.sampled_from(Anatomy.codes()),
        spinal_disease=st.sampled_from(["yes", "no"]),
        hydronephrosis=st.sampled_from(Severity.codes()),
        angle_deg=st.sampled_from([20.0, 30.0, 31.0, 44.0, 45.0, 80.0]),
        infundibular_length_mm=st.sampled_from([20.0, 25.0, 26.0]),
    )


@law
@given(codes, known_sides())
def test_a_side_with_everything_recorded_has_a_score_within_its_range(code: str, case: Case) -> None:
    found = scored(SCORES[code], case)
    assert found.state == "computed" and found.missing == ()
    assert found.value is not None and SCORES[code].lowest <= found.value <= SCORES[code].highest


@law
@given(codes, known_sides(), st.randoms(use_true_random=False))
def test_the_order_of_stones_does_not_matter(code: str, case: Case, chance: Any) -> None:
    mixed = list(case.stones)
    chance.shuffle(mixed)
    assert scored(SCORES[code], replace(case, stones=tuple(mixed))) == scored(SCORES[code], case)


def without_some(case: Case, chance: Any) -> Case:
    """The same side with some of what was recorded left out."""
    blank = {field.name: None for field in fields(Stone) if chance.random() < 0.3}
    if "sites" in blank:
        blank["sites"] = 0
    stones = tuple(replace(stone, **blank) if chance.random() < 0.7 else stone for stone in case.stones)
    lost = {
        field.name: None
        for field in fields(Case)
        if field.name not in ("stones", "stones_settled") and chance.random() < 0.3
    }
    return replace(case, stones=stones, **lost)


def honest(case: Case) -> Case:
    """A side whose recorded sites fit each stone's location, so that leaving the sites out leaves it possible."""
    return replace(
        case,
        stones=tuple(
            replace(stone, sites=possible_sites(str(stone.location), stone.face or "", 0)[0]) for stone in case.stones
        ),
    )


@law
@given(codes, known_sides().map(honest), st.randoms(use_true_random=False))
def test_what_is_missing_never_lowers_a_score_and_its_span_holds_the_truth(code: str, case: Case, chance: Any) -> None:
    truth = scored(SCORES[code], case).value
    found = scored(SCORES[code], without_some(case, chance))
    assert truth is not None and found.low is not None and found.high is not None
    assert found.low <= truth <= found.high
    if found.state == "computed":
        assert found.value == truth
    else:
        assert found.value is None and found.missing


@law
@given(codes, known_sides(), st.sampled_from(sorted(HARDER)), st.floats(0.5, 500))
def test_a_larger_denser_deeper_stone_never_lowers_a_score(code: str, case: Case, name: str, more: float) -> None:
    """Of a side with one stone: among several, a longer one takes over as the largest, with its own density."""
    one = replace(case, stones=case.stones[:1])
    harder = replace(one, stones=(replace(one.stones[0], **{name: getattr(one.stones[0], name) + more}),))
    before, after = scored(SCORES[code], one).value, scored(SCORES[code], harder).value
    assert before is not None and after is not None and after >= before


@law
@given(codes, known_sides(), st.integers(1, ALL_SITES))
def test_more_sites_never_lower_a_score(code: str, case: Case, sites: int) -> None:
    first, *others = case.stones
    fuller = replace(case, stones=(replace(first, sites=first.sites | sites), *others))
    before, after = scored(SCORES[code], case).value, scored(SCORES[code], fuller).value
    assert before is not None and after is not None and after >= before


@law
@given(codes, known_sides(), known_stones())
def test_a_further_stone_never_lowers_a_score_by_place_and_size(code: str, case: Case, stone: Stone) -> None:
    """The further stone is no larger than the largest, so that density and tract stay those of the same stone."""
    longest = max(one.length_mm or 0 for one in case.stones)
    small = replace(stone, length_mm=min(stone.length_mm or 0, longest / 2))
    before = scored(SCORES[code], case).value
    after = scored(SCORES[code], replace(case, stones=(*case.stones, small))).value
    assert before is not None and after is not None and after >= before


@law
@given(codes, known_sides())
def test_a_worse_kidney_never_lowers_a_score(code: str, case: Case) -> None:
    worse = replace(
        case,
        anatomy="horseshoe" if case.anatomy != "pelvic" else "pelvic",
        spinal_disease="yes",
        hydronephrosis="severe",
        angle_deg=20.0,
        infundibular_length_mm=40.0,
    )
    before, after = scored(SCORES[code], case).value, scored(SCORES[code], worse).value
    assert before is not None and after is not None and after >= before


def test_the_model_falls_with_the_total() -> None:
    rates = [probability_free(total) for total in range(5, 16)]
    assert rates == sorted(rates, reverse=True)


@law
@given(*[st.floats(0.5, 200)] * 3)
def test_area_and_volume_do_not_mind_which_diameter_is_called_length(a: float, b: float, c: float) -> None:
    assert area_mm2(a, b) == pytest.approx(area_mm2(b, a), rel=1e-12)
    assert ellipsoid_mm3(a, b, c) == pytest.approx(ellipsoid_mm3(c, a, b), rel=1e-12)


rows = st.lists(st.tuples(st.booleans(), st.integers(0, 9)), min_size=2, max_size=60)


@law
@given(rows)
def test_a_reversed_score_has_the_area_turned_round(made: list[tuple[bool, int]]) -> None:
    outcome, score = (np.array(part) for part in zip(*made, strict=True))
    one, other = auc(outcome, score), auc(outcome, -score)
    assert (one.estimate is None) == (other.estimate is None)
    if one.estimate is not None and other.estimate is not None:
        assert one.estimate == pytest.approx(1 - other.estimate, abs=1e-12)
    if one.low is not None and other.high is not None:
        assert one.low == pytest.approx(1 - other.high, abs=1e-9)


@law
@given(rows)
def test_an_area_does_not_change_when_the_score_is_stretched(made: list[tuple[bool, int]]) -> None:
    outcome, score = (np.array(part) for part in zip(*made, strict=True))
    one, other = auc(outcome, score), auc(outcome, np.exp(score / 3.0) - 5)
    assert (one.estimate, one.low, one.high) == (other.estimate, other.low, other.high)


@law
@given(rows)
def test_an_area_is_the_share_of_pairs_in_order(made: list[tuple[bool, int]]) -> None:
    ill, well = ([s for y, s in made if y is want] for want in (True, False))
    found = auc([y for y, _ in made], [s for _, s in made])
    if ill and well:
        pairs = [1.0 if a > b else 0.5 if a == b else 0.0 for a in ill for b in well]
        assert found.estimate == pytest.approx(sum(pairs) / len(pairs), abs=1e-12)
        table = [[sum(s == at for s in part) for at in range(10)] for part in (ill, well)]
        assert auc_of_counts(*table).estimate == pytest.approx(found.estimate, abs=1e-12)
    else:
        assert found.estimate is None and found.reason


@law
@given(rows, st.randoms(use_true_random=False))
def test_a_paired_difference_turns_its_sign_when_the_scores_change_places(
    made: list[tuple[bool, int]], chance: Any
) -> None:
    outcome, score = (np.array(part) for part in zip(*made, strict=True))
    other = np.array([chance.random() for _ in made])
    one, back = auc_difference(outcome, score, other), auc_difference(outcome, other, score)
    if one.difference is not None and back.difference is not None:
        assert one.difference == pytest.approx(-back.difference, abs=1e-12)
    assert one.p == (pytest.approx(back.p, rel=1e-6) if back.p is not None else None)


@law
@given(st.lists(st.tuples(st.booleans(), st.floats(0.01, 0.99)), min_size=1, max_size=80), st.integers(2, 12))
def test_groups_of_like_risk_hold_everybody_in_order(made: list[tuple[bool, float]], groups: int) -> None:
    outcome, probability = zip(*made, strict=True)
    found = calibration(outcome, probability, groups=groups)
    assert sum(group.n for group in found.curve) == len(made)
    assert sum(group.events for group in found.curve) == found.events
    assert 1 <= len(found.curve) <= groups
    for one, after in zip(found.curve, found.curve[1:], strict=False):
        assert one.predicted_high < after.predicted_low
    assert found.brier is not None and 0 <= found.brier <= 1
