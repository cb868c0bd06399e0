"""One comparison in words and rounded numbers."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.reports.stone_free.comparisons import Comparison, ShownEffect
from analysis.reports.stone_free.modelled import HANDLINGS
from analysis.reports.stone_free.request import Request
from analysis.tables.plain_text import aligned, paragraph
from analysis.tables.rounding import p_value, percent, points, points_range, ratio, ratio_range
from analysis.tables.small_numbers import too_few, withheld

SPOKEN_WAY = {
    "crude": "crude",
    "mantel_haenszel": "within strata (Mantel-Haenszel)",
    "standardised": "standardised to both groups' mix",
}
SPOKEN_MEASURE = {"difference": "difference, points", "ratio": "ratio", "odds_ratio": "odds ratio"}


def comparisons_text(comparisons: Sequence[Comparison], request: Request) -> str:
    """All comparisons, and once the methods behind their intervals."""
    if not comparisons:
        return ""
    shown = [one for one in comparisons if not _few(one, request.small_number)]
    methods = dict.fromkeys(effect.method for one in shown for way in one.effects.values() for effect in way.values())
    texts = [comparison_text(one, request) for one in comparisons]
    if not shown:
        return "\n\n".join(texts)
    said = (
        f"Effects are index minus, or over, comparator. {100 * request.level:g} % intervals: {'; '.join(methods)}. "
        f"'Patients resampled': {request.replicates:,} resamples of patients (seed {request.seed}), percentile."
    )
    return "\n\n".join([*texts, paragraph(said, indent="  ")])


def comparison_text(one: Comparison, request: Request) -> str:
    """The counts of both groups, the effects with both intervals, and the test of one odds ratio for all strata."""
    head = (
        f"{one.column}: {one.index} against {one.comparator}, {one.threshold.in_words()}, "
        f"{HANDLINGS[one.unscanned].partition(':')[0]}"
    )
    lines = [head, *_groups(one, request.small_number)]
    if _few(one, request.small_number):
        return "\n".join([*lines, paragraph("No effect is shown from so few.", indent="  ")])
    lines += [aligned(_effects(one), left=2), *_notes(one, request.small_number)]
    return "\n".join(lines)


def _few(one: Comparison, small: int) -> bool:
    return min(one.n_index, one.n_comparator) < max(small, 1)


def _groups(one: Comparison, small: int) -> list[str]:
    rows = []
    for side, name, free, n in (
        ("index", one.index, one.free_index, one.n_index),
        ("comparator", one.comparator, one.free_comparator, one.n_comparator),
    ):
        rate = withheld(small) if too_few(n, small) else percent(one.rate_of(side))
        rows.append([name, f"{free:,} of {n:,}", rate])
    return [aligned(rows, left=1)]


def _effects(one: Comparison) -> list[list[str]]:
    rows = [["effect", "", "estimate", "interval", "patients resampled"]]
    for measure, spoken in SPOKEN_MEASURE.items():
        name = spoken
        for way, effects in one.effects.items():
            rows.append([name, SPOKEN_WAY[way], *_effect(effects[measure], measure)])
            name = ""
    return rows


def _effect(effect: ShownEffect, measure: str) -> list[str]:
    value, limits = (points, points_range) if measure == "difference" else (ratio, ratio_range)
    return [
        value(effect.estimate),
        limits(effect.low, effect.high),
        limits(effect.low_bootstrap, effect.high_bootstrap),
    ]


def _among_adequate(one: Comparison, small: int) -> list[str]:
    """The plain comparison without failures known from inadequate studies alone; nothing where there are none."""
    kept = one.adequate
    if kept is None or not kept.left_out:
        return []
    groups = []
    for name, free, n in (
        (one.index, kept.free_index, kept.n_index),
        (one.comparator, kept.free_comparator, kept.n_comparator),
    ):
        rate = withheld(small) if too_few(n, small) else percent(free / n if n else None)
        groups.append(f"{name} {free:,} of {n:,} ({rate})")
    made = kept.difference
    few = min(kept.n_index, kept.n_comparator) < max(small, 1)
    limits = f"{points_range(made.low, made.high)}; {made.method}"
    said = "no difference from so few" if few else f"difference {points(made.estimate)} points ({limits})"
    return [
        f"Among the adequate: {', '.join(groups)}; {said}. The effects above are of all known, among them "
        f"{kept.left_out:,} that failed on an inadequate study alone; where the groups were scanned differently they "
        "compare scans."
    ]


def _notes(one: Comparison, small: int) -> list[str]:
    said = _among_adequate(one, small)
    if one.standardised_rates and None not in one.standardised_rates:
        index, comparator = (percent(rate) for rate in one.standardised_rates)
        said.append(f"Standardised rates: {one.index} {index}, {one.comparator} {comparator}.")
    test = one.homogeneity
    if test is not None and test.statistic is not None and test.p is not None:
        said.append(
            f"One odds ratio for all strata? {test.test}: {test.statistic:.2f} on {test.df} df, {p_value(test.p)}."
        )
    elif test is not None:
        said.append(f"One odds ratio for all strata? {test.test} cannot be made: {test.reason}.")
    if one.strata_left_out:
        said.append(f"Strata that lack one of the groups, left out: {'; '.join(one.strata_left_out)}.")
    reasons = dict.fromkeys(
        f"{SPOKEN_MEASURE[measure].partition(',')[0]}, {way.replace('_', '-')}: {effect.reason}"
        for way, effects in one.effects.items()
        for measure, effect in effects.items()
        if effect.reason
    )
    if reasons:
        said.append(f"Not shown: {'; '.join(reasons)}.")
    return [paragraph(sentence, indent="  ") for sentence in said]
