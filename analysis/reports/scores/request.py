"""What is asked of the complexity scores, read from the options as typed and from the unit's own defaults."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analysis.outcomes.scores.all_scores import SCORES
from analysis.outcomes.scores.ureteroscopy_model import CODE as URETEROSCOPY
from analysis.reports.request.own_defaults import OwnDefault
from analysis.reports.request.splits import Split, parse_splits
from analysis.reports.request.values import several_of
from analysis.reports.stone_free.request import Request, read_request

SHOWN = ("values", "validation", "missing", "burden")
DEFAULT_SHOW = "values,validation,missing"
DEFAULT_THRESHOLD = "4"
"""Largest fragment allowed, mm, where neither the option nor the unit says: most of the scores' papers counted so."""

OF_STONE_FREE = (
    "threshold",
    "imaging",
    "pick",
    "adequacy",
    "assume_slice",
    "window",
    "target",
    "stones",
    "retreated",
    "died",
    "denominator",
    "interval",
    "level",
    "seed",
    "replicates",
)
"""Options that are read as `stone-free` reads them."""

FIXED = {"unit": "side", "sessions": "single", "unscanned": "complete"}
"""A score speaks of one side before one operation, and is judged by what is known."""


@dataclass(frozen=True, kw_only=True)
class ScoresRequest:
    """show: of SHOWN. scores: codes in the order asked, the ureteroscopic one left out; ureteroscopy: whether it was
    asked for. stone_free: the definition validation is done by, its interval, level, seed and small number."""

    show: tuple[str, ...]
    scores: tuple[str, ...]
    ureteroscopy: bool
    by: tuple[Split, ...]
    any_technique: bool
    stone_free: Request

    @property
    def own_defaults(self) -> tuple[OwnDefault, ...]:
        return self.stone_free.own_defaults


def read_scores_request(
    typed: Mapping[str, str | None], settings: Sequence[OwnDefault] = (), *, any_technique: bool = False
) -> ScoresRequest:
    """Read a request.

    typed: options as typed, by name with underscores; None was not typed. settings: the unit's defaults for stone-free
    rates, which count where nothing was typed.

    Raises MalformedOptionError for a value that cannot be read; GravelbookError when a setting is at fault.
    """
    given = {name: value for name, value in typed.items() if value is not None}
    known = (*SCORES, URETEROSCOPY)
    named = several_of(given.get("score", ",".join(known)), "score", known)
    free = {**{name: given[name] for name in OF_STONE_FREE if name in given}, **FIXED}
    if "threshold" not in free and not any(one.option == "threshold" for one in settings):
        free["threshold"] = DEFAULT_THRESHOLD
    return ScoresRequest(
        show=SHOWN if given.get("show") == "all" else several_of(given.get("show", DEFAULT_SHOW), "show", SHOWN),
        scores=tuple(name for name in named if name != URETEROSCOPY),
        ureteroscopy=URETEROSCOPY in named,
        by=parse_splits(given["by"], option="--by", at_most=2) if "by" in given else (),
        any_technique=any_technique,
        stone_free=read_request(free, settings),
    )
