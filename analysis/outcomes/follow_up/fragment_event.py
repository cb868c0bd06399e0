"""Time to a stone-related event, or to passage, of a course with residual fragments."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.outcomes.definition import Definition
from analysis.outcomes.follow_up.happened import deaths_and_losses, entries_after, treatments_after, with_end
from analysis.outcomes.follow_up.imaged import from_image, origin_images
from analysis.outcomes.follow_up.known import Later
from analysis.outcomes.follow_up.looks import images, looks_after
from analysis.outcomes.follow_up.rows import finished
from analysis.outcomes.follow_up.rules import EVENT, INTERVENTION, Choices
from analysis.outcomes.follow_up.timed import AT_RISK, timed, together
from analysis.outcomes.fragments import FREE
from analysis.outcomes.tidy import Tidy

ORIGIN = ("origin_low", "origin_high")
INFECTION, COLIC, ENLARGEMENT, TREATMENT = "urinary infection", "colic", "enlargement", "additional treatment"
EPISODE = "stone episode (colic or infection)"
COMPONENTS = (INFECTION, COLIC, EPISODE, ENLARGEMENT, TREATMENT)
"""An episode told later is colic or infection, and the registry does not say which."""
OF_COMPLICATION = {
    "urinary_infection": INFECTION,
    "febrile_urinary_infection": INFECTION,
    "sepsis": INFECTION,
    "septic_shock": INFECTION,
    "colic": COLIC,
}
OF_ENTRY = {"stone_episode": EPISODE, "regrowth": ENLARGEMENT}


def fragment_event(
    tidy: Tidy, later: Later, statuses: pd.DataFrame, definition: Definition, choices: Choices
) -> pd.DataFrame:
    """One row a course of the cohort; see `rows.COLUMNS`. From the image that found the fragments to the first
    component of a stone-related event; `components` names each one that happened within follow-up."""
    base = with_end(from_image(tidy, statuses, free=False), later, tidy.as_of, choices)
    shown = images(tidy, definition.thresholds[0])
    grown, unmeasured = _grown(base, shown, tidy, definition, choices)
    treated = treatments_after(base, tidy, later, choices, after=ORIGIN)
    events = together(
        [
            _told(base, later.complications[later.complications["dated"]], OF_COMPLICATION, tidy, choices),
            _told(base, later.entries, OF_ENTRY, tidy, choices),
            grown,
            treated.assign(what=TREATMENT),
        ]
    )
    made = timed(base, together([events, deaths_and_losses(base, tidy)]), tidy.as_of)
    made["components"] = _components(made, events, tidy.as_of)
    risk = made["state"] == AT_RISK
    made["lacking"] = np.where(risk & made["key"].isin(unmeasured), "size of the fragments", "")
    return finished(made, later)


def passage(tidy: Tidy, later: Later, statuses: pd.DataFrame, definition: Definition, choices: Choices) -> pd.DataFrame:
    """One row a course of the cohort; see `rows.COLUMNS`. From the image that found the fragments to their passage, as
    told later or as gone on a later image (between that and the one before); further treatment, planned or not,
    competes with it."""
    base = with_end(from_image(tidy, statuses, free=False), later, tidy.as_of, choices)
    treated = treatments_after(base, tidy, later, choices, after=ORIGIN, planned=True)
    treated = treated.assign(cause=INTERVENTION, what="intervention: " + treated["what"])
    shown = images(tidy, definition.thresholds[0])
    day = np.floor((treated["low"] + np.minimum(treated["high"], tidy.as_of)) / 2)
    base["stop"] = base["key"].map(day.groupby(treated["key"]).min()).fillna(np.inf).astype("float64")
    looks = looks_after(base, shown, tidy, definition, choices)
    gone = looks[looks["any_code"] == FREE].drop_duplicates("key")
    still = looks.merge(gone[["key", "day"]], on="key", suffixes=("", "_gone"))
    last = still[still["day"] < still["day_gone"]].groupby("key")["day"].max()
    origin = base.set_index("key")["origin_high"]
    cleared = pd.DataFrame(
        {
            "key": gone["key"],
            "low": gone["key"].map(last).fillna(gone["key"].map(origin)),
            "high": gone["day"],
            "cause": EVENT,
            "what": "gone on an image",
        }
    )
    told = _told(base, later.entries, {"fragment_passed": "fragment passed"}, tidy, choices)
    events = together([told, cleared, treated, deaths_and_losses(base, tidy)])
    return finished(timed(base, events, tidy.as_of), later)


def _told(base: pd.DataFrame, told: pd.DataFrame, words: dict[str, str], tidy: Tidy, choices: Choices) -> pd.DataFrame:
    """Entries or complications that are a component, with its name for `what`."""
    mine = told[told["what"].isin(words)]
    mine = mine.assign(what=mine["what"].map(words).astype(object))
    made = entries_after(base, mine, choices, tidy.as_of, after=ORIGIN)
    return made.assign(what=made["what"].str.removesuffix(" (side not said)"))


def _grown(
    base: pd.DataFrame, shown: pd.DataFrame, tidy: Tidy, definition: Definition, choices: Choices
) -> tuple[pd.DataFrame, set[int]]:
    """Images of the same kind with a fragment that is larger by growth_mm for certain, and the courses of which the
    first size is not known, so that growth cannot be told."""
    first = origin_images(base, shown)
    looks = looks_after(base.assign(stop=np.inf), shown, tidy, definition, choices)
    looks = looks.join(first[["size_high", "modalities"]], on="key", rsuffix="_first")
    same = np.array([kind in kinds for kind, kinds in zip(looks["modality"], looks["modalities"], strict=True)], bool)
    larger = looks[same & (looks["size_low"] - looks["size_high_first"] >= choices.growth_mm - 1e-9).to_numpy()]
    made = pd.DataFrame(
        {"key": larger["key"], "low": larger["day"], "high": larger["day"], "cause": EVENT, "what": ENLARGEMENT}
    )
    return made, set(first.index[~np.isfinite(first["size_high"])])


def _components(made: pd.DataFrame, events: pd.DataFrame, as_of: int) -> list[str]:
    """Every component within each course's follow-up, in the order of COMPONENTS."""
    rows = events.merge(made[["key", "origin", "end"]], on="key")
    day = np.floor((rows["low"] + np.minimum(rows["high"], as_of)) / 2)
    rows = rows[(day >= rows["origin"]) & (day <= rows["end"])]
    of_key = rows.groupby("key")["what"].agg(set).to_dict()
    return [", ".join(one for one in COMPONENTS if one in of_key.get(key, ())) for key in made["key"]]
