"""The map worked out: every definition through the same function as the single command."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from analysis.cohort.columns import cohort_columns
from analysis.outcomes.definition import Definition
from analysis.outcomes.inputs import Tables
from analysis.outcomes.status import stone_free_status
from analysis.outcomes.thresholds import Threshold
from analysis.reports.definition_map.grid import (
    BOUNDED,
    MODELLED,
    SWEPT,
    THRESHOLDS,
    Combination,
    can_clear,
    combination_of,
    combinations,
)
from analysis.reports.request.grouping import everyone
from analysis.reports.request.own_defaults import OwnDefault
from analysis.reports.request.source import Asked
from analysis.reports.stone_free.answer import answered
from analysis.reports.stone_free.packed import SEEN_BY, packed
from analysis.reports.stone_free.rates import stone_free_rates
from analysis.reports.stone_free.request import Request, read_request
from registry.schema.errors import GravelbookError

Progress = Callable[[int, int], None]
NOT_OF_A_MAP = ("by", "compare", "strata")
NUMBERS = {
    "eligible": "eligible",
    "n": "n",
    "unknown": "unknown",
    "not_due": "not_due",
    "died": "died_before_a_study",
    "patients": "patients",
    "stone_free": "stone_free",
    "rate": "estimate",
    "low": "low",
    "high": "high",
    "low_clustered": "low_clustered",
    "high_clustered": "high_clustered",
    "n_adequate": "n_adequate",
    "rate_adequate": "estimate_adequate",
    "low_adequate": "low_adequate",
    "high_adequate": "high_adequate",
    "failed_inadequate": "failed_inadequate",
    "n_effective": "n_effective",
}
"""Numbers of a row of rates that a row of the map holds, and their names there; those that are not there are left."""


@dataclass(frozen=True)
class DefinitionMap:
    """rows: one record a definition, see `_row`. own: the definition asked for, the unit's own where nothing was
    typed. outside: it lies outside the grid. left_out: ways of handling the unscanned that could not be worked out,
    with the sentence.
    """

    rows: tuple[dict[str, Any], ...]
    request: Request
    own: Combination
    outside: bool
    left_out: Mapping[str, str]


def definition_map(
    asked: Asked,
    typed: Mapping[str, str | None],
    settings: Sequence[OwnDefault],
    progress: Progress = lambda done, whole: None,
) -> DefinitionMap:
    """Every definition of the map, of everyone in the cohort.

    typed: options as typed; what the map does not sweep over holds in all of it. settings: the unit's own defaults.
    progress: told how many combinations are done, of how many.

    Raises GravelbookError when the definition asked for cannot be read or worked out.
    """
    base = {name: value for name, value in typed.items() if name not in NOT_OF_A_MAP}
    request = read_request(base, settings)
    own = combination_of(request.definition)
    grid = list(combinations())
    outside = own not in grid
    every = [*grid, own] if outside else grid
    rows: list[dict[str, Any]] = []
    for done, one in enumerate(every, start=1):
        rows += _rows_of(asked, base, settings, request, one, is_own=one == own)
        progress(done, len(every))
    modelled, left_out = _modelled(asked, base, settings, request)
    place = max((at for at, row in enumerate(rows) if row["combination"] == own), default=len(rows) - 1) + 1
    return DefinitionMap((*rows[:place], *modelled, *rows[place:]), request, own, outside, left_out)


def asked_at(
    base: Mapping[str, str | None], own: Definition, one: Combination, thresholds: Sequence[str], unscanned: str
) -> dict[str, str | None]:
    """The options by which the single command answers a combination.

    At the definition asked for itself nothing but thresholds and handling is typed, so that what the unit has set for
    it (a target day, say) holds there as it does in the single command.
    """
    fixed = {"threshold": ",".join(thresholds), "unscanned": unscanned}
    if one == combination_of(own):
        return {**base, **fixed}
    return {**{name: value for name, value in base.items() if name not in SWEPT}, **one.options(), **fixed}


def _rows_of(
    asked: Asked,
    base: Mapping[str, str | None],
    settings: Sequence[OwnDefault],
    request: Request,
    one: Combination,
    *,
    is_own: bool,
) -> list[dict[str, Any]]:
    thresholds = [*THRESHOLDS]
    if is_own:
        codes = [threshold.code for threshold in request.definition.thresholds]
        thresholds += [code for code in codes if code not in thresholds]
    options = asked_at(base, request.definition, one, thresholds, ",".join(BOUNDED))
    try:
        here = read_request(options, settings)
    except GravelbookError as fault:  # a typed target day that lies outside one of the windows, for example
        return [_impossible(one, code, mode, str(fault)) for code in thresholds for mode in BOUNDED]
    return _rows(here, rates_of_everyone(asked, here), one, request, is_own=is_own)


def rates_of_everyone(asked: Asked, request: Request) -> pd.DataFrame:
    """The rows of rates that the single command prints for complete case and bounds, of everyone.

    The same functions that the single command calls, less what it works out besides (groups, rungs, comparisons).
    """
    cohort = asked.cohort
    statuses = stone_free_status(Tables(**cohort.outcome_frames, as_of=cohort.as_of), request.definition)
    units = packed(statuses, request.definition.thresholds)
    return stone_free_rates(
        units, everyone(units.units), unscanned=request.unscanned, interval=request.interval, level=request.level
    )


def _modelled(
    asked: Asked, base: Mapping[str, str | None], settings: Sequence[OwnDefault], request: Request
) -> tuple[list[dict[str, Any]], dict[str, str]]:
    """The rows of weighting and imputation at the definition asked for, or why there are none."""
    rows: list[dict[str, Any]] = []
    left_out: dict[str, str] = {}
    own, cohort = combination_of(request.definition), asked.cohort
    for mode, thresholds in MODELLED.items():
        options = asked_at(base, request.definition, own, thresholds, mode)
        try:
            here = read_request(options, settings)
            answer = answered(here, asked.source, cohort.sides_frame, cohort.outcome_frames, cohort_columns())
        except GravelbookError as fault:
            left_out[mode] = str(fault)
            continue
        rows += _rows(here, answer.rows, own, request, is_own=True)
    return rows, left_out


def _rows(
    here: Request, rates: pd.DataFrame, one: Combination, request: Request, *, is_own: bool
) -> list[dict[str, Any]]:
    of_code = {threshold.code: threshold for threshold in here.definition.thresholds}
    wanted = {threshold.code for threshold in request.definition.thresholds}
    return [
        _row(
            one,
            here,
            of_code[str(row["threshold"])],
            row,
            own_default=is_own and row["threshold"] in wanted and row["unscanned"] in request.unscanned,
        )
        for row in rates.to_dict("records")
    ]


def _row(
    one: Combination, request: Request, threshold: Threshold, row: Mapping[Any, Any], *, own_default: bool
) -> dict[str, Any]:
    """One definition and its numbers, every part of the definition under its own name."""
    definition = request.definition
    clears = can_clear(definition, threshold)
    numbers = {name: _plain(row[key]) for key, name in NUMBERS.items() if key in row}
    reason = None
    if not clears:
        reason = (
            f"no study of --imaging {definition.imaging} is adequate at {threshold.code} under "
            f"{definition.adequacy.name}: it can show failure and never success"
        )
    elif not numbers["n"]:
        reason = "nobody has a known status"
    return {
        "combination": one,
        "group": {},
        "threshold": threshold.code,
        "threshold_mm": threshold.value_mm,
        "comparison": threshold.comparison,
        "imaging": definition.imaging,
        "window": one.window,
        "unit": definition.unit,
        "sessions": definition.sessions,
        "unscanned": row["unscanned"],
        "pick": definition.pick,
        "target_day": definition.target_day,
        "adequacy": definition.adequacy.name,
        "assume_slice_mm": definition.assume_slice_mm,
        "stones": definition.stones,
        "retreated": definition.retreated,
        "died": definition.died,
        "denominator": definition.denominator,
        "interval": request.interval,
        "level": request.level,
        "own_default": own_default,
        "can_succeed": clears,
        **numbers,
        "modalities": {name: int(row[f"modality_{name}"]) for name in SEEN_BY if row[f"modality_{name}"]},
        "reason": reason,
    }


def _impossible(one: Combination, code: str, mode: str, why: str) -> dict[str, Any]:
    numbers = {name: None for key, name in NUMBERS.items() if key != "n_effective"}
    return {
        "combination": one,
        "group": {},
        "threshold": code,
        **one.options(),
        "unscanned": mode,
        "own_default": False,
        "can_succeed": False,
        **numbers,
        "n": 0,
        "modalities": {},
        "reason": why,
    }


def _plain(value: Any) -> Any:
    return None if pd.isna(value) else value
