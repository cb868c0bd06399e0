"""A plain film and an ultrasound that belong together count as one study.

Films are taken in date order; each takes the nearest ultrasound not yet taken, at most 14 days away on
either side, the earlier of two equally near. Both must be usable on their own (in the window, before the
end). The pair is dated by the later of the two.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

PAIR_DAYS = 14
PAIR = "us+kub"


def middle(low: pd.Series[int], high: pd.Series[int]) -> pd.Series[int]:
    """The middle day of an interval, rounded down; the day itself when it is exact."""
    return low + (high - low) // 2


def paired(studies: pd.DataFrame, imaging: str) -> pd.DataFrame:
    """Studies as the imaging policy counts them, with `second_examination_id` (missing unless a pair).

    `any`: pairs in place of their parts, and everything else. `us+kub`: pairs alone. Others: single studies.
    Films and ultrasounds that were read pair first. One without a reading pairs only under `us+kub`, with
    what is left, so that a study nobody read never spoils one that somebody did.
    """
    single = studies.assign(second_examination_id=pd.array([pd.NA] * len(studies), dtype="Int64"))
    if imaging not in ("any", PAIR):
        return single
    pairs, rest = _match(single[single["read"]])
    rest = pd.concat([rest, single[~single["read"]]])
    if imaging == "any":
        return pd.concat([rest, pairs], ignore_index=True) if len(pairs) else rest.reset_index(drop=True)
    more, _ = _match(rest)
    return pd.concat([part for part in (pairs, more) if len(part)] or [pairs], ignore_index=True)


def _match(studies: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Pairs, and the studies left over. One round takes the next film of every key at once."""
    studies = studies.assign(middle=middle(studies["low"], studies["high"]))
    order = ["key", "middle", "examination_id"]
    films = studies[studies["modality"] == "kub"].sort_values(order)
    free = studies[studies["modality"] == "ultrasound"].sort_values(order)
    turn = films.groupby("key").cumcount()
    found = []
    for round_number in range(int(turn.max()) + 1 if len(films) else 0):
        near = films[turn == round_number].merge(free, on="key", suffixes=("", "_us"), how="inner")
        # An inexact date must keep within the 14 days wherever in its interval it falls.
        furthest = np.maximum(near["high"] - near["low_us"], near["high_us"] - near["low"])
        near = near.assign(apart=(near["middle"] - near["middle_us"]).abs())[furthest <= PAIR_DAYS]
        near = near.sort_values(["key", "apart", "middle_us", "examination_id_us"]).drop_duplicates("key")
        taken = pd.MultiIndex.from_frame(near[["key", "examination_id_us"]])
        free = free[~pd.MultiIndex.from_frame(free[["key", "examination_id"]]).isin(taken)]
        found.append(near)
    pairs = pd.concat(found, ignore_index=True) if found else films.head(0)
    if not len(pairs):
        return studies.head(0).drop(columns="middle"), studies.drop(columns="middle")
    used = pd.concat(
        [
            pairs[["key", "examination_id"]],
            pairs[["key", "examination_id_us"]].set_axis(["key", "examination_id"], axis=1),
        ]
    )
    names = pd.MultiIndex.from_frame(studies[["key", "examination_id"]])
    rest = studies[~names.isin(pd.MultiIndex.from_frame(used))].drop(columns="middle")
    return _as_one(pairs)[rest.columns], rest


def _as_one(pairs: pd.DataFrame) -> pd.DataFrame:
    """One study of each pair: the film's identifier first, the ultrasound's second, dated by the later."""
    return pairs.assign(
        second_examination_id=pairs["examination_id_us"].astype("Int64"),
        modality=PAIR,
        slice_mm=np.nan,
        every_calyx_seen=False,
        low=np.maximum(pairs["low"], pairs["low_us"]),
        high=np.maximum(pairs["high"], pairs["high_us"]),
        days_after=np.maximum(pairs["days_after"], pairs["days_after_us"]),
        n_readings=pairs["n_readings"] + pairs["n_readings_us"],
        read=pairs["read"] & pairs["read_us"],
    )
