"""Failures of equipment: which use was one, how many pieces were opened, and how long reusable pieces last.

The denominator is pieces opened, never cases: an operation may need several. Stages, modes and consequences are the
registry's lists; which record counts as a failure is a rule of this house, for no published one was found.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

FAILURE: dict[str, Any] = {
    "id": "equipment-failure",
    "version": "1",
    "source": "a rule of this house; no published rule was found",
    "rule": (
        "A use is a failure of the equipment when its stage, mode or consequence is recorded, or when it failed, was "
        "exchanged or was withdrawn because it was broken or its image poor. It is none when it passed, or when the "
        "reason lies in the patient, the size or the surgeon's choice. Anything else cannot be told."
    ),
}
OPENED: dict[str, Any] = {
    "id": "pieces-opened",
    "version": "1",
    "source": "a rule of this house; the denominator of pieces opened, not cases, is usual in reports of failures",
    "rule": (
        "Every attempt to use a piece is a piece opened, whatever came of it; one known piece used several times in "
        "one operation is one."
    ),
}
FAILURE_FIELDS = ("failure_stage", "failure_mode", "failure_consequence")
BY_EQUIPMENT = ("broken", "poor_image")
NOT_BY_EQUIPMENT = ("tight_ureter", "too_large", "too_small", "too_short", "injury", "surgeon_choice")
FAILED, NOT_FAILED, UNKNOWN = "failed", "not failed", "cannot be told"


def judged_failures(uses: pd.DataFrame) -> pd.Series:
    """Of each use whether the equipment failed: `failed`, `not failed` or `cannot be told` (FAILURE).

    uses: columns result, reason, failure_stage, failure_mode, failure_consequence, missing where not recorded.
    """
    described = uses[list(FAILURE_FIELDS)].notna().any(axis=1).to_numpy(dtype=bool)
    result, reason = uses["result"].astype("object"), uses["reason"].astype("object")
    ended = result.isin(["failed", "exchanged", "withdrawn"]).to_numpy(dtype=bool)
    by_it = ended & reason.isin(BY_EQUIPMENT).to_numpy(dtype=bool)
    fine = (result == "passed").to_numpy(dtype=bool) | (ended & reason.isin(NOT_BY_EQUIPMENT).to_numpy(dtype=bool))
    judged = np.select([described | by_it, fine], [FAILED, NOT_FAILED], UNKNOWN)
    return pd.Series(judged, index=uses.index, dtype="string")


def pieces_opened(uses: pd.DataFrame) -> pd.DataFrame:
    """One row a piece opened (OPENED), in the order of the uses.

    uses: as for `judged_failures`, with use_id, operation_id and item_id (missing where the piece is not known),
    in the order of time. Adds `failure`, the worst of the piece's uses in that operation, `uses` and `results`
    (joined by +). A failed use lends its stage, mode, consequence, delay, result and reason to the piece.
    """
    made = uses.assign(failure=judged_failures(uses))
    known = made["item_id"].notna()
    # Uses of a piece that is not known cannot be told from those of another, so each stands alone.
    name = "use " + made["use_id"].astype("string")
    name = name.mask(known, made["operation_id"].astype("string") + " " + made["item_id"].astype("string"))
    rank = made["failure"].map({FAILED: 0, UNKNOWN: 1, NOT_FAILED: 2}).astype("int64")
    made = made.assign(piece=name, rank=rank, place=np.arange(len(made)))
    ordered = made.sort_values(["rank", "place"], kind="stable")
    told = ordered.groupby("piece", sort=False)
    first = told.head(1).set_index("piece")
    first = first.assign(uses=told.size().reindex(first.index), place=told["place"].min().reindex(first.index))
    return first.sort_values("place").drop(columns=["rank", "place"]).reset_index(drop=True)


def item_lives(uses: pd.DataFrame, items: pd.DataFrame, repairs: pd.DataFrame, as_of: pd.Timestamp) -> pd.DataFrame:
    """The life of each reusable piece until a day, one row a piece.

    uses: all uses of the registry as for `pieces_opened`, with operated_on. items: item_id, single_use, acquired_on,
    retired_on, uses_before. repairs: item_id, repaired_on. Pieces said to be for single use are left out.

    Adds: registry_uses (operations in which it was used), total_uses (with those before; missing where they are),
    failures, unjudged (uses that cannot be told), first_failure (the number of its use in the registry at which it
    first failed, missing if never), repairs (since its first use in the registry), earlier_repairs, last_used_on,
    retired (by that day).
    """
    kept = items[(items["single_use"].astype("object") != "yes").to_numpy(dtype=bool)].set_index("item_id")
    opened = pieces_opened(uses[uses["item_id"].notna() & (uses["operated_on"] <= as_of)])
    opened = opened[opened["item_id"].isin(kept.index)]
    opened = opened.assign(item=opened["item_id"].astype("int64"), failed=opened["failure"] == FAILED)
    number = opened.groupby("item").cumcount() + 1
    by_item = opened.assign(number=number, unjudged=opened["failure"] == UNKNOWN).groupby("item")
    failed = opened.assign(number=number)[opened["failed"].to_numpy(dtype=bool)].groupby("item")["number"].min()
    lives = kept.assign(
        registry_uses=by_item.size().reindex(kept.index, fill_value=0).astype("int64"),
        failures=by_item["failed"].sum().reindex(kept.index, fill_value=0).astype("int64"),
        unjudged=by_item["unjudged"].sum().reindex(kept.index, fill_value=0).astype("int64"),
        first_failure=failed.reindex(kept.index).astype("Int64"),
        last_used_on=by_item["operated_on"].max().reindex(kept.index),
    )
    begun = by_item["operated_on"].min().reindex(kept.index)
    mended = repairs[repairs["repaired_on"] <= as_of].join(begun.rename("begun"), on="item_id")
    since = (mended["repaired_on"] >= mended["begun"]).to_numpy(dtype=bool)
    for name, which in (("repairs", since), ("earlier_repairs", ~since)):
        lives[name] = mended[which].groupby("item_id").size().reindex(kept.index, fill_value=0).astype("int64")
    lives["total_uses"] = lives["uses_before"] + lives["registry_uses"]
    lives["retired"] = (lives["retired_on"] <= as_of).to_numpy(dtype=bool, na_value=False)
    return lives.reset_index()
