"""The surgeon's judgement at the end of the operation against the scan: table, agreement, accuracy."""

from __future__ import annotations

from typing import Any

from analysis.estimators.agreement import kappa
from analysis.estimators.diagnostic import accuracy
from analysis.estimators.paired import mcnemar
from analysis.outcomes.surgeon_judgement import CUTS, JUDGED, SOURCE, VERSION, judged_positive
from analysis.reports.request.grouping import Grouping
from analysis.reports.sections.proportion_rows import proportion_rows
from analysis.reports.sections.report import Column, Section
from analysis.reports.stone_free_scans.judgement_pairs import BoolArray, Compared, compared
from analysis.reports.stone_free_scans.question import Judged, Question, modalities_of, seen_by_words

NO_JUDGEMENT = "none recorded"

TABLE = (
    Column("threshold", "threshold_words"),
    Column("judged", "judged_words"),
    Column("scan: residual", "events", "count"),
    Column("n", "n", "count"),
    Column("share", "estimate", "percent"),
    Column("interval", "low high", "percent_range"),
    Column("by patient", "low_clustered high_clustered", "percent_range"),
    Column("no scan that can tell", "unknown", "count"),
)
AGREEMENT = (
    Column("threshold", "threshold_words"),
    Column("judged positive", "cut_words"),
    Column("n", "n", "count"),
    Column("agree", "observed", "percent"),
    Column("kappa", "estimate", "number", digits=2),
    Column("interval", "interval_words"),
    Column("judged minus seen", "difference", "points"),
    Column("interval", "difference_low difference_high", "points_range"),
    Column("p", "p_words"),
    Column("unknown", "unknown", "count"),
)
ACCURACY = (
    Column("threshold", "threshold_words"),
    Column("judged positive", "cut_words"),
    Column("", "measure_words"),
    Column("of them", "events", "count"),
    Column("n", "n", "count"),
    Column("share", "estimate", "percent"),
    Column("interval", "low high", "percent_range"),
    Column("by patient", "low_clustered high_clustered", "percent_range"),
)
MEASURES = {
    "sensitivity": "sensitivity",
    "specificity": "specificity",
    "ppv": "positive predictive value",
    "npv": "negative predictive value",
}


def judgement_sections(question: Question) -> list[Section]:
    """Agreement table, agreement beyond chance and paired difference, accuracy."""
    judged = question.own
    request = question.request
    each = compared(question)
    tables = [row for one in each for row in _table_rows(one, judged, request.interval, request.level)]
    agreements = [
        row
        for one in each
        for cut in CUTS
        for row in _agreement_rows(one, cut, judged, request.level, request.small_number)
    ]
    accuracies = [
        row for one in each for cut in CUTS for row in _accuracy_rows(one, cut, judged, request.interval, request.level)
    ]
    definition = {
        "status": judged.definition.as_dict(),
        "judgement": {"version": VERSION, "source": SOURCE, "classes": JUDGED},
        "reference": "a study adequate at the threshold",
        "cuts": {name: words for name, (words, _) in CUTS.items()},
    }
    first = each[0]
    words = [
        ("judged", f"what the surgeon recorded at the end of that operation; {SOURCE}"),
        ("scan", "positive is a fragment above the threshold, on a study adequate at it; no other is a reference"),
        ("unknown", "eligible, but without a judgement or without a study that can tell"),
    ]
    by_modality = modalities_of(first.modality[first.eligible & first.reference & first.judged])
    note = f"Studies compared at {first.words}: {seen_by_words(by_modality)}."
    return [
        Section(
            name="judgement_against_scan",
            title="What the surgeon judged was left, and what the scan shows",
            rows=_sorted(tables, judged.grouping),
            columns=TABLE,
            definition=definition,
            in_words=words,
            notes=[note],
        ),
        Section(
            name="judgement_agreement",
            title="Agreement of judgement and scan",
            rows=_sorted(agreements, judged.grouping),
            columns=AGREEMENT,
            definition={**definition, "statistic": "Cohen's kappa; McNemar, mid-p"},
            notes=[
                "'Judged minus seen' is the share judged positive less the share positive on the scan: below 0, "
                "surgeons see less than scans. p by McNemar's test, mid-p. Kappa and p take each side for itself."
            ],
        ),
        Section(
            name="judgement_accuracy",
            title="Accuracy of the judgement, the scan taken as right",
            rows=_sorted(accuracies, judged.grouping),
            columns=ACCURACY,
            definition=definition,
            notes=[
                "Only scanned kidneys are counted; if surgeons send those they doubt to the scanner, sensitivity "
                "reads too high and specificity too low."
            ],
        ),
    ]


def _sorted(rows: list[dict[str, Any]], grouping: Grouping) -> list[dict[str, Any]]:
    """Groups together, each with its thresholds in order."""
    place = {repr(label): at for at, label in enumerate(grouping.as_dicts())}
    return sorted(rows, key=lambda row: place[repr(row["group"])])


def _common(one: Compared, judged: Judged) -> dict[str, Any]:
    threshold = next(each for each in judged.units.thresholds if each.code == one.code)
    return {
        "threshold_mm": threshold.threshold_mm,
        "comparison": threshold.comparison,
        "threshold_words": one.words,
    }


def _table_rows(one: Compared, judged: Judged, interval: Any, level: float) -> list[dict[str, Any]]:
    """Of each group and judgement how many have a residual on the scan; last, those nobody judged."""
    rows = []
    for name, words in {**JUDGED, NO_JUDGEMENT: NO_JUDGEMENT}.items():
        of_class = ~one.judged if name == NO_JUDGEMENT else (one.judgement == name).to_numpy(dtype=bool)
        own = one.eligible & of_class
        for place, made in enumerate(
            proportion_rows(
                event=one.residual,
                counted=own & one.reference,
                cluster=judged.units.patient,
                grouping=judged.grouping,
                interval=interval,
                level=level,
            )
        ):
            here = judged.grouping.codes == place
            rows.append(
                {
                    **made,
                    **_common(one, judged),
                    "judged": None if name == NO_JUDGEMENT else name,
                    "judged_words": words,
                    "unknown": int((own & ~one.reference & here).sum()),
                    "modalities": modalities_of(one.modality[own & one.reference & here]),
                }
            )
    return rows


def _four(one: Compared, cut: str, here: BoolArray) -> tuple[tuple[int, int, int, int], int]:
    """tp, fp, fn, tn of a group, and how many eligible are in none of them."""
    inside = one.eligible & one.reference & one.judged & here
    positive = judged_positive(one.judgement, cut).fillna(False).to_numpy(dtype=bool)
    tp, fp = int((inside & positive & one.residual).sum()), int((inside & positive & ~one.residual).sum())
    fn, tn = int((inside & ~positive & one.residual).sum()), int((inside & ~positive & ~one.residual).sum())
    return (tp, fp, fn, tn), int((one.eligible & here & ~inside).sum())


def _agreement_rows(one: Compared, cut: str, judged: Judged, level: float, small_number: int) -> list[dict[str, Any]]:
    rows = []
    for place, label in enumerate(judged.grouping.as_dicts()):
        (tp, fp, fn, tn), unknown = _four(one, cut, judged.grouping.codes == place)
        agreement = kappa([[tp, fp], [fn, tn]], level=level)
        paired = mcnemar(both=tp, first_only=fp, second_only=fn, neither=tn, level=level)
        rows.append(
            {
                "group": label,
                **_common(one, judged),
                "cut": cut,
                "cut_words": CUTS[cut][0],
                "n": agreement.n,
                "unknown": unknown,
                "estimate": agreement.estimate,
                "low": agreement.low,
                "high": agreement.high,
                "interval_words": two_decimals(agreement.low, agreement.high, agreement.n, small_number),
                "observed": agreement.observed,
                "both": tp,
                "judged_only": fp,
                "scan_only": fn,
                "neither": tn,
                "difference": paired.difference,
                "difference_low": paired.low,
                "difference_high": paired.high,
                "p_mid": paired.mid_p,
                "p_exact": paired.exact_p,
                "p_words": None if paired.mid_p is None or agreement.n < small_number else small_p(paired.mid_p),
                "reason": agreement.reason,
            }
        )
    return rows


def _accuracy_rows(one: Compared, cut: str, judged: Judged, interval: Any, level: float) -> list[dict[str, Any]]:
    inside = one.eligible & one.reference & one.judged
    positive = judged_positive(one.judgement, cut).fillna(False).to_numpy(dtype=bool)
    among = {
        "sensitivity": (positive, one.residual),
        "specificity": (~positive, ~one.residual),
        "ppv": (one.residual, positive),
        "npv": (~one.residual, ~positive),
    }
    rows = []
    for measure, (event, condition) in among.items():
        made = proportion_rows(
            event=event,
            counted=inside & condition,
            cluster=judged.units.patient,
            grouping=judged.grouping,
            interval=interval,
            level=level,
        )
        for place, row in enumerate(made):
            (tp, fp, fn, tn), unknown = _four(one, cut, judged.grouping.codes == place)
            ratios = accuracy(tp=tp, fp=fp, fn=fn, tn=tn, level=level)
            ratio = {"sensitivity": ratios.positive_ratio, "specificity": ratios.negative_ratio}.get(measure)
            more = {
                "likelihood_ratio": ratio and ratio.estimate,
                "likelihood_ratio_low": ratio and ratio.low,
                "likelihood_ratio_high": ratio and ratio.high,
                "likelihood_ratio_reason": ratio and ratio.reason,
            }
            rows.append(
                {
                    **row,
                    **_common(one, judged),
                    "cut": cut,
                    "cut_words": CUTS[cut][0],
                    "measure": measure,
                    "measure_words": MEASURES[measure],
                    "unknown": unknown,
                    **more,
                }
            )
    return rows


def two_decimals(low: float | None, high: float | None, n: int, small_number: int) -> str | None:
    """Limits of a kappa or correlation as text, unless they are from too few to be shown."""
    return None if low is None or high is None or n < small_number else f"{low:.2f} to {high:.2f}"


def small_p(value: float) -> str:
    """A p-value for a column headed p."""
    return "< 0.001" if value < 0.001 else f"{value:.3f}"
