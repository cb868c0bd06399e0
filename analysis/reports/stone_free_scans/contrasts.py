"""What scans that err, and kidneys never scanned, could make of a difference between two groups."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.cohort.columns import cohort_columns
from analysis.estimators.misclassification import corrected_contrast
from analysis.estimators.missing_outcomes import difference_bounds
from analysis.outcomes.adequacy import MODALITIES
from analysis.reports.request.grouping import grouped, units_of
from analysis.reports.request.splits import Contrast
from analysis.reports.sections.report import Column, Section
from analysis.reports.stone_free.comparisons import place_of_arm
from analysis.reports.stone_free.render_text import SPOKEN_MODALITY
from analysis.reports.stone_free_scans.corrected import AtTheirWord, at_their_word
from analysis.reports.stone_free_scans.detection_file import DetectionTable
from analysis.reports.stone_free_scans.question import Question

BoolArray = npt.NDArray[np.bool_]
CORRECTED = (
    Column("threshold", "threshold_words"),
    Column("seen by", "seen_by"),
    Column("n index", "n_index", "count"),
    Column("n comparator", "n_comparator", "count"),
    Column("as scanned", "difference_as_scanned", "points"),
    Column("corrected", "estimate", "points"),
    Column("interval", "low high", "points_range"),
)
BOUNDS = (
    Column("threshold", "threshold_words"),
    Column("known index", "n_index", "count"),
    Column("comparator", "n_comparator", "count"),
    Column("difference", "estimate", "points"),
    Column("interval", "low high", "points_range"),
    Column("worst for index", "worst", "points"),
    Column("best for index", "best", "points"),
    Column("both failed", "both_failed", "points"),
    Column("both free", "both_free", "points"),
    Column("unknown", "unknown", "count"),
)


def contrast_sections(question: Question, table: DetectionTable, contrast: Contrast) -> list[Section]:
    """The difference in stone-free rates, index minus comparator: corrected by modality, and its bounds.

    Raises GravelbookError when index or comparator does not occur.
    """
    judged, cohort = question.own, question.asked.cohort
    arms = grouped(
        judged.units.side_id,
        judged.units.inside(),
        cohort.sides_frame,
        [contrast.split],
        unit_of=units_of(cohort_columns()),
    )
    places = [place_of_arm(arms, name, contrast) for name in (contrast.index, contrast.comparator)]
    index, comparator = (arms.codes == place for place in places)
    words = [("compared", f"{contrast.split.column}: {contrast.index} less {contrast.comparator}")]
    definition = {"status": judged.definition.as_dict(), "compare": contrast.as_dict()}
    corrected = [
        row for one in at_their_word(judged) for row in _corrected_rows(question, table, one, index, comparator)
    ]
    bounds = [_bounds_row(question, one.code, one.words, index, comparator) for one in at_their_word(judged)]
    return [
        Section(
            name="corrected_difference",
            title="The difference, corrected for scans that err",
            rows=corrected,
            columns=CORRECTED,
            definition={
                **definition,
                "detection": table.as_dict(),
                "source": "Rogan WJ, Gladen B, Am J Epidemiol 1978;107:71-76; delta method",
            },
            in_words=words,
            notes=[
                "Sensitivity and specificity are taken as known and as the same in both groups; errors that do not "
                "depend on the group draw a difference towards nothing. Each kidney is counted for itself."
            ],
        ),
        Section(
            name="difference_bounds",
            title="The difference, whatever the unknown would have shown",
            rows=bounds,
            columns=BOUNDS,
            definition={**definition, "source": "Manski CF, Am Econ Rev 1990;80:319-323; Newcombe, Stat Med 1998"},
            in_words=words,
            notes=[
                "Worst for index: its unknown all failed and the comparator's all free. Difference: of those with a "
                "known status, Newcombe's interval."
            ],
        ),
    ]


def _corrected_rows(
    question: Question, table: DetectionTable, one: AtTheirWord, index: BoolArray, comparator: BoolArray
) -> list[dict[str, Any]]:
    rows = []
    for at, modality in enumerate(MODALITIES):
        detection = table.of(modality, one.code)
        own = one.eligible & (one.modality == at)
        if detection is None or not (own & (index | comparator)).any():
            continue
        inside = own & one.decided
        n1, n0 = int((inside & index).sum()), int((inside & comparator).sum())
        x1, x0 = (int((inside & arm & one.residual).sum()) for arm in (index, comparator))
        made = corrected_contrast(
            events_index=x1,
            n_index=n1,
            events_comparator=x0,
            n_comparator=n0,
            sensitivity=detection.sensitivity,
            specificity=detection.specificity,
            level=question.request.level,
        )
        # Of what is left the higher is the worse: index less comparator of the free is the reverse of the residual.
        difference = None if made is None else tuple(-value for value in made.difference)
        rows.append(
            {
                "group": {},
                "threshold": one.code,
                "threshold_words": one.words,
                "modality": modality,
                "seen_by": SPOKEN_MODALITY[modality],
                "n": min(n1, n0),
                "n_index": n1,
                "n_comparator": n0,
                "unknown": int((own & ~one.decided & (index | comparator)).sum()),
                "difference_as_scanned": None if made is None else x0 / n0 - x1 / n1,
                "estimate": difference and difference[0],
                "low": difference and difference[2],
                "high": difference and difference[1],
                "sensitivity": detection.sensitivity,
                "specificity": detection.specificity,
                "reason": None if made is not None else "a group has nobody seen by it",
            }
        )
    return rows


def _bounds_row(question: Question, code: str, words: str, index: BoolArray, comparator: BoolArray) -> dict[str, Any]:
    status = question.own.at(code)["status"]
    free, failed, unknown = ((status == name).to_numpy(dtype=bool) for name in ("free", "failed", "unknown"))
    counts = {
        f"{what}_{arm}": int((mark & here).sum())
        for arm, here in (("index", index), ("comparator", comparator))
        for what, mark in (("events", free), ("known", free | failed), ("unknown", unknown))
    }
    made = difference_bounds(**counts, level=question.request.level)
    return {
        "group": {},
        "threshold": code,
        "threshold_words": words,
        "n": min(counts["known_index"], counts["known_comparator"]),
        "n_index": counts["known_index"],
        "n_comparator": counts["known_comparator"],
        "unknown": counts["unknown_index"] + counts["unknown_comparator"],
        "unknown_index": counts["unknown_index"],
        "unknown_comparator": counts["unknown_comparator"],
        "estimate": made.complete.estimate,
        "low": made.complete.low,
        "high": made.complete.high,
        "worst": made.worst,
        "best": made.best,
        "both_failed": made.both_failed,
        "both_free": made.both_free,
        "tipping": made.tipping,
        "reason": made.complete.reason,
    }
