"""Complexity scores against what was published of them."""

from __future__ import annotations

import pytest

from analysis.estimators.discrimination import auc_of_counts
from analysis.estimators.proportions import proportion_interval
from analysis.outcomes.scores.all_scores import SCORES
from analysis.outcomes.scores.ureteroscopy_model import probability_free

VICENTINI = ((42, 40, 95.2), (44, 35, 79.5), (42, 25, 59.5), (27, 11, 40.7))
"""Vicentini FC et al., Urology 2014: sides and rate at once of Guy's grades I to IV; the free derived from the rate."""


def test_guys_grades_of_a_published_series() -> None:
    (series,) = [one for one in SCORES["guys"].published if not one.from_memory]
    assert [(one.n, one.free) for one in series.rates] == [(n, free) for n, free, _ in VICENTINI]
    for one, (n, free, percent) in zip(series.rates, VICENTINI, strict=True):
        assert 100 * one.rate == pytest.approx(percent, abs=0.05)
        limits = proportion_interval(events=free, n=n)
        assert limits.low is not None and limits.high is not None and limits.low < one.rate < limits.high
    found = auc_of_counts([n - free for n, free, _ in VICENTINI], [free for _, free, _ in VICENTINI])
    assert found.n == 155


def test_intervals_of_the_first_and_last_grade() -> None:
    # Wilson's formula at 95 %, 40 of 42 and 11 of 27, worked out here.
    first, last = proportion_interval(events=40, n=42), proportion_interval(events=11, n=27)
    assert (first.low, first.high) == pytest.approx((0.842, 0.987), abs=5e-4)
    assert (last.low, last.high) == pytest.approx((0.245, 0.593), abs=5e-4)


@pytest.mark.parametrize(
    ("total", "percent"),
    [(5, 98.5), (6, 97.3), (7, 95.4), (8, 92.1), (9, 86.9), (10, 78.9), (11, 67.9), (12, 54.5), (13, 40.4), (14, 27.7),
     (15, 17.8)],
)  # fmt: skip
def test_the_model_of_the_ureteroscopic_score(total: int, percent: float) -> None:
    """Molina WR et al., Int Braz J Urol 2014;40:23-29: z = 7.02 - 0.57 x score; percentages follow from the formula."""
    assert 100 * probability_free(total) == pytest.approx(percent, abs=0.05)


@pytest.mark.parametrize("total", [4, 16, 8.5])
def test_a_total_that_cannot_be_is_refused(total: float) -> None:
    with pytest.raises(ValueError, match="give 5 to 15"):
        probability_free(total)


@pytest.mark.parametrize(
    ("code", "lowest", "highest"),
    [("guys", 1, 4), ("stone", 5, 13), ("s_resc", 1, 9), ("modified_s_resc", 1, 12), ("resorlu_unsal", 0, 4),
     ("rirs", 4, 10)],
)  # fmt: skip
def test_published_ranges_bands_and_what_is_from_memory(code: str, lowest: int, highest: int) -> None:
    score = SCORES[code]
    assert (score.lowest, score.highest) == (lowest, highest)
    covered = [at for band in score.bands for at in range(band.low, band.high + 1)]
    assert covered in ([], list(range(lowest, highest + 1)))
    assert score.from_memory == (code != "guys")
    assert ("(from memory)" in score.label) == score.from_memory
    for series in score.published:
        spoken_of = [at for one in series.rates for at in range(one.low, one.high + 1)]
        assert spoken_of == list(range(lowest, highest + 1))
        rates = [one.rate for one in series.rates]
        assert rates == sorted(rates, reverse=True)
