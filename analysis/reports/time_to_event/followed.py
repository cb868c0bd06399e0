"""The rows of a time to an event: one a course of the cohort, with time, cause, exposure and covariates."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from analysis.cohort.sql.follow_up import SUBJECT
from analysis.cohort.subjects import subject_frames
from analysis.design.terms import Term
from analysis.outcomes.definition import Definition
from analysis.outcomes.follow_up.rules import EVENT, Choices
from analysis.outcomes.follow_up.time_to import FROM_IMAGE, time_to
from analysis.outcomes.follow_up.timed import AT_RISK
from analysis.outcomes.inputs import Tables
from analysis.reports.ratio.exposure_values import against_what_occurs
from analysis.reports.ratio.rows import tidied
from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.own_defaults import STONE_FREE, OwnDefault
from analysis.reports.request.source import Asked, settings_in_force
from analysis.reports.stone_free.request import Request, read_request
from analysis.reports.time_to_event.groups import EVERYONE, Groups, groups_of
from analysis.reports.time_to_event.options import STONE_FREE_DEFAULTS, TimeOptions

OF_TIME = (
    "state", "origin_on", "origin_vague", "end_on", "end_basis", "time", "cause", "what", "vague", "time_earliest",
    "time_latest", "event_later", "left", "right", "components", "missing",
)  # fmt: skip
LOST = ("no_follow_up", "stone_free_unknown", "no_image_day")
"""States of courses that may well be at risk, of which too little is known."""


@dataclass(frozen=True, eq=False)
class Followed:
    """Courses followed.

    frame: one row a course of the cohort: columns of its index side, and OF_TIME of `outcomes.follow_up.rows` with
    exposure_state. exposure: as these rows take it. stone_free: the definition, for what starts from an image.
    """

    asked: Asked
    options: TimeOptions
    exposure: Term
    frame: pd.DataFrame
    stone_free: Definition | None
    own_defaults: tuple[OwnDefault, ...] = field(default=())

    @cached_property
    def at_risk(self) -> pd.DataFrame:
        """Courses at risk with the exposure known."""
        known = self.frame["exposure_state"] == "known"
        return self.frame[(self.frame["state"] == AT_RISK) & known].reset_index(drop=True)

    @cached_property
    def _exposed(self) -> pd.DataFrame:
        """Courses at risk, or that may be, with the exposure known."""
        known = self.frame["exposure_state"] == "known"
        return self.frame[self.frame["state"].isin([AT_RISK, *LOST]) & known].reset_index(drop=True)

    @cached_property
    def _every_group(self) -> Groups:
        return groups_of(self._exposed, self.exposure)

    @cached_property
    def groups(self) -> Groups:
        """The groups by the exposure of those at risk."""
        return self._every_group.within((self._exposed["state"] == AT_RISK).to_numpy())

    @property
    def unknown(self) -> int:
        """Courses at risk, or that may be, of which exposure, follow-up, origin or being at risk is not known. A side
        to which the exposure does not apply is none of them."""
        lost = self.frame["state"].isin(LOST) & (self.frame["exposure_state"] != "not applicable")
        exposed = (self.frame["state"] == AT_RISK) & self.frame["exposure_state"].isin(["missing", "impossible"])
        return int((lost | exposed).sum())

    def unknown_of(self, label: str) -> int:
        """The same within a group: of its courses those not followed, or of which being at risk is not known."""
        if label == EVERYONE:
            return self.unknown
        every = self._every_group
        mine = every.codes == every.labels.index(label)
        return int((mine & (self._exposed["state"] != AT_RISK).to_numpy()).sum())

    @property
    def competing(self) -> bool:
        """Whether anybody at risk had what rules the event out."""
        return bool((self.at_risk["cause"] > EVENT).any())

    def definition(self) -> dict[str, Any]:
        """What the time is, ready for JSON."""
        made = self.options.rule.as_dict(self.options.choices)
        if self.stone_free is not None:
            made["stone_free"] = self.stone_free.as_dict()
        return made

    def in_words(self) -> tuple[tuple[str, str], ...]:
        """The same for people."""
        said = self.options.rule.in_words(self.options.choices)
        return said if self.stone_free is None else (*said, ("stone-free", self.stone_free.in_words()))

    def again(self, choices: Choices) -> pd.DataFrame:
        """The times of the same courses under other choices, index course_id."""
        return _times(self.asked, self.options.what, choices, self.stone_free).set_index("course_id")


def followed(asked: Asked, options: TimeOptions, exposure: Term) -> Followed:
    """The courses of a cohort with their time.

    Raises GravelbookError for options at fault, or an exposure that is no column of the cohort.
    """
    definition: Definition | None = None
    used: tuple[OwnDefault, ...] = ()
    if options.what in FROM_IMAGE:
        request = _stone_free(asked, options.stone_free)
        definition, used = request.definition, tuple(one for one in request.own_defaults)
    times = _times(asked, options.what, options.choices, definition)
    frame = asked.cohort.sides_frame.merge(times[["side_id", *OF_TIME]], on="side_id", validate="one_to_one")
    if exposure.column not in frame.columns:
        from analysis.cohort.columns import nearest
        from registry.schema.errors import GravelbookError

        raise GravelbookError(
            f"{exposure.column!r} is no column of the cohort. {nearest(exposure.column, map(str, frame.columns))}"
        )
    frame = tidied(frame, exposure.column).reset_index(drop=True)
    term = against_what_occurs(exposure, frame[(frame["state"] == AT_RISK) & (frame["exposure_state"] == "known")])
    return Followed(asked, options, term, frame, definition, used)


def _times(asked: Asked, what: str, choices: Choices, definition: Definition | None) -> pd.DataFrame:
    tables = Tables(**asked.cohort.outcome_frames, as_of=asked.cohort.as_of)
    frames = subject_frames(asked.snapshot, SUBJECT, asked.cohort.as_of)
    return time_to(what, tables, frames, choices, definition)


def _stone_free(asked: Asked, typed: Mapping[str, str]) -> Request:
    """The definition of stone-free for courses, the unit's own defaults taking part."""
    held = settings_in_force(asked.snapshot, asked.cohort.as_of, STONE_FREE, [*typed, "unit"])
    own = {one.option: one.value for one in held}
    given: dict[str, str | None] = {**typed, "unit": "course"}
    for name, value in STONE_FREE_DEFAULTS.items():
        if name not in given and ("," in own.get(name, ",") or name == "sessions"):
            given[name] = value
    request = read_request(given, [one for one in held if one.option not in given])
    thresholds = request.definition.thresholds
    if len(thresholds) != 1:
        raise MalformedOptionError(
            f"threshold: a time starts from one definition of stone-free, and {len(thresholds)} thresholds are named "
            f'({", ".join(one.code for one in thresholds)}). Write one, threshold = "2" for example.'
        )
    return request


def days(frame: pd.DataFrame, name: str = "time") -> np.ndarray:
    """A column of times as floats."""
    return frame[name].to_numpy(dtype=np.float64)


def causes_of(frame: pd.DataFrame) -> np.ndarray:
    """Causes as whole numbers."""
    return frame["cause"].to_numpy(dtype=np.int64)
