"""Time to recurrence of a course that was stone-free: on images, and by symptoms or treatment."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.outcomes.definition import Definition
from analysis.outcomes.follow_up.happened import deaths_and_losses, entries_after, treatments_after, with_end
from analysis.outcomes.follow_up.imaged import from_image, origin_images
from analysis.outcomes.follow_up.known import BY_IMAGE, Later
from analysis.outcomes.follow_up.looks import WITH, WITHOUT, images, judged_looks, looks_after
from analysis.outcomes.follow_up.rows import finished
from analysis.outcomes.follow_up.rules import EVENT, Choices
from analysis.outcomes.follow_up.timed import AT_RISK, timed, together
from analysis.outcomes.fragments import FREE
from analysis.outcomes.tidy import Tidy

ORIGIN = ("origin_low", "origin_high")
SYMPTOMS = ("stone_episode", "new_stone", "fragment_passed")


def recurrence(
    tidy: Tidy, later: Later, statuses: pd.DataFrame, definition: Definition, choices: Choices
) -> pd.DataFrame:
    """One row a course of the cohort; see `rows.COLUMNS`. From the image that confirmed it stone-free to a later image
    with more: between the last without and the first with it, `left` to `right`; `time` is the middle of these.

    Follow-up ends with the last image before any further treatment of that kidney; a death or loss counts as competing
    when it came within `competing_within` days of that image, for else nobody knows whether the stone was back by then.
    """
    base = from_image(tidy, statuses, free=True)
    base = base.assign(stop=_stop(base, tidy, later, choices))
    shown = images(tidy, definition.thresholds[0])
    clear = _clear(base, shown)
    looks = judged_looks(looks_after(base, shown, tidy, definition, choices), clear)
    looks = looks[looks["shows"].isin([WITH, WITHOUT])]
    first = looks[looks["shows"] == WITH].drop_duplicates("key").set_index("key")
    upto = looks["key"].map(first["day"]).fillna(np.inf)
    without = looks[(looks["shows"] == WITHOUT) & (looks["day"] < upto)].groupby("key")["day"].max()
    origin = np.floor((base["origin_low"] + base["origin_high"]) / 2)
    left = base["key"].map(without).astype("float64").fillna(origin)
    right = base["key"].map(first["day"]).astype("float64")
    last = right.fillna(left)
    rivals = deaths_and_losses(base, tidy)
    ends, basis = _ends(base, last, rivals, choices, tidy.as_of)
    seen = base[right.notna()]
    events = pd.DataFrame(
        {
            "key": seen["key"],
            "low": left[seen.index],
            "high": right[seen.index],
            "cause": EVENT,
            "what": seen["key"].map(first["what"]),
        }
    )
    made = timed(base.assign(end=ends, end_basis=basis), together([events, rivals]), tidy.as_of)
    risk = made["state"] == AT_RISK
    made["left"] = np.where(risk, left - origin, np.nan)
    made["right"] = np.where(risk & (made["cause"] == EVENT), right - origin, np.where(risk, np.inf, np.nan))
    made["vague"] = risk & base["key"].isin(looks.loc[looks["vague"], "key"])
    return finished(made, None)


def symptomatic_recurrence(tidy: Tidy, later: Later, statuses: pd.DataFrame, choices: Choices) -> pd.DataFrame:
    """One row a course of the cohort; see `rows.COLUMNS`. From the image that confirmed it stone-free to a stone
    episode, a new stone or a stone passed as told later, or treatment of that kidney that was no planned stage."""
    base = from_image(tidy, statuses, free=True)
    base = with_end(base, later, tidy.as_of, choices)
    told = later.entries[later.entries["what"].isin(SYMPTOMS)]
    treated = treatments_after(base, tidy, later, choices, after=ORIGIN)
    events = together(
        [
            treated.assign(what="treatment: " + treated["what"]),
            entries_after(base, told, choices, tidy.as_of, after=ORIGIN),
            deaths_and_losses(base, tidy),
        ]
    )
    return finished(timed(base, events, tidy.as_of), later)


def _clear(base: pd.DataFrame, shown: pd.DataFrame) -> pd.Series[bool]:
    of_origin = origin_images(base, shown)["any_code"].reindex(base["key"])
    return pd.Series((of_origin == FREE).to_numpy(), index=base["key"])


def _stop(base: pd.DataFrame, tidy: Tidy, later: Later, choices: Choices) -> np.ndarray:
    """Day of the first treatment of that kidney after the image, planned stages too, infinite for none."""
    treated = treatments_after(base, tidy, later, choices, after=ORIGIN, planned=True)
    day = np.floor((treated["low"] + np.minimum(treated["high"], tidy.as_of)) / 2)
    return base["key"].map(day.groupby(treated["key"]).min()).fillna(np.inf).to_numpy(dtype=np.float64)


def _ends(
    base: pd.DataFrame, last: pd.Series, rivals: pd.DataFrame, choices: Choices, as_of: int
) -> tuple[pd.Series, np.ndarray]:
    """The end of follow-up: the last image, or a death or loss that came soon enough after it."""
    day = np.floor((rivals["low"] + np.minimum(rivals["high"], as_of)) / 2)
    first = base["key"].map(day.groupby(rivals["key"]).min()).astype("float64")
    soon = (first > last) & (first <= last + choices.competing_within) & ~(base["stop"] < first)
    return last.where(~soon, first), np.where(soon, "death or loss", BY_IMAGE)
