"""The final shape of a time to an event: one row a course, with what is missing of it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.outcomes.follow_up.known import BY_CONTACT, BY_NOTHING, BY_SEEN, Later
from analysis.outcomes.follow_up.timed import NO_FOLLOW_UP
from analysis.outcomes.tidy import dates

COLUMNS = (
    "course_id",
    "side_id",
    "operation_id",
    "patient_id",
    "renal_unit_id",
    "state",
    "origin_on",
    "origin_vague",
    "end_on",
    "end_basis",
    "time",
    "cause",
    "what",
    "vague",
    "time_earliest",
    "time_latest",
    "event_later",
    "left",
    "right",
    "components",
    "missing",
)
"""course_id .. renal_unit_id: of the course, side_id its index side. state: at_risk, or why not (a code of `STATES`, or
of the reasons for standing outside the denominator). origin_on, end_on: days; end_basis: what the end rests on. time:
days, above 0, NaN unless at risk. cause: 0 nothing by then, 1 event, 2 death, 3 loss of the kidney, 4 intervention.
what: of the event. vague: its date is an interval. time_earliest, time_latest: by the ends of that interval.
event_later: an event after the end of follow-up, not counted. left, right: days between which the event lies (right
infinite for none), where images tell; NaN elsewhere. components: every component that happened within follow-up.
missing: what is not known of it, separated by commas."""

STATES = {
    "out_after_as_of": "operated after the as-of date",
    "out_intent": "stone removal was not intended",
    "out_not_started": "treatment was not begun",
    "out_no_stone": "no stone was found",
    "out_access_failed": "access failed (per protocol)",
    "out_abandoned": "abandoned (per protocol)",
    "at_risk": "at risk",
    "not_stone_free": "not stone-free by this definition",
    "stone_free_unknown": "stone-free or not is unknown",
    "not_due": "stone-free status not due yet",
    "died_before": "died before the stone-free status was known",
    "no_fragments": "no residual fragments by this definition",
    "failed_unseen": "failed without an image of fragments (treated again, kidney lost, abandoned)",
    "no_image_day": "the image that the time would start from has no day",
    "no_follow_up": "followed no longer than the day of origin",
}
"""In the order in which they are told."""


def finished(made: pd.DataFrame, later: Later | None) -> pd.DataFrame:
    """The columns of COLUMNS, sorted by course. later: when events are known through contacts."""
    out = made.copy()
    for name in ("left", "right"):
        if name not in out:
            out[name] = np.nan
    if "components" not in out:
        out["components"] = out["what"]
    out["origin_on"] = dates(out["origin"])
    out["end_on"] = dates(out["end"])
    out["missing"] = _missing(out, contacts=later is not None)
    out["course_id"] = out["course_id"].astype("Int64")
    return out.sort_values(["course_id", "side_id"], ignore_index=True)[list(COLUMNS)]


def _missing(out: pd.DataFrame, *, contacts: bool) -> list[str]:
    lacks = {
        "contact that names a day for stone events": contacts
        & out["end_basis"].isin([BY_CONTACT, BY_SEEN, BY_NOTHING]),
        "any contact": contacts & out["end_basis"].isin([BY_SEEN, BY_NOTHING]),
        "day of the event": out["vague"] & out["left"].isna(),
        "day of the origin": out["origin_vague"],
        "follow-up": out["state"] == NO_FOLLOW_UP,
    }
    extra = out["lacking"] if "lacking" in out else pd.Series("", index=out.index)
    table = [np.where(on, name, "") for name, on in lacks.items()]
    return [", ".join(part for part in row if part) for row in zip(*table, extra, strict=True)]
