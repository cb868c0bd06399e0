"""The rungs of the ladder that no threshold changes, in their order.

Outside the denominator; not due yet; (the picked study, elsewhere); retreated; kidney lost; abandoned;
died; unknown. The first that fits is the one that counts.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.outcomes.definition import Definition
from analysis.outcomes.ends import Ends
from analysis.outcomes.pairing import middle
from analysis.outcomes.studies import Picked
from analysis.outcomes.tidy import dates

STATUSES = ("free", "failed", "unknown", "not_due", "died", "out")

RUNGS: dict[str, str] = {
    "out_after_as_of": "operated on after the as-of date",
    "out_intent": "stone removal was not intended",
    "out_not_started": "no scope or needle entered",
    "out_no_stone": "no stone was found",
    "out_access_failed": "per protocol: access was not gained as meant",
    "out_abandoned": "per protocol: abandoned",
    "not_due": "the window is not over at the as-of date",
    "study_free": "nothing above the threshold on a study adequate at it",
    "study_failed": "a fragment above the threshold on the picked study",
    "study_unknown": "the picked study settles neither",
    "retreated_planned": "no study before the next planned stage",
    "retreated_unplanned": "no study before an unplanned retreatment",
    "undated_retreatment": "a retreatment whose date settles neither order nor window",
    "kidney_lost": "the kidney was lost before a study",
    "undated_loss": "a loss of the kidney whose date settles neither order nor window",
    "abandoned": "abandoned, and no study",
    "died": "died before a study",
    "undated_study": "the only studies have dates that settle neither order nor window",
    "no_study": "no study in the window",
}
"""Every rung, in the order of the ladder, and what it says."""


def unchanging_columns(base: pd.DataFrame, stops: Ends, chosen: Picked, *, early: pd.Series[bool]) -> pd.DataFrame:
    """The columns of the result that no threshold changes, index = key.

    early: rows that are out or not due; whatever study they have is not told, since nobody asked it yet.
    """
    made = base.set_index("key")
    study = chosen.studies.reindex(made.index).where(~early)
    anchor = middle(made["anchor_low"], made["anchor_high"])
    days_after = study["days_after"].astype("float64").astype("Int64")
    found = stops.frame
    counts: dict[str, pd.Series[int]] = {
        "undecided_studies": chosen.unsettled,
        # A retreatment surely in the window, but not surely before or after a study, is undecided as well.
        "undecided_retreatments": found["retreatment_unsettled"].clip(lower=chosen.held_by_retreatment * 1),
        "undecided_losses": found["loss_unsettled"].clip(lower=chosen.held_by_loss * 1),
        "undecided_deaths": found["death_unsettled"],
    }
    return pd.DataFrame(
        {
            **{name: made[name] for name in ("patient_id", "operation_id", "side_id", "renal_unit_id")},
            **{name: made[name].astype("Int64") for name in ("course_id", "stone_id")},
            **{name: made[name] for name in ("day", "number", "out")},
            "examination_id": study["examination_id"].astype("float64").astype("Int64"),
            "second_examination_id": study["second_examination_id"].astype("Int64"),
            "modality": study["modality"].astype(object).where(study["modality"].notna(), None),
            "slice_mm": study["slice_mm"].astype("float64"),
            "studied_on": dates(anchor + days_after.astype("float64")),
            "days_after": days_after,
            "n_readings": study["n_readings"].fillna(0).astype("int64"),
            "anchor_on": dates(anchor),
            **{name: count.where(~early, 0).astype("int64") for name, count in counts.items()},
        }
    )


def rungs_without_study(
    base: pd.DataFrame, stops: Ends, chosen: Picked, as_of: int, definition: Definition
) -> pd.DataFrame:
    """Status and rung by all but the study, index = key, and `early`: taken before any study is asked."""
    out = base["out"].to_numpy(dtype=object)
    waiting = (as_of <= base["anchor_high"] + definition.window[1]).to_numpy(dtype=bool)
    retreated = stops.frame["retreated"].to_numpy(dtype=object)
    by_plan, again = retreated == "planned", retreated != ""
    lost = stops.frame["lost"].to_numpy(dtype=bool)
    died = stops.frame["died"].to_numpy(dtype=bool)
    abandoned = (base["conduct"] == "abandoned").to_numpy(dtype=bool)
    again_held = chosen.held_by_retreatment.to_numpy(dtype=bool)
    lost_held = chosen.held_by_loss.to_numpy(dtype=bool)
    again_vague = stops.frame["retreatment_unsettled"].to_numpy() > 0
    lost_vague = stops.frame["loss_unsettled"].to_numpy() > 0
    ladder: list[tuple[npt.NDArray[np.bool_], str, str]] = [
        *((out == code, "out", code) for code in RUNGS if code.startswith("out_")),
        (waiting, "not_due", "not_due"),
        (by_plan & ~again_held, definition.retreated, "retreated_planned"),
        (again & ~again_held, definition.retreated, "retreated_unplanned"),
        (again | again_vague, "unknown", "undated_retreatment"),
        (lost & ~lost_held, "failed", "kidney_lost"),
        (lost | lost_vague, "unknown", "undated_loss"),
        (abandoned, "failed", "abandoned"),
        (died, {"out": "died", "failed": "failed"}[definition.died], "died"),
        (chosen.unsettled.to_numpy() > 0, "unknown", "undated_study"),
    ]
    fits = [condition for condition, _, _ in ladder]
    return pd.DataFrame(
        {
            "status": np.select(fits, [status for _, status, _ in ladder], default="unknown"),
            "rung": np.select(fits, [rung for _, _, rung in ladder], default="no_study"),
            "early": (out != "") | waiting,
        },
        index=pd.Index(base["key"]),
    )
