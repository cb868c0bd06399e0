"""Rates that a correction raised: by the file, scans see more that is not there than they overlook.

Sensitivity and specificity are mostly published for stones of any size. The larger the threshold the less there is to
be mistaken for such a fragment, so that a specificity of all sizes takes away too much there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from analysis.outcomes.adequacy import MODALITIES
from analysis.outcomes.thresholds import Threshold
from analysis.reports.stone_free_scans.detection_file import DetectionTable


def raised_notes(rows: Iterable[Mapping[str, Any]], table: DetectionTable, small_number: int) -> list[str]:
    """A sentence for rates raised by a row of every threshold, and one for those raised by a threshold's own row.

    rows: of the section of corrected rates, those of one modality looked at where n is at least the small number.
    """
    general: dict[str, None] = {}
    of_threshold: dict[str, None] = {}
    for row in rows:
        if row["modality"] not in MODALITIES or row["estimate"] is None or row["n"] < max(1, small_number):
            continue
        if row["estimate"] <= row["apparent"] + 1e-12:
            continue
        used = table.of(row["modality"], Threshold(row["threshold_mm"], row["comparison"] == "<").code)
        named = used is not None and used.threshold is not None
        (of_threshold if named else general)[f"{row['seen_by']} at {row['threshold_words']}"] = None
    notes = []
    if general:
        notes.append(
            f"Corrected above what was scanned: {', '.join(general)}. A specificity below 1 was measured for stones of "
            "any size, and the row used is for every threshold; give a row for this threshold, or read the rate as "
            "scanned."
        )
    if of_threshold:
        notes.append(
            f"Corrected above what was scanned, by the row for the threshold itself: {', '.join(of_threshold)}. See "
            "that its specificity was measured at that threshold."
        )
    return notes
