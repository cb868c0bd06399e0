"""The cases behind the scores: one line a score, side and threshold, with items, points and what was missing."""

from __future__ import annotations

import pandas as pd

from analysis.outcomes.scores.all_scores import SCORES
from analysis.reports.scores.gathered import Gathered
from analysis.tables.spreadsheet_text import never_a_formula

OF_SIDE = {
    "study_number": "study_number",
    "site": "site",
    "unit": "renal_unit",
    "operated_on": "operated_on",
    "day_number": "day_number",
    "technique": "technique",
}
OF_MEASURES = (
    "largest_mm",
    "cumulative_mm",
    "area_mm2",
    "ellipsoid_mm3",
    "segmented_mm3",
    "volume_mm3",
    "volume_method",
    "density_hu",
    "density_method",
    "angle_deg",
    "angle_method",
    "length_mm",
    "width_mm",
)
RENAMED = {
    "length_mm": "infundibular_length_mm",
    "width_mm": "infundibular_width_mm",
    "low": "lowest",
    "high": "highest",
}
TYPED = ("study_number", "site", "group")


def case_list(held: Gathered) -> pd.DataFrame:
    """One row a score, side and threshold, sorted so. lowest and highest: the span the score can have with what is
    missing; items: each with its points; status: stone-free status at the threshold. angle_method stays beside.
    """
    scored = held.scored
    place = scored["place"].to_numpy(dtype="int64")
    sides, measures = held.sides.iloc[place], held.measures.iloc[place]
    groups = held.grouping.named()
    codes = held.grouping.codes[place]
    told = {new: sides[old].to_numpy() for old, new in OF_SIDE.items() if old in sides.columns}
    made = pd.DataFrame(
        {
            **told,
            "side_id": scored["side_id"].to_numpy(),
            "group": [groups[code] if code >= 0 else "" for code in codes],
            "score": scored["score"].to_numpy(),
            "version": [SCORES[code].version for code in scored["score"]],
            "from_memory": ["yes" if SCORES[code].from_memory else "no" for code in scored["score"]],
            "meant_for_technique": ["yes" if meant else "no" for meant in scored["meant"]],
            "state": scored["state"].to_numpy(),
            "value": scored["value"].array,
            "low": scored["low"].array,
            "high": scored["high"].array,
            "items": ["; ".join(item.in_words() for item in items) for items in scored["items"]],
            "missing": ["; ".join(words) for words in scored["missing"]],
            "reason": scored["reason"].to_numpy(),
            **{name: measures[name].to_numpy() for name in OF_MEASURES},
        }
    ).rename(columns=RENAMED)
    statuses = held.statuses[["side_id", "threshold", "threshold_mm", "comparison", "status", "rung"]]
    order = {one.code: at for at, one in enumerate(held.request.stone_free.definition.thresholds)}
    made = made.assign(score_order=made["score"].map({code: at for at, code in enumerate(held.request.scores)}))
    made = made.merge(statuses, on="side_id", how="left").assign(order=lambda all_: all_["threshold"].map(order))
    made = made.sort_values(["score_order", "order", "side_id"], ignore_index=True)
    return made.drop(columns=["score_order", "order", "threshold"])


def cases_csv(cases: pd.DataFrame) -> bytes:
    """The list as CSV; dates as year, month and day."""
    shown = cases.copy()
    if "operated_on" in shown:
        shown["operated_on"] = pd.to_datetime(shown["operated_on"]).dt.strftime("%Y-%m-%d")
    for name in TYPED:
        if name in shown:
            shown[name] = shown[name].astype("string").map(never_a_formula, na_action="ignore")
    return shown.to_csv(index=False, lineterminator="\n").encode("utf-8")
